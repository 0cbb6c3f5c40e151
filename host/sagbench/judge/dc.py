"""The further figures of the DC set against their limits: thresholds, clamp voltage, short-circuit current.

Limits: VIL and VIH of the input for its thresholds (an input must read low at VIL and high at VIH, so its threshold
lies between), the family's `[further]` table for the rest.  CMOS levels that the table has `at` a supply go with the
supply: 3.15 V at 4.5 V and 4.2 V at 6 V (HC data books) is 70 % of it at 4.9 V too.  Figures without a limit (output resistance, noise
margins, the load at which a level is left) are kept in the record and judged by none.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from statistics import median
from typing import Any

from sagbench.judge.limits import in_amperes, in_volts, outcome, pin_name, weight
from sagbench.judge.rule import DEFAULT, Rule, margin
from sagbench.judge.traits import OWN, is_bus
from sagbench.measure.line import How
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import FamilyLimits, Limit, Part, Role
from sagbench.parts.ratings import table
from sagbench.record import Finding, Measured, Outcome, Quantity

EXTRAPOLATED_FACTOR = 1.6  # of IOS, prolonged from half of it or less; a sound 74F11 was told 39 mA where it delivers 60
PLAIN_VH_V = 0.3  # more is the hysteresis of a Schmitt trigger, or of a bus driver's inputs; plain ones have some 50 mV
EXTRAPOLATED_V = 0.5  # of VIK, prolonged from 5 mA to 18 mA
ALIKE = 0.15  # pins whose prolonged IOS differs by less are alike: a fault strikes one output, the law they were prolonged by all
NAMES = ("VT+", "VT-", "VH", "VIK", "IOS")


def judge(part: Part, figures: Iterable[Measured], supply_v: float | None = None) -> dict[int, list[Finding]]:
    """Findings by pin. supply_v: volts at the chip's own pins; None: limits as the data book has them at its own supply."""
    found: dict[int, list[Finding]] = {}
    doubtful: set[Finding] = set()
    known = [m for m in figures if m.pin in part.limits and m.name in NAMES]
    both = {m.pin for m in known if m.name == "VT+"} & {m.pin for m in known if m.name == "VT-"}
    for m in known:
        further: dict[str, Any] = table(part.limits[m.pin].family or PLAIN).get("further", {})
        for name, limit, kind, source in _limits(part, m, m.pin in both, further, supply_v):
            finding = _finding(part, m, name, limit, kind, source)
            found.setdefault(m.pin, []).append(finding)
            if finding.outcome is Outcome.UNSURE and finding.weight and m.how == How.BEYOND:
                doubtful.add(finding)
    alike = {f for f in doubtful if _is_of_all(f, known)}
    return {pin: [replace(f, weight=0.0) if f in alike else f for f in some] for pin, some in found.items()}


def without_limit(part: Part, figures: Iterable[Measured]) -> str:
    """One sentence if outputs' IOS is told and held against no limit: ALS and AS have none, bus drivers another; else empty."""
    free = [
        m for m in figures if m.name == "IOS" and m.pin in part.limits
        and ("ios_ma" not in table(part.limits[m.pin].family or PLAIN).get("further", {})
             or is_bus(part, m.pin) or part.pin(m.pin).role is not Role.OUTPUT)
    ]
    if not free:
        return ""
    size = sorted(abs(m.value.value) for m in free)
    least, most = in_amperes(size[0]), in_amperes(size[-1])
    who = f"{pin_name(part, free[0].pin)} delivers" if len(free) == 1 else f"{len(free)} of its outputs deliver"
    return f"{who} {least if least == most else f'{least} to {most}'} when shorted to ground (IOS); no limit is known here"


def _is_of_all(finding: Finding, figures: Iterable[Measured]) -> bool:
    """True if a doubtful, prolonged IOS says nothing of its output: it is more than it should be, for a pull-up gives way
    more than it was prolonged by, or a little less, as that of all others."""
    if finding.quantity != "IOS" or finding.value is None or finding.limit is None:
        return False
    if finding.limit_kind == "min":
        return True
    others = [m.value.value for m in figures if m.name == "IOS" and m.pin != finding.pin]
    value, middle = finding.value.value, median(others or [0.0])
    return abs(value - middle) <= ALIKE * abs(middle) and value - finding.limit <= ALIKE * abs(finding.limit)


def _limits(
    part: Part, m: Measured, both: bool, further: dict[str, Any], supply_v: float | None
) -> Iterator[tuple[str, float, str, str]]:
    """(name, limit, kind, source) of each bound that holds for this figure."""
    pin, limits = part.pin(m.pin), part.limits[m.pin]
    of_family = further.get("schmitt_v") if part.silicon != OWN else None
    schmitt = (limits.schmitt_v or of_family) if pin.schmitt else None
    if m.name in ("VT+", "VT-") and pin.schmitt:
        if schmitt:
            low, high = schmitt["up" if m.name == "VT+" else "down"]
            yield m.name, high, "max", schmitt["source"]
            yield m.name, low, "min", schmitt["source"]
    elif m.name in ("VT+", "VT-"):
        low, high = _levels(part, limits, supply_v)
        if m.name == "VT+" or not both:
            yield m.name, high.value, "max", high.source
        if m.name == "VT-" or not both:
            yield m.name, low.value, "min", low.source
    elif m.name == "VH" and not pin.schmitt and not any(is_bus(part, p.number) for p in part.outputs):
        yield "VH", PLAIN_VH_V, "max", "memory"
    elif m.name == "VH" and schmitt:
        yield "VH", schmitt["between"], "min", schmitt["source"]
    elif m.name == "VIK" and "vik_v" in further:
        yield "VIK", further["vik_v"]["min"], "min", further["vik_v"]["source"]
    elif m.name == "IOS" and "ios_ma" in further and pin.role is Role.OUTPUT and not is_bus(part, m.pin):
        yield "IOS", further["ios_ma"]["max"] * 1e-3, "max", further["ios_ma"]["source"]
        yield "IOS", further["ios_ma"]["min"] * 1e-3, "min", further["ios_ma"]["source"]


def _levels(part: Part, limits: FamilyLimits, supply_v: float | None) -> tuple[Limit, Limit]:
    """VIL and VIH of an input. Unbuffered 4000 types have 20 % and 80 % of the supply, others 30 % and 70 %."""
    low, high = limits.vil, limits.vih
    if limits.family == "4000B" and part.name.endswith("UB"):
        low, high = Limit(1.0, "memory", "max"), Limit(4.0, "memory", "min")
    at = table(limits.family or PLAIN)["input"]["vih"].get("at")
    if not at or not supply_v:
        return low, high
    return replace(low, value=low.value * supply_v / at), replace(high, value=high.value * supply_v / at)


def _finding(part: Part, m: Measured, name: str, limit: float, kind: str, source: str) -> Finding:
    what, matters = by_rule(m, limit, kind)
    text = f"{pin_name(part, m.pin)}{_lead(m)}"
    side = ("at most" if kind == "max" else "at least") if m.value.unit == "V" else ("at least" if kind == "max" else "at most")
    must = _size(m.value, limit)
    if what is Outcome.BEYOND:
        text += f"; it must be {side} {must}{_why(name, kind)}"
    elif what is Outcome.UNSURE:
        text += f"; that is too near the limit of {must} to tell{', extrapolated as it is' if m.how == How.BEYOND else ''}"
    else:
        text += f"; the limit is {side} {must}"
    return Finding(
        name,
        what,
        text,
        m.pin,
        m.value,
        limit,
        kind,
        margin(m.value, limit, kind),
        m.at,
        state=m.state if name in ("VIK",) else "",
        source=source,
        weight=matters,
    )


def by_rule(m: Measured, limit: float, kind: str, rule: Rule = DEFAULT) -> tuple[Outcome, float]:
    """Outcome and weight of a figure by a decision rule.

    What its own uncertainty leaves open is told, but an extrapolated figure keeps no verdict back by that; and what its
    extrapolation leaves open no rule makes surer.
    """
    what = rule.outcome(m.value, limit, kind)
    if what is Outcome.BEYOND and outcome(_doubted(m, kind), limit, kind) is not Outcome.BEYOND and m.how == How.BEYOND:
        what = Outcome.UNSURE
    own_doubt = what is Outcome.UNSURE and m.how == How.BEYOND and outcome(m.value, limit, kind) is not Outcome.BEYOND
    return what, 0.0 if own_doubt else weight(m.name, what, m.value, limit, kind)


def _doubted(m: Measured, kind: str) -> Quantity:
    """The figure with the doubt of its extrapolation: a pull-up that saturates, or a clamp whose own resistance the
    points below do not show, goes another way than the law it was prolonged along."""
    if m.how != How.BEYOND:
        return m.value
    share = EXTRAPOLATED_FACTOR - 1 if kind == "max" else 1 - 1 / EXTRAPOLATED_FACTOR  # "max": at least so much is delivered
    doubt = share * abs(m.value.value) if m.name == "IOS" else EXTRAPOLATED_V
    return replace(m.value, u=max(m.value.u, doubt))


def _lead(m: Measured) -> str:
    size = _size(m.value, m.value.value)
    if m.name == "VIK":
        return f"'s clamp diode holds {size}"
    if m.name == "IOS":
        return f" delivers {size} when shorted to ground"
    if m.name == "VH":
        return f" has a hysteresis of {size}"
    return f" switches at {size}{' rising' if m.name == 'VT+' else ' falling'}"


def _size(like: Quantity, number: float) -> str:
    """Currents without their sign: words say which way they flow."""
    return in_amperes(abs(number)) if like.unit == "A" else in_volts(number)


def _why(name: str, kind: str) -> str:
    if name == "IOS":
        return ": its pull-up has become weak" if kind == "max" else ": its pull-up's resistor has changed or is bridged"
    if name == "VIK":
        return ": its clamp diode is damaged or its way to it has a resistance"
    if name == "VH" and kind == "max":
        return ": its inputs are those of a Schmitt trigger, another part"
    return ": its threshold has shifted" if name in ("VT+", "VT-") else ""
