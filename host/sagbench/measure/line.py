"""An output's load line: what it is at each load point, what it would be at a rated current, its resistance.

Currents here are magnitudes in the direction of the line; `up` lines sink, the others source.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from itertools import pairwise

from sagbench.measure.bend import Line, Point, bend, by_three, straight, straight_value
from sagbench.measure.model import Model
from sagbench.measure.uncertain import Uncertain, exact, less, linear, negative, settled, standard, uncertain, value
from sagbench.plan.loads import EXACT
from sagbench.plan.logic import LineReading
from sagbench.plan.recipe import Reading, Readings
from sagbench.plan.seat import Seat


__all__ = ["AtRated", "How", "Line", "Point", "at_rated", "beyond_points", "load_lines", "point_of",
           "resistance", "slope_points", "taken"]  # fmt: skip


class How(StrEnum):
    """How a value at a rated current came about."""

    AT = "measured there"  # a point at the rated current, or a little harder
    BETWEEN = "interpolated"
    BEYOND = "extrapolated"  # the rated current is more than the heaviest load point draws


@dataclass(frozen=True)
class AtRated:
    """Value at a rated current; `amperes` is the current it holds for, as magnitude."""

    volts: Uncertain
    amperes: Uncertain
    how: How


HARDER = 1.06  # a point up to so much beyond the rated current stands for it
HARDER_KNEE = 1.30  # sourcing bipolar outputs: the knee between no load and the weak load forbids interpolation
NO_LOAD = 5e-6  # rated at some microamperes: the converter alone is such a load
NEAR = 0.97  # a heaviest point so close below counts as rated after a small correction along the line
TWICE = 2.2  # an output's resistance is looked for up to so many times its rated current,
MUCH_WORSE = 3.0  # times the uncertainty of the slope between lighter points
FLATTER = 0.95  # a stretch not flatter than this times the one before it gives way, or is straight: then either will do
AT_LEAST_A = 0.001  # and up to a milliampere in any case
LOST_LOW_V = 0.8  # a low level beyond this has left the output's straight part: VIL of most families
REACH = 1.35  # no extrapolation further than this


def point_of(model: Model, loaded: Reading, ground: Reading) -> Point | None:
    """The point that a loaded reading and the ground reading with it make; None if not measured or off scale."""
    if loaded.total is None or ground.total is None or model.saturated(loaded):
        return None
    at_pin, amperes = model.point(loaded)
    volts = less(at_pin, model.pin_volts(ground))
    return Point(loaded.mark.point, volts, amperes if loaded.mark.up else negative(amperes))


def _between(
    line_of: Line, line: Sequence[Point], a: Point, b: Point, amperes: float, beyond: Sequence[Point]
) -> Uncertain:
    """Volts between two points, along the curve of `bend`."""
    found = bend(line_of, line, a, b, amperes, beyond)
    return linear(0.0, (1.0, straight(a, b, amperes)), (1.0, uncertain(found.volts, found.sd, "bend of the load line")))


def _doubtful_current(line: Sequence[Point], p: Point) -> Uncertain:
    """Volts at a point, with what the uncertainty of its current does along the line."""
    others = [x for x in line if abs(value(x.amperes) - value(p.amperes)) > 1e-7]
    if not others:
        return p.volts
    next_to = min(others, key=lambda x: abs(value(x.amperes) - value(p.amperes)))
    slope = (value(next_to.volts) - value(p.volts)) / (value(next_to.amperes) - value(p.amperes))
    return linear(slope * value(p.amperes), (1.0, p.volts), (-slope, p.amperes))


def at_rated(line_of: Line, amperes: float, *, knee: bool = False, beyond: Sequence[Point] = ()) -> AtRated | None:
    """The output's level at a rated current (magnitude), or None if the load points do not reach near it.

    beyond: points heavier than the output is rated for, by which the curve's shape is known better.
    knee: the line is a bipolar output that sources; then a harder point is taken rather than a lighter one.
    """
    if amperes <= NO_LOAD and line_of.unloaded is not None:
        return AtRated(line_of.unloaded, exact(0.0), How.AT)
    if line_of.at(EXACT) is None:
        return _at_rated(line_of, line_of.points, amperes, knee, beyond)
    # Through the multiplexers, whose channels may be known well or badly; but only that point shows where the gain ends.
    through, own = (_at_rated(line_of, points, amperes, knee, beyond) for points in (line_of.points, _own(line_of)))
    if through is None or own is None:
        return through or own
    surer = standard(own.volts) * MUCH_WORSE < standard(through.volts)
    return own if surer and not gives_way(line_of) else through


def _own(line_of: Line) -> tuple[Point, ...]:
    """The points of the lines and of the weak loads, light to heavy."""
    return tuple(p for p in line_of.points if p.name != EXACT)


def gives_way(line_of: Line) -> bool:
    """Has an output that sinks less at the calibration reference than the curve through its other points would have it?

    A saturated transistor's line through no load, weak load and medium load can take a knee that lies behind the middle of it
    for a resistance: it then promises too much volts there.
    """
    line, there = sorted(_own(line_of), key=lambda p: value(p.amperes)), line_of.at(EXACT)
    if there is None or not line_of.up:
        return False
    amperes = value(there.amperes)
    lighter, heavier = ([p for p in line if (value(p.amperes) < amperes) is x] for x in (True, False))
    if not lighter or not heavier:
        return False
    a, b = lighter[-1], heavier[0]
    return value(there.volts) < straight_value(a, b, amperes) + bend(line_of, line, a, b, amperes, ()).volts


def _at_rated(
    line_of: Line, points: Sequence[Point], amperes: float, knee: bool, beyond: Sequence[Point]
) -> AtRated | None:
    line = sorted((p for p in points if value(p.amperes) > 0), key=lambda p: value(p.amperes))
    if not line:
        return None
    for p in line:
        if amperes <= value(p.amperes) <= amperes * (HARDER_KNEE if knee else HARDER):
            return AtRated(_doubtful_current(line, p), p.amperes, How.AT)
    if value(line[-1].amperes) < amperes:  # points beyond its rating are measured as well
        line += [p for p in beyond if value(p.amperes) > value(line[-1].amperes)]
    below = [p for p in line if value(p.amperes) < amperes]
    above = [p for p in line if value(p.amperes) >= amperes]
    if below and above:
        return AtRated(_between(line_of, line, below[-1], above[0], amperes, beyond), exact(amperes), How.BETWEEN)
    if not below:
        return AtRated(line[0].volts, line[0].amperes, How.AT)  # harder than rated; the caller sees the current
    if len(below) < 2 or value(below[-1].amperes) * REACH < amperes:
        return None
    found = by_three(line, below[-2], below[-1], amperes)
    volts = straight(below[-2], below[-1], amperes) + uncertain(
        found.volts / 2, abs(found.volts) / 2 + found.sd, "bend of the load line"
    )
    near = value(below[-1].amperes) >= amperes * NEAR
    return AtRated(volts, exact(amperes), How.AT if near else How.BEYOND)


def slope_points(line_of: Line, upto: float) -> tuple[Point, Point] | None:
    """The two heaviest points around a rated current of `upto` amperes whose level is not lost; None if there are none.

    Up to TWICE beyond the rating, so that a slope is taken where resistance counts and not a junction's logarithm.  Where
    the output gives way there, up to the calibration reference: on a cliff the level hangs on a current that is not known so well.
    """
    points = line_of.points if (way := gives_way(line_of)) else _own(line_of)
    line = sorted(
        (
            p
            for p in points
            if value(p.amperes) <= max(TWICE * upto, AT_LEAST_A) and (value(p.volts) < LOST_LOW_V if line_of.up else True)
        ),
        key=lambda p: value(p.amperes),
    )
    if way:
        line = [p for p in line if value(p.amperes) <= max(value(x.amperes) for x in points if x.name == EXACT)]
    pairs = [(a, b) for a, b in pairwise(line[-3:]) if value(b.amperes) - value(a.amperes) >= 1e-5]
    if not way and len(pairs) > 1 and standard(_slope(*pairs[-1])) > MUCH_WORSE * standard(_slope(*pairs[-2])):
        pairs.pop()  # the heavy load's current flows through the multiplexers
    if line_of.up and not line_of.channel and len(pairs) > 1 and _steepens(*pairs[-2:]):
        pairs.pop()  # a saturated transistor's line becomes flatter; this one has begun to give way
    return pairs[-1] if pairs else None


def _steepens(before: tuple[Point, Point], last: tuple[Point, Point]) -> bool:
    return _slope_value(*last) > FLATTER * _slope_value(*before)


def _slope_value(a: Point, b: Point) -> float:
    return (value(b.volts) - value(a.volts)) / (value(b.amperes) - value(a.amperes))


def _slope(a: Point, b: Point) -> Uncertain:
    return less(b.volts, a.volts) / less(b.amperes, a.amperes)


def resistance(line_of: Line, upto: float) -> Uncertain | None:
    """Output resistance in ohms: slope between the points of `slope_points`."""
    ends = slope_points(line_of, upto)
    if ends is None:
        return None
    slope = _slope(*ends)
    return slope if line_of.up else -slope


def taken(model: Model, seat: Seat, fine: Readings) -> set[tuple[int, str]]:
    """(pin, point) of the low levels that were measured below the top of their reference."""
    return {
        (seat.pin_at(r.mark.position), r.mark.point)
        for r in fine.labelled("line")
        if r.mark.up and not r.mark.under and r.total is not None and not model.saturated(r)
    }


def load_lines(model: Model, seat: Seat, plan: Sequence[LineReading], sources: Sequence[Readings]) -> list[Line]:
    """The line of each planned reading; of several readings of a point the one from the first source that has it."""
    return [
        Line(
            wanted.pin,
            wanted.up,
            tuple(p for name in wanted.points if (p := _best(model, seat, wanted, name, sources))),
            _in_step(
                model, wanted, sources, "unloaded low" if wanted.up else "unloaded high", seat.position(wanted.pin)
            ),
            _in_step(model, wanted, sources, "supply"),
            wanted.channel,
        )
        for wanted in plan
    ]


def _best(model: Model, seat: Seat, wanted: LineReading, name: str, sources: Sequence[Readings]) -> Point | None:
    position = seat.position(wanted.pin)
    for readings in sources:
        here = [
            r
            for r in readings.labelled("line")
            if r.mark.point == name
            and r.mark.up == wanted.up
            and r.mark.step == wanted.step
            and position in (r.mark.position, r.mark.under)
        ]
        loaded = next((r for r in here if not r.mark.under), None)
        ground = next((r for r in here if r.mark.under), None)
        if loaded and ground and (found := point_of(model, loaded, ground)):
            return replace(found, volts=settled(found.volts), amperes=settled(found.amperes))
    return None


def _in_step(
    model: Model, wanted: LineReading, sources: Sequence[Readings], label: str, position: int = 0
) -> Uncertain | None:
    """The reading of that label in the step, against the ground pin; from the first source that has it."""
    for readings in sources:
        here = next(
            (r for r in readings.labelled(label) if r.mark.step == wanted.step and position in (0, r.mark.position)),
            None,
        )
        ground = next((r for r in readings.labelled("ground") if r.mark.step == wanted.step), None)
        if here and ground and here.total is not None and ground.total is not None and not model.saturated(here):
            return less(model.pin_volts(here), model.pin_volts(ground))
    return None


def beyond_points(model: Model, seat: Seat, pin: int, readings: Readings) -> tuple[Point, ...]:
    """Points of an output that was loaded beyond its rating, as magnitudes; those not measured are left out."""
    here = [r for r in readings.labelled("beyond") if seat.position(pin) in (r.mark.position, r.mark.under)]
    out = []
    for name in dict.fromkeys(r.mark.point for r in here):
        loaded, ground = (
            next(r for r in here if r.mark.point == name and bool(r.mark.under) is x) for x in (False, True)
        )
        if found := point_of(model, loaded, ground):
            out.append(found)
    return tuple(out)
