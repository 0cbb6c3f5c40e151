"""Input currents: what an input takes when it is high, and delivers when it is low.

IIH: all inputs low but one, which hangs on the trickle load to 5 V (label `high in, finely`), then on the weak one
(`high in`); a sound input leaves even the trickle load high.
IIL: all inputs high but one, which lines hold low in turn (label `low in`), so that two voltages lie about 0.4 V where
the pin's lines allow; the others must be high, for the emitters of one gate share the current of its base resistor.
CMOS inputs are held low by the trickle load instead (label `low in, finely`).
VIK: the unpowered chip's ground pin is raised through M, and each input pulled down through weak, M, and M with S
(labels `clamp`; the ground pin is read with it).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection

from sagbench.parts.model import Part, Role
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture
from sagbench.plan.power import rail_now
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.seat import mask
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

REPEATS = 8
CLAMP_POINTS = ("weak", "medium", "both")  # light to heavy; M of the ground pin limits the last to some 5.5 mA


def measured(part: Part, drive: Drive, skip: Collection[int]) -> tuple[int, ...]:
    """Pins whose input current is measured: plain inputs that are driven at all."""
    return tuple(
        p.number
        for p in part.of_role(Role.INPUT)
        if p.number in drive.lines and p.number not in skip and p.number in part.limits
    )


def high_currents(recipe: Recipe, fixture: Fixture, drive: Drive, where: Rails, pins: Collection[int]) -> None:
    """IIH of these pins, against AVcc; then the rails with all inputs high (labels `rails, inputs high`)."""
    weak, trickle = fixture.point("weak").load, fixture.point("trickle").load
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, False)))
    rail_now(recipe)
    for pin in pins:
        position = drive.seat.position(pin)
        recipe.pin(position, 0)
        for load, label in ((trickle, "high in, finely"), (weak, "high in")):
            recipe.read_position(position, REPEATS, label=label, selector=load, ld=LineLevel.HIGH)
        recipe.sense(0)
        recipe.pin(position, drive.lines[pin])
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, True)))
    for rail in (where.supplies[0], where.ground):
        recipe.read_position(rail, REPEATS, label="rails, inputs high")


def ways_low(lines: int) -> tuple[int, ...]:
    """Lines that hold a pin low in turn, the usual ones first: S only where it is verified because the pin needs it."""
    return {M_LINE: (M_LINE,), S_LINE: (S_LINE, M_LINE)}.get(lines, (lines, S_LINE))


def low_currents(recipe: Recipe, fixture: Fixture, drive: Drive, pins: Collection[int], technology: str) -> None:
    """IIL of these pins, against the 1.1 V reference. technology: of the silicon."""
    trickle = fixture.point("trickle").load
    recipe.reference(Reference.V1V1)
    for pin in pins:
        position = drive.seat.position(pin)
        recipe.drive(*drive.masks({**dict.fromkeys(drive.plain, True), pin: False}))
        if technology == "cmos":
            recipe.sense(position, trickle, LineLevel.LOW)
            recipe.pin(position, 0)
            mark = Mark("position", position, REPEATS, selector=trickle, label="low in, finely")
            recipe.settle(fixture.raw["settle_us"][trickle])
            recipe.add(steps.read(Source.K, REPEATS), mark)
            recipe.sense(0)
            recipe.pin(position, drive.lines[pin])
            continue
        recipe.sense(position)
        ways = ways_low(drive.lines[pin])
        for lines in ways:
            if lines != drive.lines[pin]:
                recipe.pin(position, lines)
            recipe.add(steps.read(Source.K, REPEATS), Mark("position", position, REPEATS, lines=lines, label="low in"))
        if len(ways) > 1:
            recipe.pin(position, drive.lines[pin])


def clamps(recipe: Recipe, fixture: Fixture, ground: int, positions: Collection[int]) -> None:
    """Forward voltage of the input clamps of the unpowered chip, against AVcc; all switches are off."""
    recipe.reference(Reference.AVCC)
    recipe.drive(mask([ground]), 0, mask([ground]))
    for position in positions:
        for name in CLAMP_POINTS:
            recipe.load(position, fixture.point(name), False, also=ground, repeats=4, label="clamp")
    recipe.idle()
