"""Input currents against the family's limits: leaky inputs, and inputs that deliver too much or nothing.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping

from sagbench.judge.limits import in_amperes, outcome, pin_name, resolvable, weight
from sagbench.judge.rule import margin
from sagbench.parts.model import Part
from sagbench.record import Finding, Outcome, Quantity

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
