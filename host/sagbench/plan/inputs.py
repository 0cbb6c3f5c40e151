"""Input currents: what an input takes when it is high, and delivers when it is low.

IIH: all inputs low but one, which hangs on the trickle load to 5 V (label `high in, finely`); a sound input leaves that
high.  One that does not hangs on the weak load (`high in`).
IIL: all inputs high but one, which lines hold low in turn (label `low in`), so that two voltages lie about 0.4 V where
the pin's lines allow; the others must be high, for the emitters of one gate share the current of its base resistor.
An input that delivers too little to stand near 0.4 V on M is held by the level drive besides, set so that the pin is
there (labels `low in, level`: K, and VDAC behind it): a leakage has its share at 0.4 V then, whatever its curve.
CMOS inputs are held low by the trickle load instead (label `low in, finely`).
VIK: the unpowered chip's ground pin is raised through M, and each input pulled down through weak, and M with S
(labels `clamp`; the ground pin is read with it).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection
from statistics import median

from sagbench.parts.model import Part, Role
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture
from sagbench.plan.level import settle_us, volts_of
from sagbench.plan.power import common_code, common_on_1v1, rail_now, start_common
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Mark, Recipe
from sagbench.plan.seat import mask
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

REPEATS = 4
NEAR_V = 0.0002  # a fifth of a code of the 1.1 V reference
TEST_V = 0.4  # at which data books give IIL (0.5 V for S, F and AS)
TYPICAL_SHARE = 0.65  # of IIL's limit: what an input typically delivers (common practice)
CLAMP_REPEATS = 2
CLAMP_POINTS = ("weak", "both")  # light to heavy; M of the ground pin limits the last to some 5.5 mA


def measured(part: Part, drive: Drive, skip: Collection[int]) -> tuple[int, ...]:
    """Pins whose input current is measured: plain inputs that are driven at all."""
    return tuple(
        p.number
        for p in part.of_role(Role.INPUT)
        if p.number in drive.lines and p.number not in skip and p.number in part.limits
    )


def high_currents(recipe: Recipe, fixture: Fixture, drive: Drive, pins: Collection[int], *, finely: bool) -> None:
    """IIH of these pins, against AVcc, through the trickle load or the weak one."""
    load, label = (fixture.point("trickle").load, "high in, finely") if finely else (fixture.point("weak").load, "high in")
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, False)))
    start_common(recipe, fixture)  # for what comes after
    rail_now(recipe)
    for pin in pins:
        position = drive.seat.position(pin)
        recipe.pin(position, 0)
        recipe.read_position(position, REPEATS, label=label, selector=load, ld=LineLevel.HIGH)
        recipe.sense(0)
        recipe.pin(position, drive.lines[pin])


def rails_inputs_high(recipe: Recipe, drive: Drive, where: Rails) -> None:
    """The rails with all inputs high (labels `rails, inputs high`)."""
    recipe.drive(*drive.masks(dict.fromkeys(drive.plain, True)))
    for rail in (where.supplies[0], where.ground):
        recipe.read_position(rail, REPEATS, label="rails, inputs high")


def ways_low(lines: int) -> tuple[int, ...]:
    """Lines that hold a pin low in turn, the usual ones first: S only where it is verified because the pin needs it."""
    return {M_LINE: (M_LINE,), S_LINE: (S_LINE, M_LINE)}.get(lines, (lines, S_LINE))


def typical_low(part: Part, pin: int) -> float:
    """Amperes that an input of this kind typically delivers when low."""
    return -part.limits[pin].iil.value * part.pin(pin).low_unit_loads * TYPICAL_SHARE


def on_level(fixture: Fixture, part: Part, pins: Collection[int]) -> tuple[int, ...]:
    """Those bipolar inputs that would stand well below TEST_V if M alone held them."""
    return tuple(pin for pin in pins if typical_low(part, pin) * fixture.line_ohm(M_LINE) < TEST_V)


def low_level(fixture: Fixture, part: Part, pins: Collection[int]) -> int:
    """Code of the level drive at which most of these pins stand near TEST_V."""
    volts = TEST_V - median(typical_low(part, pin) for pin in pins) * fixture.resistor("level_drive").typ
    return max(0, round(volts / float(fixture.raw["supply"]["nominal_v"]) * fixture.full_scale))


def low_currents(
    recipe: Recipe, fixture: Fixture, part: Part, drive: Drive, pins: Collection[int], technology: str
) -> None:
    """IIL of these pins, against the 1.1 V reference, which is read first (`common`). technology: of the silicon."""
    common_on_1v1(recipe, fixture)
    trickle, level = fixture.point("trickle").load, fixture.raw["load_selector"].index("L_LEVEL")
    levelled = on_level(fixture, part, pins) if technology == "ttl" else ()
    code = low_level(fixture, part, levelled) if levelled else 0
    recipe.add(steps.level(code))
    started = recipe.at_least_us
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
    if levelled:
        change = volts_of(fixture, common_code(fixture) - code)
        recipe.settle(settle_us(fixture, change, NEAR_V) - (recipe.at_least_us - started))
    for pin in levelled:
        position = drive.seat.position(pin)
        recipe.drive(*drive.masks({**dict.fromkeys(drive.plain, True), pin: False}))
        recipe.sense(position, level)  # it takes over before the line lets go: a clock must not see a high level
        recipe.pin(position, 0)
        recipe.settle(fixture.raw["settle_us"][level])
        for source in (Source.K, Source.VDAC):
            what = "position" if source is Source.K else "vdac"
            recipe.add(steps.read(source, REPEATS), Mark(what, position, REPEATS, label="low in, level"))
        recipe.pin(position, drive.lines[pin])
    recipe.sense(0)
    recipe.add(steps.level(0))


def clamps(recipe: Recipe, fixture: Fixture, ground: int, positions: Collection[int]) -> None:
    """Forward voltage of the input clamps of the unpowered chip, against AVcc; all switches are off."""
    recipe.reference(Reference.AVCC)
    recipe.drive(mask([ground]), 0, mask([ground]))
    for position in positions:
        for name in CLAMP_POINTS:
            recipe.load(position, fixture.point(name), False, also=ground, repeats=CLAMP_REPEATS, label="clamp")
    recipe.idle()
