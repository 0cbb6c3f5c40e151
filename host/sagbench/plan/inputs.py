"""Input currents: what an input takes when it is high, and delivers when it is low.

IIH: all inputs low but one, which hangs on the weak load to 5 V (label `high in`).
IIL: all inputs high but one, which its own lines hold low (label `low in`); the others must be high,
for the emitters of one gate share the current of its base resistor.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection

from sagbench.parts.model import Part, Role
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Mark, Recipe
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

REPEATS = 8


def measured(part: Part, drive: Drive, skip: Collection[int]) -> tuple[int, ...]:
    """Pins whose input current is measured: plain inputs that are driven at all."""
    return tuple(
        p.number
        for p in part.of_role(Role.INPUT)
        if p.number in drive.lines and p.number not in skip and p.number in part.limits
    )


def high_currents(recipe: Recipe, fixture: Fixture, drive: Drive, pins: Collection[int]) -> None:
    """IIH of these pins, against AVcc."""
    weak = fixture.point("weak").load
    recipe.reference(Reference.AVCC)
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, False)))
    for pin in pins:
        position = drive.seat.position(pin)
        recipe.pin(position, 0)
        recipe.read_position(position, REPEATS, label="high in", selector=weak, ld=LineLevel.HIGH)
        recipe.sense(0)
        recipe.pin(position, drive.lines[pin])


def low_currents(recipe: Recipe, drive: Drive, pins: Collection[int]) -> None:
    """IIL of these pins, against the 1.1 V reference."""
    recipe.reference(Reference.V1V1)
    for pin in pins:
        position = drive.seat.position(pin)
        recipe.drive(*drive.masks({**dict.fromkeys(drive.plain, True), pin: False}))
        recipe.sense(position)
        recipe.add(
            steps.read(Source.K, REPEATS), Mark("position", position, REPEATS, lines=drive.lines[pin], label="low in")
        )
