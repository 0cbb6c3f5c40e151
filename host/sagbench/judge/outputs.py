"""Outputs under load: levels at rated currents, what lies just beyond, and how an output compares with its sisters.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from itertools import pairwise

from sagbench.judge.limits import in_amperes, in_volts, least_supply, outcome, pin_name, resolvable, weight
from sagbench.judge.rule import margin
from sagbench.measure.line import AtRated, How, Line, Point, at_rated, resistance
from sagbench.measure.model import K, Model
from sagbench.measure.uncertain import Uncertain, exact, less, standard, uncertain, value
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Expect, FamilyLimits, Part, Rated, Role
from sagbench.parts.ratings import table
from sagbench.plan.loads import rated
from sagbench.record import Finding, LoadReading, Outcome, Quantity

HARDER = 1.1  # a level beyond its limit at so many times the rated current or more proves nothing
ENOUGH_HEADROOM = 1.25  # VOL stays below VIL up to so many times the rated current; sound outputs have 1.5 and more
CLIFF = 3.0  # so many times the resistance under a lighter load: gain lost, not resistance
SOUND_OHM = 15.0  # stands for the resistance under light load where that cannot be told
SAME = 1.02  # up to so many times the rated current a point is at it
BEYOND_KNEE_A = 1e-3  # from here on a follower's level falls along a resistance (common practice)
HARDLY = 0.95  # of the rated current: a level is lost within a twentieth of it only in a cliff
CLIFF_U = 0.10  # volts of doubt in an interpolated level: the line bends too much between its points
SLOPE_FROM_A = 0.3e-3  # lighter points are too near to each other for a slope
NOTHING_A = 10e-6  # less is no transistor that conducts
GROUND_V = 0.05  # volts of doubt in a line prolonged to no current


def load_readings(line: Line) -> tuple[LoadReading, ...]:
    """For the record."""
    out = []
    for p in line.points:
        sag = 0.0 if line.unloaded is None else (value(p.volts) - value(line.unloaded)) * (1 if line.up else -1)
        amperes = p.amperes if line.up else -p.amperes
        out.append(
            LoadReading(
                p.name, "sink" if line.up else "source", Model.quantity(p.volts, "V"), Model.quantity(amperes, "A"), sag
            )
        )
    return tuple(out)


def output_ohm(line: Line, limits: FamilyLimits) -> Quantity | None:
    """Output resistance around the rated current."""
    ohm = resistance(line, rated(limits, line.up))
    return None if ohm is None else Model.quantity(ohm, "ohm")


def judge_rated(
    part: Part,
    line: Line,
    limit: Rated,
    supply: Uncertain | None,
    bipolar: bool,
    *,
    causes: bool = True,
    comes: bool = True,
) -> Finding:
    """One output level at one rated current.

    bipolar: its high side has a knee near no load.  causes: name the likely cause of a level that is lost.  comes: False if
    the output cannot come to this level, for the fixture does not hold the inputs that it needs.
    """
    name, rating = pin_name(part, line.pin), abs(limit.amperes)
    supply = supply if line.supply is None else line.supply
    if not limit.relative_to_supply:
        supply = exact(-_lack(part, limit, supply) if bipolar else 0.0)
    if supply is None:
        return _missing(name, limit, line.pin, "the supply at the chip was not measured")
    scale = _Scale(limit.limit.value, limit.limit.kind, supply, rating)
    found = at_rated(line, rating, knee=bipolar and limit.amperes < 0)
    proof = scale.proof(line)
    if proof and (found is None or not scale.trusts(found)):
        found = AtRated(proof.volts, proof.amperes, How.AT)
    lost = scale.lost_beyond(line) if found is None else None
    found = found or lost
    if found is None:
        return _no_level(part, line, limit, comes)
    what = Outcome.BEYOND if proof else Outcome.UNSURE if lost else scale.outcome(found.volts)
    if what is Outcome.BEYOND and not proof and value(found.amperes) > rating * HARDER:
        what = Outcome.UNSURE  # judged at a harder point than rated: no proof against the chip
    if what is Outcome.BEYOND and not proof and found.how is How.BETWEEN and not scale.past_cliff(line):
        what = Outcome.UNSURE  # the level is lost somewhere between two points: perhaps only beyond the rated current
    if what is Outcome.BEYOND and not proof and scale.speaks_against(line):
        what = Outcome.UNSURE  # what was read at that very current contradicts what was worked out for it
    if what is Outcome.UNSURE and scale.cleared(line):
        what = Outcome.WITHIN
    if what is Outcome.UNSURE and value(found.amperes) > rating * SAME and (nearer := scale.nearer(line)):
        found, what = nearer, Outcome.WITHIN
    if what is Outcome.UNSURE and found.how is How.BEYOND and scale.holds(found.volts):
        why = "the heaviest load is lighter, and prolonged from there the level is within its limit, but too doubtful to say so"
        return replace(_missing(name, limit, line.pin, why), out_of_reach=True)
    volts = Quantity(value(found.volts), scale.quantity(found.volts).u, "V")
    bound = limit.limit.value + value(supply)
    inside = margin(volts, bound, limit.limit.kind)
    return Finding(
        limit.quantity,
        what,
        _in_words(part, line, limit, found, bound, what, causes),
        line.pin,
        volts,
        bound,
        limit.limit.kind,
        inside,
        Model.quantity(found.amperes, "A"),
        rated_at=limit.amperes,
        typical=limit.typical,
        source=limit.limit.source,
        weight=weight(limit.quantity, what, volts, bound, limit.limit.kind),
    )


def _lack(part: Part, limit: Rated, supply: Uncertain | None) -> float:
    """Volts by which the chip's supply is below the least that the data book's VOH is for; a follower's high level is lower by as much."""
    if supply is None or limit.limit.kind != "min":
        return 0.0
    return max(0.0, least_supply(part) - value(supply))


def _no_level(part: Part, line: Line, limit: Rated, comes: bool) -> Finding:
    """Why a level is not known: the loads are too light for it, or no state of the part's test holds it (a monostable's
    pulse), which is so for every specimen; or the fixture could not bring this specimen to it; or it was not loaded."""
    held = Expect.LOW if line.up else Expect.HIGH
    steady = any(step.expect.get(line.pin) is held for step in part.sequence)
    why = "not loaded"
    if line.points:
        why = "the load points do not reach it"
    elif not steady:
        why = f"no state of its test holds the output {'low' if line.up else 'high'}, and loads do not reach what does not stand still"
    elif not comes:
        why = f"what the fixture can hold of the inputs does not bring the output {'low' if line.up else 'high'}"
    return replace(_missing(pin_name(part, line.pin), limit, line.pin, why), out_of_reach=bool(line.points) or not steady)


def not_held(part: Part, pin: int, limit: Rated) -> Finding:
    """A level that was not measured, for the chip did not stay in the state it is of."""
    return _missing(pin_name(part, pin), limit, pin, "its level under load contradicts its answers under the same load")


@dataclass(frozen=True)
class _Scale:
    """A limit on an output level: `bound` against `base` (0 or the chip's supply), at a rated current."""

    bound: float
    kind: str
    base: Uncertain
    rating: float

    def quantity(self, volts: Uncertain) -> Quantity:
        """The level against the base: what the two share in uncertainty cancels. Without a budget."""
        against = less(volts, self.base) if standard(self.base) else volts
        return Quantity(value(volts) - value(self.base), K * standard(against), "V")

    def outcome(self, volts: Uncertain) -> Outcome:
        """Against the limit."""
        return outcome(self.quantity(volts), self.bound, self.kind)

    def holds(self, volts: Uncertain) -> bool:
        """True if the level is within its limit, whatever its uncertainty."""
        return margin(self.quantity(volts), self.bound, self.kind) >= 0

    def trusts(self, found: AtRated) -> bool:
        """True if a value for the rated current stands by itself: not beyond all load points, not across a cliff."""
        return found.how is not How.BEYOND and self.quantity(found.volts).u < CLIFF_U

    def proof(self, line: Line) -> Point | None:
        """The least bad point no harder than rated that is surely beyond the limit: rated current is no better.

        A point whose own volts are as doubtful as a cliff (the heavy load goes through the multiplexers) proves nothing.
        """
        beyond = [
            p
            for p in line.points
            if value(p.amperes) <= self.rating
            and self.quantity(p.volts).u < CLIFF_U
            and self.outcome(p.volts) is Outcome.BEYOND
        ]
        return min(beyond, key=lambda p: value(p.volts) * (1 if self.kind == "max" else -1), default=None)

    def nearer(self, line: Line) -> AtRated | None:
        """The level at the rated current itself, between a harder point and a lighter one beyond the knee, if surely within."""
        lighter = [p for p in line.points if BEYOND_KNEE_A < value(p.amperes) < self.rating]
        found = at_rated(line, self.rating) if lighter else None
        sure = found is not None and found.how is How.BETWEEN and self.outcome(found.volts) is Outcome.WITHIN
        return found if sure else None

    def lost_beyond(self, line: Line) -> AtRated | None:
        """A low level at a rated current that no load is near, if it would be beyond its limit going on as it went up to there."""
        surely = sorted((p for p in line.points if standard(p.volts) < CLIFF_U / 4), key=lambda p: value(p.amperes))
        if self.kind != "max" or len(surely) < 2:
            return None
        rise = _slope(surely[-2], surely[-1]) * (self.rating - value(surely[-1].amperes))
        volts = surely[-1].volts + uncertain(rise, abs(rise) / 2, "prolonged")
        return None if self.holds(volts) else AtRated(volts, exact(self.rating), How.BEYOND)

    def past_cliff(self, line: Line) -> bool:
        """False if the rated current lies between two points, and the line prolonged from the lighter ones would be within."""
        ordered = sorted(line.points, key=lambda p: value(p.amperes))
        below = [p for p in ordered if value(p.amperes) < self.rating][-2:]
        if len(below) < 2:
            return True
        (i1, v1), (i2, v2) = ((value(p.amperes), value(p.volts)) for p in below)
        prolonged = v2 + (v2 - v1) / max(i2 - i1, 1e-6) * (self.rating - i2)
        inside = margin(Quantity(prolonged - value(self.base), 0.0, "V"), self.bound, self.kind)
        return inside < 0

    def speaks_against(self, line: Line) -> bool:
        """True if a point at the rated current, or hardly below, is surely within the limit."""
        return any(value(p.amperes) >= HARDLY * self.rating and self.outcome(p.volts) is Outcome.WITHIN for p in line.points)

    def cleared(self, line: Line) -> bool:
        """True if a point surely harder than rated is surely within the limit."""
        return any(
            value(p.amperes) - 2 * standard(p.amperes) >= self.rating and self.outcome(p.volts) is Outcome.WITHIN
            for p in line.points
        )


def _missing(name: str, limit: Rated, pin: int, why: str) -> Finding:
    return Finding(
        limit.quantity,
        Outcome.NOT_MEASURED,
        f"{name}: {limit.quantity} at {in_amperes(limit.amperes)} was not measured: {why}",
        pin,
        limit=limit.limit.value,
        limit_kind=limit.limit.kind,
        source=limit.limit.source,
    )


def _in_words(
    part: Part, line: Line, limit: Rated, found: AtRated, bound: float, what: Outcome, causes: bool
) -> str:
    sink, rating = limit.amperes > 0, abs(limit.amperes)
    verb, must = ("sinks", "hold") if sink else ("sources", "reach")
    amperes = value(found.amperes)
    name, at, volts, how = pin_name(part, line.pin), in_amperes(amperes), in_volts(value(found.volts)), ""
    if found.how is How.BEYOND:
        heaviest = max(line.points, key=lambda p: value(p.amperes))
        how = f" (extrapolated; the heaviest load draws {in_amperes(value(heaviest.amperes))})"
    if what is Outcome.BEYOND:
        why = why_sagging(line, limit, part.limits[line.pin].family) if causes else ""
        short = f" at {in_amperes(rating)}" if amperes < 0.97 * rating else ""
        return (
            f"{name} {verb} {at} only at {volts}{how}; a {part.name} must {must} {in_volts(bound)}{short}"
            f"{': ' + why if why else ''}"
        )
    if what is Outcome.UNSURE and amperes > HARDER * rating:
        return f"{name} {verb} {at} at {volts}; the limit of {in_volts(bound)} is for {in_amperes(rating)}, which no load is near"
    if what is Outcome.UNSURE:
        return f"{name} {verb} {at} at {volts}{how}; that is too near the limit of {in_volts(bound)} to tell"
    return f"{name} {verb} {at} at {volts}{how}; the limit is {in_volts(bound)}"


def why_sagging(line: Line, limit: Rated, family: str) -> str:
    """The likely cause of a level that is lost, by the shape of the line (common practice, and worked out in spice).

    What is called a resistance is the whole rise of the level, so what is usual of the family is told beside it.
    """
    if limit.amperes < 0:
        return "its pull-up has become weak"
    if line.points and all(value(p.amperes) < NOTHING_A for p in line.points):
        return "it does not pull low at all"
    ordered = sorted((p for p in line.points if value(p.amperes) > SLOPE_FROM_A), key=lambda p: value(p.amperes))
    if len(ordered) < 2:
        return ""
    if value(ordered[0].volts) > limit.limit.value:
        return "it does not come down properly even under light load"
    slopes = [_slope(a, b) for a, b in pairwise(ordered)]
    if len(slopes) < 2:
        return ""
    # What falls below ground when it is prolonged to no current is no resistor's line.
    given_way = value(ordered[0].volts) < slopes[0] * value(ordered[0].amperes) - GROUND_V
    if given_way or any(b > CLIFF * max(a, SOUND_OHM) for a, b in pairwise(slopes)):
        return "its sink transistor has become weak, well under light load and giving way under a heavier one"
    usual = table(family or PLAIN).get("typical", {}).get("rol_ohm")
    rise = f"its level rises as along {slopes[0]:.0f} ohm"
    if usual and slopes[0] < usual["value"] + usual["sd"]:
        return f"{rise}, which is usual, but from {in_volts(value(ordered[0].volts))} under a light load"
    beside = f", some {usual['value']:.0f} of them usual" if usual else ""
    return f"{rise}{beside}: a series resistance in its way to ground, a bond or the metal"


def _slope(a: Point, b: Point) -> float:
    run = value(b.amperes) - value(a.amperes)
    return (value(b.volts) - value(a.volts)) / run if run > 1e-6 else 0.0


def judge_off(part: Part, pin: int, amperes: Quantity | None, high: bool) -> Finding | None:
    """Leakage of an output that is off, pulled high or low; None if the limit is too fine and not surely missed.

    A bidirectional pin is an input as well: low, it may deliver IIL.
    """
    limits, which = part.limits[pin], part.pin(pin)
    if limits.off_leakage is None or amperes is None:
        return None
    size = Quantity(abs(amperes.value), amperes.u, "A")
    bound, source = abs(limits.off_leakage.value), limits.off_leakage.source
    if which.role is Role.BIDIRECTIONAL and not high and -limits.iil.value * which.low_unit_loads > bound:
        bound, source = -limits.iil.value * which.low_unit_loads, limits.iil.source
    what = outcome(size, bound)
    if what is Outcome.UNSURE and not resolvable(size, bound):
        return None
    text = (
        f"{pin_name(part, pin)} leaks {in_amperes(size.value)} when off and pulled {'high' if high else 'low'}; "
        f"the limit is {in_amperes(bound)}"
    )
    return Finding(
        "IOZ",
        what,
        text,
        pin,
        size,
        bound,
        margin=margin(size, bound),
        state="outputs off",
        source=source,
        weight=weight("IOZ", what, size, bound),
    )


def off_unknown(part: Part, pin: int, unheld: Collection[int]) -> Finding:
    """Leakage of an output that was never surely off, for these inputs could not be held low."""
    names = ", ".join(pin_name(part, number) for number in sorted(unheld))
    return Finding(
        "IOZ",
        Outcome.NOT_MEASURED,
        f"{pin_name(part, pin)}: leakage when off was not measured: the fixture cannot hold {names} low",
        pin,
        state="outputs off",
    )


def judge_headroom(part: Part, line: Line, limits: FamilyLimits) -> Finding | None:
    """A sink whose level is lost (beyond VIL) just above its rated current is about to go."""
    amperes = rated(limits, True)
    if not line.up or not line.points or not amperes:
        return None
    ordered = sorted(line.points, key=lambda p: value(p.amperes))
    inside = [p for p in ordered if value(p.volts) <= limits.vil.value]
    outside = [p for p in ordered if value(p.volts) > limits.vil.value]
    if not inside or not outside:
        return None  # never lost within the load points, or lost from the start (judged elsewhere)
    a, b = inside[-1], outside[0]
    share = (limits.vil.value - value(a.volts)) / (value(b.volts) - value(a.volts))
    lost_at = value(a.amperes) + share * (value(b.amperes) - value(a.amperes))
    lighter = [_slope(x, a) for x in inside[-2:-1]]
    if _slope(a, b) > CLIFF * max([*lighter, SOUND_OHM]):
        lost_at = value(b.amperes)  # past the cliff the current stays what it is at the edge
    if lost_at >= ENOUGH_HEADROOM * amperes:
        return None
    return Finding(
        "VOL",
        Outcome.ODD,
        f"{pin_name(part, line.pin)} loses its low level at {in_amperes(lost_at)}, "
        f"{'hardly more' if lost_at >= amperes else 'less'} than the {in_amperes(amperes)} it is rated for",
        line.pin,
        Quantity(lost_at, 0.0, "A"),
        amperes,
        "min",
        lost_at - amperes,
        state="headroom",
        weight=35,
    )
