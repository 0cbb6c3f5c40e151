"""An output's load line: what it is at each load point, what it would be at a rated current, its resistance.

Currents here are magnitudes in the direction of the line; `up` lines sink, the others source.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from math import log

from sagbench.measure.model import Model
from sagbench.measure.uncertain import Uncertain, exact, standard, uncertain, value
from sagbench.plan.logic import LineReading
from sagbench.plan.recipe import Reading, Readings
from sagbench.plan.seat import Seat
from sagbench.wire.numbers import Reference


class How(StrEnum):
    """How a value at a rated current came about."""

    AT = "measured there"  # a point at the rated current, or a little harder
    BETWEEN = "interpolated"
    BEYOND = "extrapolated"  # the rated current is more than the heaviest load point draws


@dataclass(frozen=True)
class Point:
    """One load point of one output, as uncertain numbers: volts against the chip's ground pin, amperes (magnitude)."""

    name: str
    volts: Uncertain
    amperes: Uncertain


@dataclass(frozen=True)
class Line:
    """The load line of one output in one direction.

    `unloaded`, and `supply` in the same step, are against the chip's ground pin; None if not measured.
    """

    pin: int
    up: bool
    points: tuple[Point, ...]
    unloaded: Uncertain | None = None
    supply: Uncertain | None = None

    def at(self, name: str) -> Point | None:
        """The point of that name."""
        return next((p for p in self.points if p.name == name), None)


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
AT_LEAST_A = 0.001  # and up to a milliampere in any case
LOST_LOW_V = 0.8  # a low level beyond this has left the output's straight part: VIL of most families
REACH = 1.35  # no extrapolation further than this


def point_of(model: Model, loaded: Reading, ground: Reading) -> Point | None:
    """The point that a loaded reading and the ground reading with it make; None if not measured or off scale."""
    if loaded.total is None or ground.total is None or model.saturated(loaded):
        return None
    volts = model.pin_volts(loaded) - model.pin_volts(ground)
    amperes = model.load_amperes(loaded)
    return Point(loaded.mark.point, volts, amperes if loaded.mark.up else -amperes)


def _straight(a: Point, b: Point, amperes: float) -> Uncertain:
    """Volts at a current on the line through two points; what the currents' own uncertainty does is carried along."""
    return a.volts + (b.volts - a.volts) * (amperes - a.amperes) / (b.amperes - a.amperes)


@dataclass(frozen=True)
class Bend:
    """What a curve through three points adds to the straight line between two of them, in volts; sd as well."""

    volts: float
    sd: float


LOG_SD = 0.40  # of the correction: what textbook transistors in spice leave of it, an LS00 at 4 mA being the worst
SQUARE_SD = 0.10  # likewise for channels, which follow the square closely
CLIFF_SD = 0.4  # of the whole span between straight line and bound
WIDE = 3.0  # ratio of the currents of two neighbours from which on the lighter third point says too little


def _bend(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """How far an output's curve is from the straight line through a and b at a current.

    A junction in the way makes V = A + R I + B ln I with B > 0 (the sum of a saturated transistor's resistance and
    its logarithmic offset, or of a follower's VBE); a channel, or a transistor that runs out of gain, bends the other
    way, V = A + R I + C I^2.  The third point is the one behind, where there is one and it shows the logarithm,
    else the one before.  Where thirds disagree, so large is the doubt;
    and at a cliff, where the square would leave the levels of a and b or a piece beside them prolonged, all between
    there and the straight line is as likely.
    """
    i, j = line.index(a), line.index(b)
    behind, before = (line[j + 1] if j + 1 < len(line) else None), (line[i - 1] if i else None)
    wide = value(b.amperes) > WIDE * value(a.amperes)
    logs, squares = [], []
    for third in (behind, before) if wide else (before, behind):
        if third is not None:
            b_log, log_bend = _curve(a, b, third, amperes, log)
            logs += [log_bend] if b_log > 0 else []
            squares.append(_curve(a, b, third, amperes, lambda x: x * x)[1])
    if logs:
        return Bend(logs[0], LOG_SD * abs(logs[0]))
    if squares:
        middle, bound = sum(squares) / len(squares), _bound(line, a, b, amperes, squares[0])
        if abs(middle) > abs(bound):
            return Bend(bound / 2, CLIFF_SD * abs(bound))
        return Bend(middle, max(SQUARE_SD * abs(middle), (max(squares) - min(squares)) / 2))
    return Bend(0.0, 0.0)


def _bound(line: Sequence[Point], a: Point, b: Point, amperes: float, towards: float) -> float:
    """The largest bend of that sign that a curve can have which bends one way only and never turns back, in volts."""
    straight = value(_straight(a, b, amperes))
    i, j = line.index(a), line.index(b)
    beside = [(line[i - 1], a)] if i else []
    beside += [(b, line[j + 1])] if j + 1 < len(line) else []
    away = [value(_straight(p, q, amperes)) - straight for p, q in beside if value(q.amperes) - value(p.amperes) > 1e-7]
    away += [value(a.volts) - straight, value(b.volts) - straight]
    return min((x for x in away if x * towards > 0), key=abs, default=0.0)


def _curve(a: Point, b: Point, c: Point, amperes: float, shape: Callable[[float], float]) -> tuple[float, float]:
    """(weight of `shape`, worse is positive; bend) of V = A + R I + weight shape(I) through three points."""
    (x1, y1), (x2, y2), (x3, y3) = ((value(p.amperes), value(p.volts)) for p in (a, b, c))

    def beside(x: float) -> float:  # how far shape(x) is off its own chord
        return shape(x) - shape(x1) - (shape(x2) - shape(x1)) * (x - x1) / (x2 - x1)

    off = y3 - y1 - (y2 - y1) * (x3 - x1) / (x2 - x1)
    if abs(beside(x3)) < 1e-12:
        return 0.0, 0.0
    weight = off / beside(x3)
    return weight * (1 if y2 > y1 else -1), weight * beside(amperes)


def _between(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Uncertain:
    """Volts between two points, along the curve of `_bend`."""
    bend = _bend(line, a, b, amperes)
    return _straight(a, b, amperes) + uncertain(bend.volts, bend.sd, "bend of the load line")


def _doubtful_current(line: Sequence[Point], p: Point) -> Uncertain:
    """Volts at a point, with what the uncertainty of its current does along the line."""
    others = [x for x in line if abs(value(x.amperes) - value(p.amperes)) > 1e-7]
    if not others:
        return p.volts
    next_to = min(others, key=lambda x: abs(value(x.amperes) - value(p.amperes)))
    slope = (value(next_to.volts) - value(p.volts)) / (value(next_to.amperes) - value(p.amperes))
    return p.volts + slope * (value(p.amperes) - p.amperes)


def at_rated(line_of: Line, amperes: float, *, knee: bool = False) -> AtRated | None:
    """The output's level at a rated current (magnitude), or None if the load points do not reach near it.

    knee: the line is a bipolar output that sources; then a harder point is taken rather than a lighter one.
    """
    if amperes <= NO_LOAD and line_of.unloaded is not None:
        return AtRated(line_of.unloaded, exact(0.0), How.AT)
    line = sorted((p for p in line_of.points if value(p.amperes) > 0), key=lambda p: value(p.amperes))
    if not line:
        return None
    for p in line:
        if amperes <= value(p.amperes) <= amperes * (HARDER_KNEE if knee else HARDER):
            return AtRated(_doubtful_current(line, p), p.amperes, How.AT)
    below = [p for p in line if value(p.amperes) < amperes]
    above = [p for p in line if value(p.amperes) >= amperes]
    if below and above:
        return AtRated(_between(line, below[-1], above[0], amperes), exact(amperes), How.BETWEEN)
    if not below:
        return AtRated(line[0].volts, line[0].amperes, How.AT)  # harder than rated; the caller sees the current
    if len(below) < 2 or value(below[-1].amperes) * REACH < amperes:
        return None
    bend = _bend(line, below[-2], below[-1], amperes)
    volts = _straight(below[-2], below[-1], amperes) + uncertain(
        bend.volts / 2, abs(bend.volts) / 2 + bend.sd, "bend of the load line"
    )
    near = value(below[-1].amperes) >= amperes * NEAR
    return AtRated(volts, exact(amperes), How.AT if near else How.BEYOND)


def slope_points(points: Sequence[Point], up: bool, upto: float) -> tuple[Point, Point] | None:
    """The two heaviest points around a rated current of `upto` amperes whose level is not lost; None if there are none.

    Up to TWICE beyond the rating, so that a slope is taken where resistance counts and not a junction's logarithm.
    """
    line = sorted(
        (
            p
            for p in points
            if value(p.amperes) <= max(TWICE * upto, AT_LEAST_A) and (value(p.volts) < LOST_LOW_V if up else True)
        ),
        key=lambda p: value(p.amperes),
    )
    pairs = [(a, b) for a, b in pairwise(line[-3:]) if value(b.amperes) - value(a.amperes) >= 1e-5]
    if len(pairs) > 1 and standard(_slope(*pairs[-1])) > MUCH_WORSE * standard(_slope(*pairs[-2])):
        pairs.pop()  # the heavy load's current flows through the multiplexers
    return pairs[-1] if pairs else None


def _slope(a: Point, b: Point) -> Uncertain:
    return (b.volts - a.volts) / (b.amperes - a.amperes)


def resistance(points: Sequence[Point], up: bool, upto: float) -> Uncertain | None:
    """Output resistance in ohms: slope between the points of `slope_points`."""
    ends = slope_points(points, up, upto)
    if ends is None:
        return None
    slope = _slope(*ends)
    return slope if up else -slope


def fine_enough(model: Model, seat: Seat, coarse: Readings) -> dict[tuple[int, str], bool]:
    """(pin, point) -> that low level fits under the 1.1 V reference with a little to spare."""
    top = value(model.references[Reference.V1V1]) * 0.97
    return {
        (seat.pin_at(r.mark.position), r.mark.point): value(model.volts(r)) < top
        for r in coarse.labelled("line")
        if r.mark.up and not r.mark.under and r.total is not None
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
            return found
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
            return model.pin_volts(here) - model.pin_volts(ground)
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
