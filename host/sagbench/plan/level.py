"""The level drive's pace: PWM, two RC stages (the second loads the first), a buffer. How long a change of level takes.

Time constants of two equal stages are 2.618 and 0.382 of one stage's RC (textbook); what is left of a change goes with the
slow one, 1.17 times as much as of a single stage.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from math import ceil, log, sqrt

from sagbench.plan.fixture import Fixture

FAST, SLOW = (3 - sqrt(5)) / 2, (3 + sqrt(5)) / 2  # time constants, of RC
SPREAD = 1.15  # resistors of 5 %, capacitors of 10 % (wiring file), both at their worst


def rc_us(fixture: Fixture) -> float:
    """One stage's RC in microseconds, nominal."""
    stage = fixture.raw["level_filter"]
    return float(stage["ohm"] * stage["nf"] * 1e-3)


def volts_of(fixture: Fixture, code: int) -> float:
    """The level that a code stands for, nominal."""
    return float(code * fixture.raw["supply"]["nominal_v"] / fixture.full_scale)


def settle_us(fixture: Fixture, change_v: float, near_v: float) -> int:
    """Microseconds after which the level is within near_v of where its code puts it, change_v from where it was."""
    left = SLOW / (SLOW - FAST) * abs(change_v) / near_v
    return ceil(SPREAD * SLOW * rc_us(fixture) * log(left)) if left > 1 else 0
