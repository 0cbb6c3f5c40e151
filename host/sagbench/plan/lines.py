"""Which precise readings a sweep takes: each output low and high, each in the step where it did worst; and outputs off.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace

from sagbench.parts.model import Expect, Part, Role
from sagbench.plan.fixture import Fixture
from sagbench.plan.loads import line_points, short_circuit_points
from sagbench.plan.drive import Drive
from sagbench.plan.logic import LineReading, delivers, expected, play
from sagbench.plan.power import rail_now
from sagbench.plan.recipe import Recipe
from sagbench.wire.numbers import LineLevel

Seen = Mapping[tuple[int, int], float]  # (step, pin) -> volts, of those read under the heaviest load of the logic test


def plan_lines(
    fixture: Fixture, part: Part, usable: Collection[tuple[int, int]], seen: Seen, skip: Collection[int] = ()
) -> tuple[LineReading, ...]:
    """One reading plan for each output and direction that the sequence exercises.

    usable: (step, pin) answered rightly without load;
    seen: volts under load, by which the worst of them is chosen; a step without is taken as it comes.
    """
    best: dict[tuple[int, bool], tuple[float, int]] = {}
    for index, step in enumerate(part.sequence):
        for pin, level in expected(part, step, skip).items():
            up = level is Expect.LOW
            if level is Expect.OFF or (index, pin) not in usable:
                continue
            volts = seen.get((index, pin), 0.0 if up else 9.0)
            badness = volts if up else -volts
            if (pin, up) not in best or badness > best[pin, up][0]:
                best[pin, up] = badness, index
    out = []
    for (pin, up), (_, index) in sorted(best.items()):
        points = line_points(fixture, part.limits[pin], up)
        if points and (up or part.pin(pin).role is not Role.OPEN_COLLECTOR):
            beyond, channel = short_circuit_points(part, pin, up), part.limits[pin].technology == "cmos"
            out.append(LineReading(index, pin, up, points, beyond, channel))
    return tuple(out)


def low_ones(plan: Sequence[LineReading]) -> tuple[LineReading, ...]:
    """Of the plan, the low levels: those that mostly fit under the finest reference."""
    return tuple(reading for reading in plan if reading.up)


def without(plan: Sequence[LineReading], taken: Collection[tuple[int, str]]) -> tuple[LineReading, ...]:
    """The plan without the low levels that are taken already: (pin, point). Readings that lose all points stay, for their steps."""
    return tuple(
        replace(reading, points=tuple(p for p in reading.points if (reading.pin, p) not in taken)) if reading.up else reading
        for reading in plan
    )


OFF_REPEATS = 4


def off_steps(
    part: Part, unusable: Callable[[int, int], bool], skip: Collection[int] = ()
) -> Mapping[int, Sequence[int]]:
    """Few steps in which, together, every output that can be off is: step -> pins. `unusable`: (step, pin) proves nothing."""
    choices: dict[int, set[int]] = {}
    for index, step in enumerate(part.sequence):
        off = {p for p, level in expected(part, step, skip).items() if level is Expect.OFF and not unusable(index, p)}
        if off:
            choices[index] = off
    chosen: dict[int, Sequence[int]] = {}
    missing = {pin for pins in choices.values() for pin in pins}
    while missing:
        best = max(choices, key=lambda i: (len(choices[i] & missing), -i))
        chosen[best] = sorted(choices[best] & missing)
        missing -= choices[best]
    return dict(sorted(chosen.items()))


def off_states(recipe: Recipe, fixture: Fixture, part: Part, drive: Drive, wanted: Mapping[int, Sequence[int]]) -> None:
    """Each output off, pulled up and down through the trickle load (`off finely`) and the weak one (`off`), against AVcc."""
    rail_now(recipe)
    for index, _ in play(recipe, part, drive):
        for load, label in (("trickle", "off finely"), ("weak", "off")):
            for level in (LineLevel.HIGH, LineLevel.LOW):
                pins = [
                    p
                    for p in wanted.get(index, ())
                    if level is LineLevel.HIGH or not delivers(fixture, part, part.pin(p))
                ]
                if pins:
                    recipe.sense(0, fixture.point(load).load, level)
                    recipe.scan([drive.seat.position(p) for p in pins], OFF_REPEATS, step=index, label=label)
        recipe.selector_open()
        if index >= max(wanted, default=0):
            break
