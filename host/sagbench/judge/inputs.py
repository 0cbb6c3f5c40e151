"""Input currents against the family's limits: leaky inputs, and inputs that deliver too much or nothing.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Mapping
from statistics import median

from sagbench.judge.limits import between_makers, in_amperes, in_volts, outcome, pin_name, resolvable, weight
from sagbench.judge.rule import margin
from sagbench.parts.model import Part, Role
from sagbench.record import Finding, Outcome, Quantity

_STEM = re.compile(r"\d+")  # what numbers the inputs of a row
SISTERS = 4  # fewer inputs of a kind cannot outvote one
FAR_MADS = 8.0  # so many robust standard deviations from the others,
UNLIKE = (  # figure, and so far at least, absolutely and as a share of the others'
    ("IIL", 50e-6, 0.5),
    ("IOZL", 50e-6, 0.2),  # a bidirectional pin's, which delivers its IIL: two of them that leak to each other, one pulled high
    ("VT+", 0.3, 0.1),
    ("VT-", 0.3, 0.1),
    ("VIK", 0.3, 0.3),
)
ALIVE_SHARE = 0.1  # of IIL's limit: an input that delivers so much is connected, clamp diode or not


def judge_input(part: Part, pin: int, high: Quantity | None, low: Quantity | None) -> list[Finding]:
    """Findings on one input; a limit finer than the fixture's uncertainty gives none unless it is surely missed."""
    limits, which = part.limits[pin], part.pin(pin)
    out = []
    for name, amperes, limit, loads in (
        ("IIH", high, limits.iih, which.high_unit_loads),
        ("IIL", low, limits.iil, which.low_unit_loads),
    ):
        bound = limit.value * loads
        if amperes is None:
            continue
        what = outcome(amperes, bound, limit.kind)
        if what is Outcome.UNSURE and not resolvable(amperes, bound):
            continue
        level = "high" if name == "IIH" else "low"
        text = f"{pin_name(part, pin)} takes {in_amperes(amperes.value)} when {level}; the limit is {in_amperes(bound)}"
        if name == "IIL":
            delivered = in_amperes(-amperes.value)
            text = f"{pin_name(part, pin)} delivers {delivered} when low; the limit is {in_amperes(-bound)}"
        if what is Outcome.BEYOND:
            text += ": a leaky input"
        elif what is Outcome.WITHIN and (makers := between_makers(amperes, limit, loads)):
            text = f"{text.partition(';')[0]}; {makers}"  # another make's input stage: a load to reckon with, no symptom
        out.append(
            Finding(
                name,
                what,
                text,
                pin,
                amperes,
                bound,
                limit.kind,
                margin(amperes, bound, limit.kind),
                source=limit.source,
                weight=weight(name, what, amperes, bound, limit.kind),
            )
        )
    return out


def judge_sisters(part: Part, record: Mapping[int, Mapping[str, Quantity]]) -> dict[int, list[Finding]]:
    """Inputs that draw or switch quite unlike the other inputs of the same kind on the same chip: pin -> findings.

    record: pin -> figures by name (IIL, VT+ ...).  Robust, as for outputs: median and median absolute deviation.
    """
    kinds: dict[object, list[int]] = {}
    for pin in part.inputs:
        if pin.number in record and pin.number in part.limits:
            key = (pin.role, pin.clock, pin.schmitt, pin.low_unit_loads, pin.high_unit_loads, _control(part, pin.name))
            kinds.setdefault(key, []).append(pin.number)
    found: dict[int, list[Finding]] = {}
    for pins in kinds.values():
        for name, least, share in UNLIKE:
            values = {p: record[p][name] for p in pins if name in record[p]}
            for p, finding in _unlike(part, name, values, least, share):
                found.setdefault(p, []).append(finding)
    return found


def _control(part: Part, name: str) -> str:
    """The name of an input that stands alone beside a row of data inputs (C and OC beside 1D to 8D), which may be built
    otherwise: enables of latches have hysteresis (data books). Empty for all others."""
    stems = Counter(_STEM.sub("", p.name) for p in part.inputs)
    return name if stems[_STEM.sub("", name)] == 1 and max(stems.values()) >= SISTERS else ""


def _unlike(
    part: Part, name: str, values: Mapping[int, Quantity], least: float, share: float
) -> list[tuple[int, Finding]]:
    if len(values) < SISTERS:
        return []
    middle = median(q.value for q in values.values())
    mad = 1.4826 * median(abs(q.value - middle) for q in values.values())
    far = max(FAR_MADS * mad, least, share * abs(middle))
    out = []
    for p, q in values.items():
        if abs(q.value - middle) > max(far, q.u):
            words = in_amperes if q.unit == "A" else in_volts
            does = {"IIL": "delivers", "IOZL": "delivers", "VIK": "holds"}.get(name, "switches at")
            mine, others = (words(-x if name in ("IIL", "IOZL") else x) for x in (q.value, middle))
            if name == "VIK":
                others += ": its clamp is damaged, or there is a resistance before it"
            sentence = f"{pin_name(part, p)} is unlike its sister inputs: it {does} {mine}, the others {others}"
            out.append((p, Finding(name, Outcome.ODD, sentence, p, q, state="sisters", typical=middle, weight=28.0)))
    return out


def out_of_reach(
    part: Part, record: Mapping[int, Mapping[str, Quantity]], untold: Collection[int] = ()
) -> dict[int, Finding]:
    """Inputs whose threshold was not found though those of most others of their kind were: pin -> finding.

    untold: pins whose threshold was not looked for, for no output tells how they are read.
    """
    kinds: dict[object, list[int]] = {}
    for pin in part.of_role(Role.INPUT):
        if "IIH" in record.get(pin.number, {}):
            kinds.setdefault((pin.clock, pin.schmitt, pin.low_unit_loads, pin.high_unit_loads), []).append(pin.number)
    found = {}
    for pins in kinds.values():
        lost = [p for p in pins if not {"VT+", "VT-"} & set(record[p]) and p not in untold]
        if len(pins) - len(lost) >= SISTERS - 1 and 0 < len(lost) <= len(pins) / 4:
            for p in lost:
                sentence = (
                    f"{pin_name(part, p)}: its threshold was not found within the reach of the level drive, "
                    "though those of its sister inputs were"
                )
                found[p] = Finding("VT+", Outcome.NOT_MEASURED, sentence, p)
    return found


def off_scale(part: Part, pin: int) -> Finding:
    """An input whose current when low could not be measured though others' could."""
    return Finding(
        "IIL", Outcome.NOT_MEASURED, f"{pin_name(part, pin)}: its current when low was not measured: it is off the scale", pin
    )


def too_fine(part: Part, currents: Mapping[int, Quantity]) -> str:
    """One sentence if this family's input leakage limit is below what the fixture resolves; else empty."""
    fine = [
        (q.u, part.limits[pin].iih.value)
        for pin, q in currents.items()
        if not resolvable(q, part.limits[pin].iih.value)
    ]
    if not fine:
        return ""
    u, limit = max(fine)
    return f"input leakage finer than {in_amperes(u)} (the limit is {in_amperes(limit)})"


def is_alive(part: Part, pin: int, low: Quantity | None) -> bool:
    """True if a bipolar input delivers current though it shows no clamp diode: early TTL had none (common practice)."""
    bound = part.limits[pin].iil.value
    return low is not None and part.limits[pin].technology == "ttl" and low.value + low.u < ALIVE_SHARE * bound
