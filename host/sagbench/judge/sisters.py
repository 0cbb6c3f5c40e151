"""Outputs beside the other outputs of their kind on the same chip.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median

from sagbench.judge.limits import in_amperes, in_volts, pin_name, under_load
from sagbench.judge.traits import HARD
from sagbench.measure.line import Line, Point
from sagbench.measure.model import K, Model
from sagbench.measure.uncertain import Uncertain, linear, standard, value
from sagbench.parts.model import Part
from sagbench.plan.loads import EXACT, rated
from sagbench.record import Finding, Outcome

SISTERS = 3  # fewer outputs of a kind cannot outvote one
FAR_MADS = 8.0  # so many robust standard deviations from the sisters is out of character,
FAR_LOW_V = 0.05  # and at least so far for a low level,
FAR_HIGH_V = 0.25  # or for a high one: VBE and pull-up resistors of one chip spread more
FAR_SHARE = 0.35  # and by at least so much of the sisters' own sag
SHORT_V, SHORT_SHARE = 0.015, 0.2  # less of both is out of character where the loads do not reach what the output is rated for


def judge_sisters(part: Part, lines: Sequence[Line]) -> dict[int, Finding]:
    """Outputs that sag much more than the other outputs of the same kind on the same chip: pin -> finding.

    Robust: median and median absolute deviation of the sag, at each load point; out of character is what is further from the
    median than its like may be by more than the difference's own U.  What all readings share cancels in it; each pin's resistors,
    and its channel under a load through the multiplexers, do not.  Where the loads do not reach the rated current, the heaviest
    that is read without the multiplexers is looked at more closely: a sink whose gain is lost just beyond saturates less there
    than its sisters, by more than U of some millivolts.  Nor is one unlike them by how far beyond its rating its
    gain ends: see `_holds_enough`.
    """
    found: dict[int, Finding] = {}
    for group in _kinds(part, lines).values():
        closely = _heaviest_short_of_rating(part, group)
        for name in {p.name for line in group for p in line.points}:
            here = [(line, p) for line in group if (p := line.at(name)) is not None]
            if len(here) >= SISTERS:
                for line, finding in _outliers(part, name, here, name == closely):
                    if line.pin not in found or finding.weight > found[line.pin].weight:
                        found[line.pin] = finding
    return found


def _holds_enough(part: Part, line: Line, point: Point) -> bool:
    """True for a sink that still holds HARD times its rating, at a load at which a sound one may have no gain left (`plan.loads.TWICE`).

    Such sinks have a point of the calibration reference.
    """
    return line.up and line.at(EXACT) is not None and value(point.amperes) > HARD * rated(part.limits[line.pin], True)


def _kinds(part: Part, lines: Sequence[Line]) -> Mapping[object, list[Line]]:
    kinds: dict[object, list[Line]] = {}
    for line in lines:
        limits = part.limits[line.pin]
        kinds.setdefault((line.up, part.pin(line.pin).role, limits.vol, limits.voh), []).append(line)
    return kinds


def _heaviest_short_of_rating(part: Part, group: Sequence[Line]) -> str:
    """Name of the heaviest surely read load of low levels that are rated for more than that; else empty."""
    surely = [p for line in group if line.up for p in line.points if standard(p.volts) < SHORT_V]
    heaviest = max(surely, key=lambda p: value(p.amperes), default=None)
    return heaviest.name if heaviest and value(heaviest.amperes) < rated(part.limits[group[0].pin], True) else ""


def _outliers(part: Part, point: str, here: Sequence[tuple[Line, Point]], closely: bool) -> list[tuple[Line, Finding]]:
    up = here[0][0].up
    volts = [value(p.volts) for _, p in here]
    middle = median(volts)
    mad = 1.4826 * median(abs(v - middle) for v in volts)
    bases = [value(line.unloaded) for line, _ in here if line.unloaded is not None]
    sag = abs(middle - median(bases)) if bases else 0.0
    far = max(FAR_MADS * mad, FAR_LOW_V if up else FAR_HIGH_V, FAR_SHARE * sag)
    if closely:
        far = max(FAR_MADS * mad, SHORT_V, SHORT_SHARE * sag)
    out = []
    for (line, p), v in zip(here, volts, strict=True):
        worse = v - middle if up else middle - v
        if worse <= far or _holds_enough(part, line, p):
            continue
        doubt = K * standard(_from_the_middle(p, [q for _, q in here]))
        if worse > (max(far, doubt) if closely else far + doubt):
            wanted = rated(part.limits[line.pin], True)
            words = (
                f"{pin_name(part, line.pin)} is unlike its sister outputs: {in_volts(v)} {under_load(point)} "
                f"({in_amperes(value(p.amperes))}), the others {in_volts(middle)}"
                f"{f'; {in_amperes(wanted)}, which it is rated for, no load reaches' if closely else ''}"
            )
            out.append(
                (
                    line,
                    Finding(
                        "VOL" if up else "VOH",
                        Outcome.ODD,
                        words,
                        line.pin,
                        Model.quantity(p.volts, "V"),
                        at=Model.quantity(p.amperes, "A"),
                        state="sisters",
                        typical=middle,
                        weight=30 + min(worse, 4.0),
                    ),
                )
            )
    return out


def _from_the_middle(point: Point, all_of_them: Sequence[Point]) -> Uncertain:
    """Volts of one less the median of all, whose one or two points are those in the middle."""
    ordered = sorted((p.volts for p in all_of_them), key=value)
    lower, upper = ordered[(len(ordered) - 1) // 2], ordered[len(ordered) // 2]
    return linear(0.0, (1.0, point.volts), (-0.5, lower), (-0.5, upper))
