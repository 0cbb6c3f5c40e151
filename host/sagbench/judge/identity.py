"""Which other part of the library would answer as this chip did: the likeliest name of a wrong part.

The levels that the test put on the pins are put on the pins of each other function of the same size and rails, and
what it would answer is held against what was seen.  Pins that the other function drives and the test drove too, and
bits whose state is not known, say nothing.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass

from sagbench.judge.logic import Answer, level
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.model import Expect, Part, Role

KNOWN_SHARE = 0.6  # of the answers so many must be foreseen, and all of them as they were
MOST_STEPS = 256  # a longer test tells no more


@dataclass(frozen=True)
class Likeness:
    """A function whose answers are those that were seen: its number, what it is, and how many answers say so."""

    function: str
    title: str
    answers: int


def alike(part: Part, given: Collection[Answer]) -> list[Likeness]:
    """Functions of the library that explain all of the answers that they foresee; most answers first."""
    seen = [a for a in given if a.step < MOST_STEPS and a.expect is not Expect.OFF and _level(part, a)]
    if {_level(part, a) for a in seen} != {"L", "H"}:
        return []  # outputs that stand still are no function's
    if all(_level(part, a) == a.expect.value for a in seen):
        return []  # nor does another explain more than its own: what is wrong are levels between low and high
    found = []
    for function, path in sorted(file_names().items()):
        if function == part.function:
            continue
        definition = load_file(path)
        agree = max((_agrees(part, seen, made, pinout) for made, pinout in _fitting(part, definition)), default=0)
        if agree >= KNOWN_SHARE * len(seen):
            found.append(Likeness(function, definition.title, agree))
    return sorted(found, key=lambda one: (-one.answers, len(one.function), one.function))


def _level(part: Part, answer: Answer) -> str:
    """ "L", "H", or nothing for what is between."""
    seen = "?" if answer.volts is None else level(part, answer.pin, answer.volts)
    return "" if seen == "?" else seen


def _fitting(part: Part, definition: Definition) -> Iterator[tuple[Definition, Pinout]]:
    """Forms with as many pins, and the rails at the same ones, that were made in some family of the same kind."""
    supplies, grounds = ({p.name for p in part.of_role(role)} for role in (Role.SUPPLY, Role.GROUND))
    rails = {p.number for p in part.pins if p.name in supplies | grounds}
    for made, pinout in definition.forms():
        if made.static or made.march or len(pinout.pins) != part.pin_count:
            continue
        if {n for n, name in enumerate(pinout.pins, 1) if name in pinout.supply | pinout.ground} == rails:
            yield made, pinout


def _agrees(part: Part, seen: Collection[Answer], made: Definition, pinout: Pinout) -> int:
    """How many answers this function foresees as they were; 0 as soon as one is another."""
    machine = Machine(Network(made))
    names = {n: name for n, name in enumerate(pinout.pins, 1) if name in made.roles}
    by_step: dict[int, list[Answer]] = {}
    for answer in seen:
        by_step.setdefault(answer.step, []).append(answer)
    agree = 0
    for index, step in enumerate(part.sequence[:MOST_STEPS]):
        takes = {n for n, name in names.items() if made.roles[name].is_input}
        levels: dict[str, bool | None] = {names[n]: high for n, high in step.set.items() if n in takes}
        pulses = {f"{names[n]}^{count}": True for n, count in step.pulses.items() if n in takes}
        machine.set(levels | pulses)
        for answer in by_step.get(index, ()):
            name = names.get(answer.pin, "")
            foreseen = machine.expect(name) if name and made.roles[name].is_output else None
            if foreseen in (Expect.LOW, Expect.HIGH):
                if foreseen.value != _level(part, answer):
                    return 0
                agree += 1
    return agree

