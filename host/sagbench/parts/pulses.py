"""What a part file says of a monostable's pulse: how it is triggered, where it is timed, how long the data book has it.

`[[block.pulse]]` is one way to trigger; `pulse` in a family gives `width = factor * R * C` and the resistors that the
data book allows. A family without it is not timed.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from . import equations, program
from .definition import Definition, Pinout
from .model import PulseTest, Role
from .shape import nearest

if TYPE_CHECKING:
    from .assembly import Builder

KEYS = ("ready", "trigger", "timing", "output", "retriggers")


def filled(entry: Mapping[str, Any], each: str) -> tuple[Mapping[str, str], ...]:
    """The pulse tables of one copy of a block."""
    return tuple({key: str(text).replace("{}", each) for key, text in said.items()} for said in entry.get("pulse", ()))


def tests(definition: Definition, pinout: Pinout, entry: Mapping[str, Any]) -> Iterator[PulseTest]:
    """Every way to trigger, in a family whose entry in the file is `entry`."""
    figures = entry.get("pulse")
    if not figures:
        return
    number = {name: i for i, name in enumerate(pinout.pins, start=1)}
    low, high = figures["kohm"]
    for block in definition.blocks:
        for said in block.pulses:
            ready = {number[name]: bool(level) for name, level in program.levels(said["ready"], definition).items()}
            again = said.get("retriggers")
            yield PulseTest(ready, number[said["trigger"]], number[said["timing"]], number[said["output"]],
                            None if again is None else again == "yes", (low * 1e3, high * 1e3),
                            tuple(figures["factor"]) if "factor" in figures else None, figures["source"])


def check(builder: Builder, made: Definition) -> None:
    """Pins are there and of the right kind, the trigger has a level to leave, spans have their lesser end first."""
    analog = frozenset[str]().union(*(p.analog for p in made.pinouts))
    places = [(("block", index, "pulse", i), said, each) for index, entry in builder.entries()
              for each in entry.get("each", [""]) for i, said in enumerate(entry.get("pulse", ()))]
    for path, raw, each in places:
        said = {key: str(text).replace("{}", each) for key, text in raw.items()}
        try:
            ready = program.parse(said["ready"], made)
        except program.ProgramError as error:
            builder.wrong((*path, "ready"), error.found, error.expected, error.advice,
                          column=equations.unfilled(raw["ready"], each, error.column))
            continue
        if len(ready) != 1 or isinstance(ready[0], program.Pulse) or None in ready[0].values():
            builder.wrong((*path, "ready"), f"'{said['ready']}'", "levels and nothing else", 'as in "A=0 B=0 CLR=1"')
            continue
        inputs = [name for name, role in made.roles.items() if role is Role.INPUT]
        outputs = [name for name, role in made.roles.items() if role is Role.OUTPUT]
        for key, known, kind in (("trigger", inputs, "an input"), ("timing", analog, "a pin of `analog`"),
                                 ("output", outputs, "an output")):
            if said[key] not in known:
                builder.wrong((*path, key), f'"{said[key]}"', kind, nearest(said[key], known))
        if said["trigger"] in inputs and said["trigger"] not in ready[0]:
            builder.wrong((*path, "trigger"), f'"{said["trigger"]}", of which `ready` gives no level', "an input of `ready`",
                          "it goes from there to its other level")
    for name, entry in made.families.items():
        _check_family(builder, name, entry.get("pulse"), bool(places))


def _check_family(builder: Builder, name: str, figures: Mapping[str, Any] | None, timed: bool) -> None:
    if figures is None:
        return
    path = ("family", name, "pulse")
    if not timed:
        builder.wrong(path, "a pulse", "[[block.pulse]] as well", "say how it is triggered and where it is timed", at_key=True)
    for key in ("factor", "kohm"):
        span = figures.get(key, ())
        if len(span) == 2 and all(isinstance(end, int | float) for end in span) and span[0] > span[1]:
            builder.wrong((*path, key), f"{span[0]:g} before {span[1]:g}", "[least, greatest]", "the smaller one first")
