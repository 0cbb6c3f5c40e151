"""The logic test as passes: the part's own sequence, each expected output read at every step, unloaded or loaded.

Labels: `level` unloaded; `off up`, `off down` for outputs that are to be off, pulled either way by the weak load;
`loaded` for an output under a load point, pulled away from the level it should hold.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass

from sagbench.parts.model import Expect, Part, Pin, Role, Step
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture, LoadPoint
from sagbench.plan.loads import all_points
from sagbench.plan.rails import Rails
from sagbench.plan.recipe import Recipe
from sagbench.wire.numbers import LineLevel, Reference

REPEATS = 5  # conversions a reading: switching takes a part of the time, and the noise is less than half

Wanted = Callable[[int, bool], bool]  # (pin, up) -> is it to be loaded at this point?


@dataclass(frozen=True)
class LineReading:
    """A precise reading to take: this pin in this step, loaded up or down at these points.

    beyond: points heavier than it is rated for, for its short-circuit current; channel: a CMOS output.
    """

    step: int
    pin: int
    up: bool
    points: tuple[str, ...]
    beyond: tuple[str, ...] = ()
    channel: bool = False


def apply(recipe: Recipe, drive: Drive, levels: dict[int, bool | None], step: Step) -> None:
    """Carry out one step on the inputs: new levels (kept in `levels`), then trains of pulses."""
    levels.update(step.set)
    recipe.drive(*drive.masks(levels))
    for pin, count in step.pulses.items():
        if drive.lines.get(pin) and levels.get(pin) is not None:
            recipe.pulse(drive.seat.position(pin), count)


def play(recipe: Recipe, part: Part, drive: Drive) -> Iterator[tuple[int, Step]]:
    """Set the levels of each step in turn; the caller adds readings between."""
    levels: dict[int, bool | None] = {}
    for index, step in enumerate(part.sequence):
        apply(recipe, drive, levels, step)
        yield index, step


def expected(part: Part, step: Step, skip: Collection[int]) -> dict[int, Expect]:
    """What to look at in a step; an open-collector output that is not to sink is off."""
    return {
        pin: Expect.OFF if level is Expect.HIGH and part.pin(pin).role is Role.OPEN_COLLECTOR else level
        for pin, level in step.expect.items()
        if pin not in skip
    }


def unloaded(recipe: Recipe, fixture: Fixture, part: Part, drive: Drive, skip: Collection[int] = ()) -> None:
    """The whole sequence without load. `skip`: pins not to be looked at."""
    recipe.reference(Reference.AVCC)
    weak, medium = fixture.point("weak").load, fixture.point("medium")
    stiff = {pin.number for pin in part.outputs if delivers(fixture, part, pin)}
    for index, step in play(recipe, part, drive):
        look = expected(part, step, skip)
        driven = [drive.seat.position(p) for p, level in look.items() if level is not Expect.OFF]
        off_pins = [p for p, level in look.items() if level is Expect.OFF]
        off = [drive.seat.position(p) for p in off_pins]
        if driven:
            recipe.selector_open()
            recipe.scan(driven, REPEATS, step=index, label="level")
        if off:
            recipe.sense(0, weak, LineLevel.HIGH)
            recipe.scan(off, step=index, label="off up")
            recipe.sense(0, weak, LineLevel.LOW)
            recipe.scan([drive.seat.position(p) for p in off_pins if p not in stiff], step=index, label="off down")
            down = {drive.seat.position(pin): False for pin in stiff.intersection(off_pins)}
            recipe.load_scan(down, medium, settle_us=0, step=index, label="off down")


def delivers(fixture: Fixture, part: Part, pin: Pin) -> bool:
    """True for a bidirectional pin whose input current would lift the weak load from low: M pulls it down then."""
    if pin.role is not Role.BIDIRECTIONAL or pin.number not in part.limits:
        return False
    limits = part.limits[pin.number]
    return -limits.iil.value * pin.low_unit_loads * fixture.resistor("weak_load").typ > limits.vil.value / 2


def loaded(
    recipe: Recipe, part: Part, drive: Drive, point: LoadPoint, wanted: Wanted, skip: Collection[int] = ()
) -> None:
    """The whole sequence, each output loaded in turn at one point: up where it is to be low, down where high."""
    recipe.reference(Reference.AVCC)
    for index, step in play(recipe, part, drive):
        ups = {
            drive.seat.position(pin): level is Expect.LOW
            for pin, level in expected(part, step, skip).items()
            if level is not Expect.OFF and wanted(pin, level is Expect.LOW)
        }
        # The firmware waits by itself for what the selector's resistor and node K's capacitance need.
        recipe.load_scan(ups, point, repeats=REPEATS, settle_us=0, step=index, label="loaded")


def lines(
    recipe: Recipe,
    fixture: Fixture,
    part: Part,
    drive: Drive,
    where: Rails,
    plan: Collection[LineReading],
    reference: Reference,
    repeats: int = 4,
) -> None:
    """Precise readings: the sequence again, stopping where the plan says.

    Labels: `line`, `beyond`; without load `unloaded low` and `unloaded high`, `ground` and (against AVcc) `supply`. Of a
    reading without points only the rails in its step are read.

    Within a step from light to heavy, for a heavy load may upset a flip-flop whose output is its own memory.
    """
    recipe.reference(reference)
    by_step: dict[int, list[LineReading]] = {}
    for reading in plan:
        by_step.setdefault(reading.step, []).append(reading)
    if not by_step:
        return
    for index, _ in play(recipe, part, drive):
        for reading in by_step.get(index, ()):
            position = drive.seat.position(reading.pin)
            if reading.points or reading.beyond:
                recipe.read_position(position, repeats, step=index, label="unloaded low" if reading.up else "unloaded high")
        if index in by_step:
            recipe.read_position(where.ground, repeats, step=index, label="ground")
            if reference is Reference.AVCC:
                recipe.read_position(where.supplies[0], repeats, step=index, label="supply")
        for point in all_points(fixture):
            for reading in by_step.get(index, ()):
                for label in [w for w, at in (("line", reading.points), ("beyond", reading.beyond)) if point.name in at]:
                    recipe.load(
                        drive.seat.position(reading.pin),
                        point,
                        reading.up,
                        also=where.ground,
                        repeats=repeats,
                        step=index,
                        label=label,
                    )
        if index >= max(by_step):
            break


def levels_at(part: Part, index: int) -> Mapping[int, bool]:
    """Levels that inputs hold in a step."""
    levels: dict[int, bool | None] = {}
    for step in part.sequence[: index + 1]:
        levels.update(step.set)
    return {pin: level for pin, level in levels.items() if level is not None}
