"""A load line between its points: how a transistor's curve leaves the straight line from one to the next.

Currents are magnitudes in the direction of the line: `up` lines sink, the others source.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import log

from sagbench.measure.uncertain import Uncertain, value


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
    channel: a CMOS output, whose transistor is a channel.
    """

    pin: int
    up: bool
    points: tuple[Point, ...]
    unloaded: Uncertain | None = None
    supply: Uncertain | None = None
    channel: bool = False

    def at(self, name: str) -> Point | None:
        """The point of that name."""
        return next((p for p in self.points if p.name == name), None)


@dataclass(frozen=True)
class Bend:
    """What a curve adds to the straight line between two of its points, in volts; standard deviation as well."""

    volts: float
    sd: float


LOG_SD = 0.40  # of the correction: what textbook transistors in spice leave of it, an LS00 at 4 mA being the worst
SQUARE_SD = 0.10  # likewise for a square through a third point
CLIFF_SD = 0.4  # of the whole span between straight line and bound
WIDE = 3.0  # ratio of the currents of two neighbours from which on the lighter third point says too little
OVERDRIVE_V = 4.0  # of a channel: supply less threshold, 5 V less 0.7 to 1.3 V,
CHANNEL_SD = 0.25  # so that its square is known within so much of itself
LINEAR_SHARE = 0.5  # beyond so much of the overdrive a channel saturates
FOLLOWER_V = 0.060  # volts for a factor e in current: two base-emitter junctions, resistances not counted
FOLLOWER_SD = 0.006  # volts likewise, and
NOMINAL_V = 5.0  # supply, where it was not read
FOLLOWS_V = 2.2  # below the supply: an output that is lower hangs on its collector resistor already
RESISTIVE_V = 0.05  # a logarithm further than this off the straight line may as well be a resistance
FOLLOWER_SHARE = 0.2  # of what the logarithm is off the straight line


def straight(a: Point, b: Point, amperes: float) -> Uncertain:
    """Volts at a current on the line through two points; what the currents' own uncertainty does is carried along."""
    return a.volts + (b.volts - a.volts) * (amperes - a.amperes) / (b.amperes - a.amperes)


def bend(line_of: Line, line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """Between neighbours a and b of the ordered `line`.

    A channel follows its square, whose size its own resistance tells; a follower that sources its junctions'
    logarithm; a saturated transistor that sinks what a third point shows of it.
    """
    drop = abs(value(b.volts) - (value(line_of.supply) if not line_of.up and line_of.supply else 0.0))
    if line_of.channel and drop < LINEAR_SHARE * OVERDRIVE_V:
        return _channel(line_of, a, b, amperes)
    supply = value(line_of.supply) if line_of.supply else NOMINAL_V
    follows = value(a.volts) > supply - FOLLOWS_V and value(b.amperes) > WIDE * value(a.amperes)
    if not line_of.up and not line_of.channel and follows:
        return _follower(line, a, b, amperes)
    return by_three(line, a, b, amperes)


def _channel(line_of: Line, a: Point, b: Point, amperes: float) -> Bend:
    """Triode region (any textbook): I = k (2 W V - V^2), so V = R I + R^2 I^2 / 2 W, W the overdrive."""
    ia, ib = value(a.amperes), value(b.amperes)
    ohms = (value(b.volts) - value(a.volts)) / (ib - ia)
    size = ohms * ohms / (2 * OVERDRIVE_V) * (amperes - ia) * (ib - amperes)
    return Bend(-size if line_of.up else size, CHANNEL_SD * abs(size))


def _follower(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """V = V1 - w ln(I / I1), w by the pieces before and between, if those are no steeper than junctions are.

    A steeper piece is another regime: a bleeder before; behind, a collector resistor that saturates the follower, whose
    straight line the curve never exceeds.  Without a point behind that tells, all up to the straight line is as likely.
    """
    i, j = line.index(a), line.index(b)
    pieces = [(line[i - 1], a)] if i else []
    slopes = [
        (value(p.volts) - value(q.volts)) / log(value(q.amperes) / value(p.amperes)) for p, q in (*pieces, (a, b))
    ]
    w = min(min((x for x in slopes if x > 0), default=FOLLOWER_V), FOLLOWER_V)
    turns = log(amperes / value(a.amperes))
    there = value(straight(a, b, amperes))
    junction = value(a.volts) - w * turns
    if j + 1 < len(line) and value(line[j + 1].amperes) - value(b.amperes) > 1e-4:
        saturated = value(straight(b, line[j + 1], amperes))
        if saturated < junction:
            return Bend(saturated - there, FOLLOWER_SD * turns + FOLLOWER_SHARE * (junction - saturated))
    elif abs(junction - there) > RESISTIVE_V:
        return Bend((junction - there) / 2, CLIFF_SD * abs(junction - there))
    return Bend(junction - there, FOLLOWER_SD * turns + FOLLOWER_SHARE * abs(junction - there))


def by_three(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """How far an output's curve is from the straight line through a and b at a current, by a third point.

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
    there = value(straight(a, b, amperes))
    i, j = line.index(a), line.index(b)
    beside = [(line[i - 1], a)] if i else []
    beside += [(b, line[j + 1])] if j + 1 < len(line) else []
    away = [value(straight(p, q, amperes)) - there for p, q in beside if value(q.amperes) - value(p.amperes) > 1e-7]
    away += [value(a.volts) - there, value(b.volts) - there]
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
