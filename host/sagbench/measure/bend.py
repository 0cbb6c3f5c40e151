"""A load line between its points: how a transistor's curve leaves the straight line from one to the next.

Three kinds of output, each by its device's equation (any textbook):

- A bipolar transistor that sinks, saturated (Ebers and Moll) or held at the edge of it by a Schottky diode:
  V = V0 + w ln(1 + I/I0) + R I, w = kT/q.  V0 is the level without load, I0 of the size of the base current, R the
  collector's and the leads' resistance.
- A bipolar follower that sources: V = A - w ln I - (w ln(1 + I/I1) or R I), for its second junction joins in, or its
  base resistor, whose share is the current over the gain; until its collector saturates and that resistor does the rest.
- A channel: I = k (2 W V - V^2), so V = R I + R^2 I^2 / 2 W, W the overdrive.

Currents are magnitudes in the direction of the line: `up` lines sink, the others source.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import exp, hypot, log, sqrt

from sagbench.measure.uncertain import Uncertain, less, linear, standard, value


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


Triple = tuple[tuple[float, float], tuple[float, float], tuple[float, float]]  # (amperes, volts), by amperes

KT_Q = 0.0267  # volts at 37 degC,
KT_Q_SD = 0.0010  # and from 15 to 60: a chip under power is some way above the room
SHAPE_SD = 0.10  # of the correction: gain, and with it I0, falls with the current
LOG_SD = 0.40  # of the correction, where nothing lighter is known: what textbook transistors in spice leave of it at most
WIDE = 3.0  # ratio of the currents of two neighbours between which there is room for a bend
LAST_SHARE, LAST_SD = 0.25, 0.35  # of a bend up to the heaviest point, near which the gain may run out unseen
SQUARE_SD = 0.10  # likewise for a square through a third point
CLIFF_TIMES = 3.0  # a stretch so much steeper than the one before is a cliff, not a square
CLIFF_SD = 0.4  # of the whole span between straight line and bound
OVERDRIVE_V = 4.0  # of a channel: supply less threshold, 5 V less 0.7 to 1.3 V,
CHANNEL_SD = 0.25  # so that its square is known within so much of itself
LINEAR_SHARE = 0.5  # beyond so much of the overdrive a channel saturates
JUNCTIONS = 2.2  # a follower's logarithm is that of one to two junctions, whose own ideality is up to 1.1
PLAIN = 1.5, 2.5  # a logarithm of so many junctions is of two; what looks like more is a resistor
ON_V = 0.7  # base-emitter voltage of a transistor that is on (any textbook)
LEAST_LEFT = 0.12  # of the current at a point, that a transistor which is on there has of it
NOMINAL_V = 5.0  # supply, where it was not read
FOLLOWS_V = 2.2  # below the supply: an output that is lower hangs on its collector resistor already
STEEPER = 1.15  # a stretch so much steeper than the one before it has the follower's knee in it or behind it
BASE_OHM_SD = 5.0  # what a base resistor is to the output: 1 kohm over the square of the gain of some 15 to 50
EVEN = sqrt(12)  # anywhere in an interval is as likely: its length over its standard deviation
LEAST_A, MOST_A = 1e-7, 1.0  # I0 is looked for between these
TURNS = 40


def straight(a: Point, b: Point, amperes: float) -> Uncertain:
    """Volts at a current on the line through two points; what the currents' own uncertainty does is carried along."""
    share = linear(amperes, (-1.0, a.amperes)) / less(b.amperes, a.amperes)
    return linear(0.0, (1.0, a.volts), (1.0, less(b.volts, a.volts) * share))


def straight_value(a: Point, b: Point, amperes: float) -> float:
    """Best estimate of the same."""
    rise, run = value(b.volts) - value(a.volts), value(b.amperes) - value(a.amperes)
    return value(a.volts) + rise * (amperes - value(a.amperes)) / run


def bend(
    line_of: Line, line: Sequence[Point], a: Point, b: Point, amperes: float, beyond: Iterable[Point] = ()
) -> Bend:
    """Between neighbours a and b of the ordered `line`; `beyond`: points heavier than those of the line, for its shape."""
    supply = NOMINAL_V if line_of.supply is None else value(line_of.supply)
    drop = abs(value(b.volts) - (0.0 if line_of.up else supply))
    if line_of.channel and drop < LINEAR_SHARE * OVERDRIVE_V:
        return _channel(line_of, a, b, amperes)
    if not line_of.channel and line_of.up:
        return _sinking(line_of, line, a, b, amperes)
    if not line_of.channel and value(a.volts) > supply - FOLLOWS_V:
        heaviest = value(line[-1].amperes) * STEEPER
        return _follower([*line, *(p for p in beyond if value(p.amperes) > heaviest)], a, b, amperes)
    return by_three(line, a, b, amperes)


def _channel(line_of: Line, a: Point, b: Point, amperes: float) -> Bend:
    ia, ib = value(a.amperes), value(b.amperes)
    ohms = (value(b.volts) - value(a.volts)) / (ib - ia)
    size = ohms * ohms / (2 * OVERDRIVE_V) * (amperes - ia) * (ib - amperes)
    return Bend(-size if line_of.up else size, CHANNEL_SD * abs(size))


def place(line: Sequence[Point], point: Point) -> int:
    """Where this very point is in the line."""
    return next(i for i, p in enumerate(line) if p is point)


# ---------------------------------------------------------------------------------------- a saturated transistor
def _sinking(line_of: Line, line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """By the point before, or the level without load, and by the point behind; where both tell they share the doubt."""
    i = place(line, a)
    before = line[i - 1] if i else None
    nothing = line_of.unloaded if i <= 1 else None  # the trickle load is as good as none, and noisier
    lighter = (0.0, nothing) if nothing is not None else (value(before.amperes), before.volts) if before else None
    if lighter is None:
        return by_three(line, a, b, amperes)
    first = (lighter[0], value(lighter[1]))
    main = _saturated((first, _of(a), _of(b)), amperes)
    if main is None:
        return by_three(line, a, b, amperes)
    u = standard(a.volts - lighter[1])
    moved = _saturated((first, (value(a.amperes), value(a.volts) + u), _of(b)), amperes)
    warmer = _saturated((first, _of(a), _of(b)), amperes, KT_Q + KT_Q_SD)
    behind = line[i + 2] if i + 2 < len(line) else None
    heavier = _saturated((_of(a), _of(b), _of(behind)), amperes, chord=0) if behind else None
    doubts = [SHAPE_SD * main, *(x - main for x in (moved, warmer) if x is not None)]
    if heavier is not None:
        doubts.append((heavier - main) / EVEN)
    elif behind is not None:  # it bends the other way there: its gain is about to run out
        return Bend(main / 2, hypot(main / 2, *doubts))
    if behind is None and value(b.amperes) > WIDE * value(a.amperes):
        return Bend(main * (1 - LAST_SHARE), hypot(LAST_SD * main, *doubts))
    return Bend(main, hypot(*doubts))


def _of(p: Point) -> tuple[float, float]:
    return value(p.amperes), value(p.volts)


def _saturated(points: Triple, amperes: float, w: float = KT_Q, *, chord: int = 1) -> float | None:
    """How far V = V0 + w ln(1 + I/I0) + R I through three points is from the chord of the heavier two (`chord` 0: the lighter two).

    None if no I0 does it: the points bend the other way, or more than a junction can.
    """
    (x1, y1), (x2, y2), (x3, y3) = points

    def ohms(i0: float, x: float, y: float, x_: float, y_: float) -> float:
        return (y_ - y - w * log((i0 + x_) / (i0 + x))) / (x_ - x)

    def excess(i0: float) -> float:
        return ohms(i0, x1, y1, x2, y2) - ohms(i0, x2, y2, x3, y3)

    low, high = LEAST_A, MOST_A
    if excess(high) <= 0 or excess(low) >= 0:
        return None
    for _ in range(TURNS):
        middle = sqrt(low * high)
        low, high = (low, middle) if excess(middle) > 0 else (middle, high)
    (begin, _), (end, _) = points[chord : chord + 2]
    return w * (log((low + amperes) / (low + begin)) - (amperes - begin) / (end - begin) * log((low + end) / (low + begin)))


# ---------------------------------------------------------------------------------------- a follower
def _follower(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """The curves that a follower through a and b may take; where several can be, evenly between them.

    From a it begins with the logarithm that the stretch before shows, of one junction at least and two at most; of either, where
    that stretch is none (a Darlington's resistor carries it before the second transistor is on) or there is none.
    """
    i = place(line, a)
    ia = value(a.amperes)
    light = _slope_of(line[i - 1], a) / KT_Q if i else 0.0
    begins = (max(light, 1.0),) if i and light < PLAIN[1] else (1.0, JUNCTIONS)
    curves: list[Callable[[float], float]] = [lambda to, n=n: n * KT_Q * log(to / ia) for n in begins]  # type: ignore[misc]
    if i and light >= PLAIN[1]:
        curves += _just_on(line[i - 1], a)
    ways = [way for follows in curves for way in _ways(line, i, amperes, follows, PLAIN[0] < light < PLAIN[1])]
    there = straight_value(a, b, amperes) - value(a.volts)
    low, high = min(ways), max(ways)
    beyond = amperes - ia
    own = KT_Q_SD * begins[0] * log(amperes / ia)
    sd = hypot((high - low) / EVEN, own, BASE_OHM_SD * beyond, SHAPE_SD * abs((low + high) / 2 - there))
    return Bend((low + high) / 2 - there, sd)


def _just_on(lighter: Point, a: Point) -> list[Callable[[float], float]]:
    """Volts that a Darlington falls from a to a current, whose resistor carried it so far and whose second transistor is just on.

    At a that has what the resistor leaves of the current, which takes a base-emitter voltage over itself.  The resistor is
    that of the stretch before at most, and may be smaller: then less is left, and the drop behind a is larger.
    """
    ia = value(a.amperes)
    least = LEAST_LEFT * ia
    return [
        lambda to, has=has: KT_Q * (log(to / ia) + log((to - ia + has) / has))  # type: ignore[misc]
        for has in (max(ia - ON_V / _ohms(lighter, a), least), least)
    ]


def _ways(
    line: Sequence[Point], i: int, amperes: float, follows: Callable[[float], float], plain: bool
) -> list[float]:
    """Volts against point i at a current before the next point, each way that a follower can go which begins like `follows`.

    The rest of the drop to the next point is a resistance's, or a second junction's that joins in, or lies behind a knee,
    where the collector saturates: `_saturated_at` tells.  Before the knee a plain follower with a diode (two junctions from
    the beginning) has its base resistor over the gain in its way; a Darlington, over the square of it.
    """
    (ia, va), (ib, vb) = _of(line[i]), _of(line[i + 1])
    here, whole, drop = follows(amperes), follows(ib), va - vb
    rest = drop - whole
    if rest <= 0:
        return [-drop * here / whole]
    out = []
    saturated = _saturated_at(line, i + 1, drop / (ib - ia))
    if saturated is not True:
        out.append(-here - rest * (amperes - ia) / (ib - ia))
        if (joins := _joining(ia, ib, rest)) is not None:
            out.append(-here - KT_Q * log((joins + amperes) / (joins + ia)))
    if saturated is not False:
        ends = vb - va + _ohms(line[i + 1], line[i + 2]) * (ib - amperes) if i + 2 < len(line) else None
        for base in (0.0, rest / (ib - ia)) if plain else (0.0,):
            out.append(_softly(-here - base * (amperes - ia), ends))
    return out


def _softly(follows: float, saturated: float | None) -> float:
    """The lower of two branches, rounded where they meet as a transistor's saturation is, by some kT/q."""
    if saturated is None:
        return follows
    return min(follows, saturated) - KT_Q * log(1 + exp(-abs(follows - saturated) / KT_Q))


LEAST_STEP_A = 1e-9


def _ohms(p: Point, q: Point) -> float:
    """Ohms between two points; a great many where both have the same current, as of an output that gives no more."""
    return abs(value(q.volts) - value(p.volts)) / max(value(q.amperes) - value(p.amperes), LEAST_STEP_A)


def _saturated_at(line: Sequence[Point], j: int, before: float) -> bool | None:
    """Is the follower saturated at point j, before which it falls by `before` ohms? None if nothing tells.

    Behind the knee the line is straight: then the next two stretches are alike.  Where it is not steeper than before, or the
    stretch after the next is steeper still, the knee is yet to come.
    """
    if j + 1 >= len(line):
        return None
    behind = _ohms(line[j], line[j + 1])
    if behind < before * STEEPER:
        return False
    return None if j + 2 >= len(line) else _ohms(line[j + 1], line[j + 2]) < behind * STEEPER


def _slope_of(p: Point, q: Point) -> float:
    return (value(p.volts) - value(q.volts)) / log(value(q.amperes) / value(p.amperes))


def _joining(ia: float, ib: float, rest: float) -> float | None:
    """I1 of a second junction that makes this drop from one current to the other; None if none can."""
    if rest >= KT_Q * log(ib / ia):
        return None
    low, high = LEAST_A, MOST_A
    for _ in range(TURNS):
        middle = sqrt(low * high)
        low, high = (low, middle) if KT_Q * log((middle + ib) / (middle + ia)) < rest else (middle, high)
    return low


# ---------------------------------------------------------------------------------------- by a third point
def by_three(line: Sequence[Point], a: Point, b: Point, amperes: float) -> Bend:
    """How far an output's curve is from the straight line through a and b at a current, by a third point.

    A junction in the way makes V = A + R I + B ln I with B > 0; a channel, or a transistor that runs out of gain, bends
    the other way, V = A + R I + C I^2.  The third point is the one before, where there is one and it shows the
    logarithm, else the one behind.  Where thirds disagree, so large is the doubt;
    and at a cliff, where the square would leave the levels of a and b or a piece beside them prolonged, or where one may be
    short of the heaviest point, all between there and the straight line is as likely.
    """
    i, j = place(line, a), place(line, b)
    behind, before = (line[j + 1] if j + 1 < len(line) else None), (line[i - 1] if i else None)
    logs, squares = [], []
    for third in (before, behind):
        if third is not None:
            b_log, log_bend = _curve(a, b, third, amperes, log)
            logs += [log_bend] if b_log > 0 else []
            squares.append(_curve(a, b, third, amperes, lambda x: x * x)[1])
    if logs:
        return Bend(logs[0], LOG_SD * abs(logs[0]))
    if squares:
        middle, bound = sum(squares) / len(squares), _bound(line, a, b, amperes, squares[0])
        unseen = behind is None and value(b.amperes) > WIDE * value(a.amperes)
        cliff = before is not None and _ohms(a, b) > CLIFF_TIMES * _ohms(before, a)
        if abs(middle) > abs(bound) or cliff or (before and unseen):
            return Bend(bound / 2, CLIFF_SD * abs(bound))
        return Bend(middle, max(SQUARE_SD * abs(middle), (max(squares) - min(squares)) / 2))
    return Bend(0.0, 0.0)


def _bound(line: Sequence[Point], a: Point, b: Point, amperes: float, towards: float) -> float:
    """The largest bend of that sign that a curve can have which bends one way only and never turns back, in volts."""
    there = value(straight(a, b, amperes))
    i, j = place(line, a), place(line, b)
    beside = [(line[i - 1], a)] if i else []
    beside += [(b, line[j + 1])] if j + 1 < len(line) else []
    away = [value(straight(p, q, amperes)) - there for p, q in beside if value(q.amperes) - value(p.amperes) > 1e-7]
    away += [value(a.volts) - there, value(b.volts) - there]
    return min((x for x in away if x * towards > 0), key=abs, default=0.0)


def _curve(a: Point, b: Point, c: Point, amperes: float, shape: Callable[[float], float]) -> tuple[float, float]:
    """(weight of `shape`, worse is positive; bend) of V = A + R I + weight shape(I) through three points."""
    (x1, y1), (x2, y2), (x3, y3) = (_of(p) for p in (a, b, c))

    def beside(x: float) -> float:  # how far shape(x) is off its own chord
        return shape(x) - shape(x1) - (shape(x2) - shape(x1)) * (x - x1) / (x2 - x1)

    off = y3 - y1 - (y2 - y1) * (x3 - x1) / (x2 - x1)
    if abs(beside(x3)) < 1e-12:
        return 0.0, 0.0
    weight = off / beside(x3)
    return weight * (1 if y2 > y1 else -1), weight * beside(amperes)
