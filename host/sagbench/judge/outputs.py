"""Outputs under load: levels at rated currents, what lies just beyond, and how an output compares with its sisters.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median

from sagbench.judge.limits import in_amperes, in_volts, margin, outcome, pin_name, resolvable
from sagbench.measure.line import AtRated, How, Line, Point, at_rated, resistance
from sagbench.measure.model import Model, Uncertain, value
from sagbench.parts.model import FamilyLimits, Part, Rated
from sagbench.plan.loads import rated
from sagbench.record import Finding, LoadReading, Outcome, Quantity

ENOUGH_HEADROOM = 1.25      # VOL stays below VIL up to so many times the rated current; sound outputs have 1.5 and more
SISTERS = 3                 # fewer outputs of a kind cannot outvote one
FAR_MADS = 8.0              # so many robust standard deviations from the sisters is out of character,
FAR_LOW_V = 0.05            # and at least so far for a low level,
FAR_HIGH_V = 0.25           # or for a high one: VBE and pull-up resistors of one chip spread more
FAR_SHARE = 0.35            # and by at least so much of the sisters' own sag
CLIFF = 3.0                 # output resistance near rated current over that under light load: gain lost, not resistance


def load_readings(line: Line) -> tuple[LoadReading, ...]:
    """For the record."""
    out = []
    for p in line.points:
        sag = 0.0 if line.unloaded is None else value(p.volts - line.unloaded) * (1 if line.up else -1)
        amperes = p.amperes if line.up else -p.amperes
        out.append(LoadReading(p.name, "sink" if line.up else "source", Model.quantity(p.volts, "V"),
                               Model.quantity(amperes, "A"), sag))
    return tuple(out)


def output_ohm(line: Line, limits: FamilyLimits) -> Quantity | None:
    """Output resistance around the rated current."""
    ohm = resistance(line.points, line.up, rated(limits, line.up))
    return None if ohm is None else Model.quantity(ohm, "ohm")


def judge_rated(part: Part, line: Line, limit: Rated, supply: Uncertain | None, gate: bool) -> Finding:
    """One output level at one rated current. `gate`: the family is bipolar (its high side has a knee)."""
    sink = limit.amperes > 0
    name = pin_name(part, line.pin)
    bound = limit.limit.value
    if limit.relative_to_supply:
        if supply is None:
            return _missing(name, limit, line.pin, "the supply at the chip was not measured")
        bound = bound + value(supply)
    found = at_rated(line.points, abs(limit.amperes), knee=gate and not sink)
    if found is None:
        return _missing(name, limit, line.pin, "the load points do not reach it" if line.points else "not loaded")
    volts, at = Model.quantity(found.volts, "V"), Model.quantity(found.amperes, "A")
    what = outcome(volts, bound, limit.limit.kind)
    if what is Outcome.BEYOND and not sink and found.how is How.AT and at.value > abs(limit.amperes) * 1.5:
        what = Outcome.UNSURE               # judged at a much harder point than rated: no proof against the chip
    words = _in_words(part, line, limit, found, bound, what)
    weight = {Outcome.BEYOND: 70 + min(9.0, abs(margin(volts, bound, limit.limit.kind)) * 9), Outcome.UNSURE: 15.0}.get(what, 0.0)
    if what is Outcome.UNSURE and not resolvable(volts, bound):
        weight = 0.0
    return Finding(limit.quantity, what, words, line.pin, volts, bound, limit.limit.kind, margin(volts, bound, limit.limit.kind),
                   at, typical=limit.typical, source=limit.limit.source, weight=weight)


def _missing(name: str, limit: Rated, pin: int, why: str) -> Finding:
    return Finding(limit.quantity, Outcome.NOT_MEASURED,
                   f"{name}: {limit.quantity} at {in_amperes(limit.amperes)} was not measured: {why}",
                   pin, limit=limit.limit.value, limit_kind=limit.limit.kind, source=limit.limit.source)


def _in_words(part: Part, line: Line, limit: Rated, found: AtRated, bound: float, what: Outcome) -> str:
    sink = limit.amperes > 0
    verb = "sinks" if sink else "sources"
    at = in_amperes(value(found.amperes))
    name, volts, how = pin_name(part, line.pin), in_volts(value(found.volts)), ""
    if found.how is How.BEYOND:
        heaviest = max(line.points, key=lambda p: value(p.amperes))
        how = f" (extrapolated from {in_amperes(value(heaviest.amperes))}, the heaviest load)"
    if what is Outcome.BEYOND:
        why = why_sagging(line, limit)
        return (f"{name} {verb} {at} only at {volts}{how}; a {part.name} must {'hold' if sink else 'reach'} {in_volts(bound)}"
                f"{': ' + why if why else ''}")
    if what is Outcome.UNSURE:
        return f"{name} {verb} {at} at {volts}{how}; that is too near the limit of {in_volts(bound)} to tell"
    return f"{name} {verb} {at} at {volts}{how}; the limit is {in_volts(bound)}"


def why_sagging(line: Line, limit: Rated) -> str:
    """The likely cause of a level that is lost, from the shape of the line (common practice, and worked out in spice)."""
    ordered = sorted(line.points, key=lambda p: value(p.amperes))
    amperes = abs(limit.amperes)
    light = [p for p in ordered if value(p.amperes) <= amperes * 0.6]
    near = [p for p in ordered if value(p.amperes) <= amperes * 1.6]
    if len(near) < 2:
        return ""
    if limit.amperes < 0:
        return "its pull-up has become weak"
    if light and value(light[-1].volts) > limit.limit.value and value(light[0].volts) > limit.limit.value:
        return "it does not come down properly even under light load"
    slope = _slope(near[-2], near[-1])
    first = _slope(ordered[0], ordered[1])
    if first > 0 and slope / first > CLIFF:
        return "its sink transistor has become weak: well under light load, it gives way near the rated current"
    return f"there is a series resistance of about {max(slope, first):.0f} ohm in it, a bond or the metal"


def _slope(a: Point, b: Point) -> float:
    run = value(b.amperes) - value(a.amperes)
    return (value(b.volts) - value(a.volts)) / run if run > 1e-6 else 0.0


def judge_headroom(part: Part, line: Line, limits: FamilyLimits) -> Finding | None:
    """A sink whose level is lost (beyond VIL) just above its rated current is about to go."""
    amperes = rated(limits, True)
    if not line.up or not line.points or not amperes:
        return None
    ordered = sorted(line.points, key=lambda p: value(p.amperes))
    inside = [p for p in ordered if value(p.volts) <= limits.vil.value]
    outside = [p for p in ordered if value(p.volts) > limits.vil.value]
    if not inside or not outside:
        return None                          # never lost within the load points, or lost from the start (judged elsewhere)
    a, b = inside[-1], outside[0]
    share = (limits.vil.value - value(a.volts)) / (value(b.volts) - value(a.volts))
    lost_at = value(a.amperes) + share * (value(b.amperes) - value(a.amperes))
    if lost_at >= ENOUGH_HEADROOM * amperes:
        return None
    return Finding("VOL", Outcome.ODD, f"{pin_name(part, line.pin)} loses its low level at {in_amperes(lost_at)}, hardly more than the "
                   f"{in_amperes(amperes)} it is rated for", line.pin, Quantity(lost_at, 0.0, "A"), amperes, "min",
                   lost_at - amperes, state="headroom", weight=35)


def judge_sisters(part: Part, lines: Sequence[Line]) -> dict[int, Finding]:
    """Outputs that sag much more than the other outputs of the same kind on the same chip: pin -> finding.

    Robust: median and median absolute deviation of the sag, at each load point.
    """
    found: dict[int, Finding] = {}
    for group in _kinds(part, lines).values():
        for name in {p.name for line in group for p in line.points}:
            here = [(line, p) for line in group if (p := line.at(name)) is not None]
            if len(here) >= SISTERS:
                for line, finding in _outliers(part, name, here):
                    if line.pin not in found or finding.weight > found[line.pin].weight:
                        found[line.pin] = finding
    return found


def _kinds(part: Part, lines: Sequence[Line]) -> Mapping[object, list[Line]]:
    kinds: dict[object, list[Line]] = {}
    for line in lines:
        limits = part.limits[line.pin]
        kinds.setdefault((line.up, part.pin(line.pin).role, limits.vol, limits.voh), []).append(line)
    return kinds


def _outliers(part: Part, point: str, here: Sequence[tuple[Line, Point]]) -> list[tuple[Line, Finding]]:
    up = here[0][0].up
    volts = [value(p.volts) for _, p in here]
    middle = median(volts)
    mad = 1.4826 * median(abs(v - middle) for v in volts)
    bases = [value(line.unloaded) for line, _ in here if line.unloaded is not None]
    sag = abs(middle - median(bases)) if bases else 0.0
    far = max(FAR_MADS * mad, FAR_LOW_V if up else FAR_HIGH_V, FAR_SHARE * sag)
    out = []
    for (line, p), v in zip(here, volts, strict=True):
        worse = v - middle if up else middle - v
        if worse > far:
            words = (f"{pin_name(part, line.pin)} is unlike its sister outputs: {in_volts(v)} under the {point} load "
                     f"({in_amperes(value(p.amperes))}), the others {in_volts(middle)}")
            out.append((line, Finding("VOL" if up else "VOH", Outcome.ODD, words, line.pin, Model.quantity(p.volts, "V"),
                                      at=Model.quantity(p.amperes, "A"), state="sisters", typical=middle,
                                      weight=30 + min(worse, 4.0))))
    return out
