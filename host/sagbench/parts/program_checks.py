"""What must hold of a part's `program` and `march`: names that are there, one driver at a time, an end.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from . import equations, program
from .definition import Definition
from .shape import nearest

if TYPE_CHECKING:
    from .assembly import Builder


def check(builder: Builder, made: Definition) -> None:
    """Program lines can be read, speak of their own block, and are fit to be carried out."""
    for key, named in made.march.items():
        for i, pin in enumerate([named] if isinstance(named, str) else named):
            role = made.roles.get(pin)
            if not role or not (role.is_output if key == "data_out" else role.is_input):
                builder.wrong(("march", key, i) if isinstance(named, list) else ("march", key), f'"{pin}"',
                              f"an {'output' if key == 'data_out' else 'input'} pin", nearest(pin, made.roles))
    for name, pins in made.buses.items():
        for i, pin in enumerate(pins):
            if not (role := made.roles.get(pin)) or not role.is_input:
                builder.wrong(("bus", name, i), f'"{pin}"', "an input pin", nearest(pin, made.roles))
    if not builder.knows_signals():
        return
    for path, text, each in _paths(builder):
        try:
            actions = program.parse(text if each is None else text.replace("{}", each), made)
        except program.ProgramError as error:
            builder.wrong(path, error.found, error.expected, error.advice,
                          column=error.column if each is None else equations.unfilled(text, each, error.column))
            continue
        if path[0] == "block":
            own = {name for block in made.blocks if block.name == each for name in block.roles}
            named = {name for a in actions for name in ([a.pin] if isinstance(a, program.Pulse) else a)}
            for name in sorted(named - own):
                builder.wrong(path, f"{name}, a pin of another block", "pins of this block",
                              "move the program to the top of the file")
    for look in (_length, _steps) if made.origin != "library" else ():       # the library's own are checked by the tests
        if not builder.mistakes and not builder.bad:
            look(builder, made)


def _length(builder: Builder, made: Definition) -> None:
    """A part with memory has a program, and none has one without end."""
    texts = [(path, program.parse(text if each is None else text.replace("{}", each), made))
             for path, text, each in _paths(builder) if "program" in path]
    if not texts and not made.march:
        for index, entry in builder.entries():
            places = [i for i, text in enumerate(entry.get("logic", ())) if ":=" in text]
            if places:
                builder.wrong(("block", index, "logic", places[0]), "a state bit and no `program`", "a `program` that says what to apply",
                              "nothing is tried of a part with memory otherwise")
    steps = pulses = 0
    for path, actions in texts:
        steps += sum(1 if isinstance(a, program.Pulse) and a.count else 2 for a in actions)
        pulses += sum(a.count for a in actions if isinstance(a, program.Pulse))
        if steps > program.MOST_STEPS or pulses > program.LONGEST:
            builder.wrong(path, f"{steps} steps and {pulses} pulses in trains up to here",
                          f"{program.MOST_STEPS} steps and {program.LONGEST} pulses or less", "fewer repeats show as much")
            return


def _steps(builder: Builder, made: Definition) -> None:
    """No step depends on the order of its changes, none drives against the part."""
    from . import sequence
    from .behaviour import Network

    network = Network(made)
    entries = [i for i, e in builder.entries() for _ in e.get("each", [""])]
    steps: list[Mapping[str, bool | None]] = []
    paths: list[tuple[str | int, ...]] = []
    for block, line, changes in sequence.said(made):
        steps += changes
        paths += [("program", line) if block is None else ("block", entries[block], "program", line)] * len(changes)
    for index in sequence.order_matters(network, steps):
        builder.wrong(paths[index], f"changes of {', '.join(sorted(steps[index]))} in one step",
                      "an order that does not matter", "put what must come first before a semicolon")
    for index, pin in sequence.fights(network, steps):
        builder.wrong(paths[index], f"{pin} driven while the part may drive it", "one driver at a time",
                      f"switch the part's driver off first, or let go: {pin}=z")


def _paths(builder: Builder) -> Iterator[tuple[tuple[str | int, ...], str, str | None]]:
    """Every line of every copy; what {} stands for, None where it stands for nothing."""
    for i, text in enumerate(builder.data.get("program", ())):
        yield ("program", i), text, None
    if "idle" in builder.data:
        yield ("idle",), builder.data["idle"], None
    for index, entry in builder.entries():
        for each in entry.get("each", [""]):
            for i, text in enumerate(entry.get("program", ())):
                yield ("block", index, "program", i), text, each
            if "idle" in entry:
                yield ("block", index, "idle"), entry["idle"], each
