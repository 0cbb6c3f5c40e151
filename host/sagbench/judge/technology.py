"""Bipolar or CMOS, before any output is loaded: a channel may not deliver what a bipolar output shorted to ground does.

Two signs that need no load (common practice): a channel reaches its rail without load, where a bipolar high level
stays half a volt and more below the supply; and a CMOS chip at rest draws next to nothing, where the thriftiest
bipolar gates (74L, ALS) draw half a milliampere in their worse state.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Collection
from statistics import median

from sagbench.judge.logic import Answer
from sagbench.judge.supply import usual
from sagbench.parts.model import Expect, Part, Role
from sagbench.record import Quantity

RAIL_V = 0.25  # a high level without load that is nearer to the supply is a channel's,
BELOW_V = 0.45  # and one that is farther from it a bipolar output's
NEXT_TO_NOTHING_A = 0.2e-3
SURELY_SOMETHING_A = 0.3e-3
AS_MARKED, AT_LEAST_A = 0.5, 4e-3  # so much of what is usual for the marked part, and that, no CMOS chip draws at rest
HIGH_V = 2.0
TTL, CMOS = "ttl", "cmos"  # as the part files call them


def marked(part: Part) -> str:
    """What the marking says."""
    return TTL if any(limits.technology == TTL for limits in part.limits.values()) else CMOS


def technology(part: Part, unloaded: Collection[Answer], supply: float, icc: Collection[Quantity]) -> str:
    """What the silicon is: TTL or CMOS; what is marked, if nothing speaks against it.

    unloaded: answers without load, volts; supply: volts at the chip; icc: amperes in its static states.
    """
    says = marked(part)
    highs: dict[int, float] = {}
    for a in unloaded:
        if a.volts is not None and a.volts > HIGH_V and a.expect is not Expect.OFF and part.pin(a.pin).role is not Role.OPEN_COLLECTOR:
            highs[a.pin] = max(a.volts, highs.get(a.pin, 0.0))
    below = median(supply - v for v in highs.values()) if highs else None
    quiet = bool(icc) and max(q.value + q.u for q in icc) < NEXT_TO_NOTHING_A
    most = max((usual(state) or 0.0 for state in part.supply_states), default=0.0)
    # Resistors that pull outputs up reach the rail as a channel does (segment drivers: 7448, BI/RBO of a 7447; data books).
    resistors = any(part.is_pulled_up(p.number) for p in part.pins)
    fed = resistors and most > AT_LEAST_A and bool(icc) and max(q.value - q.u for q in icc) > AS_MARKED * most
    if says == TTL and (quiet or below is not None and below < RAIL_V and not fed):
        return CMOS
    hungry = bool(icc) and max(q.value - q.u for q in icc) > SURELY_SOMETHING_A
    return TTL if hungry and below is not None and below > BELOW_V else says
