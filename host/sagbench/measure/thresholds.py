"""An input's threshold from a ramp: the voltage at the pin at the moment its output answered.

What is read is K some tenths of a millisecond later, when the level has moved on, and behind the multiplexer's channel.

    pin = K - I Ron, I = (VDAC - K) / (level resistor + channel of the selector), less what the level moved meanwhile

The level is the PWM's code through two RC stages (10 kohm, 100 nF each, the second loading the first, before a buffer):
time constants of 2.618 and 0.382 RC.  Near its threshold a bipolar input gives up its current, and its pin moves more
slowly than the level does: by how much is not known, and enters the uncertainty.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp

from sagbench.measure.inputs import Figure
from sagbench.measure.model import Model
from sagbench.measure.uncertain import Number, uncertain, value
from sagbench.plan.recipe import Reading
from sagbench.plan.level import FAST, SLOW, rc_us

FIRST_SAMPLE_US = (
    25.0,
    25.0,
)  # from the answer to K's first sample: mean and standard deviation, with turns of the loop
CONVERSION_US = 104.0
SLUGGISH, PROMPT = (0.5, 0.3), (1.0, 0.05)  # share of the level's motion that a pin makes, and its standard deviation
RC_SHARE = 0.05  # standard deviation of the filter's time constants: 5 % resistors, 10 % capacitors


@dataclass(frozen=True)
class Ramp:
    """What one ramp gave. `from_v`: the level before it was set to its first code, in volts, `settle_us` before the ramp;
    `step_us` for each code."""

    code: Reading
    k: Reading
    vdac: Reading
    first_code: int
    step_us: int
    settle_us: int
    from_v: float = 0.0


def slope(model: Model, ramp: Ramp) -> float:
    """Volts per second of the level when its code had come to `ramp.code`; best estimate, signed."""
    rc = rc_us(model.fixture)
    fast, slow = FAST * rc, SLOW * rc
    lsb = value(model.rail) / model.fixture.full_scale
    moved = (ramp.code.total or 0) - ramp.first_code
    t = abs(moved) * ramp.step_us
    steady = (lsb / ramp.step_us) * (1 - (slow * exp(-t / slow) - fast * exp(-t / fast)) / (slow - fast))
    settling = (ramp.first_code * lsb - ramp.from_v) * (exp(-(t + ramp.settle_us) / slow) - exp(-(t + ramp.settle_us) / fast))
    return ((1 if ramp.k.mark.up else -1) * steady + settling / (slow - fast)) * 1e6


def threshold(model: Model, ramp: Ramp, ground: Number, sluggish: bool) -> Figure | None:
    """VT+ or VT-, volts against the chip's ground pin; None if nothing answered or the converter was at its top.

    sluggish: a plain bipolar input, which gives up its current just there.
    """
    if None in (ramp.code.total, ramp.k.total, ramp.vdac.total) or model.saturated(ramp.k):
        return None
    n = ramp.k.mark.repeats
    rate = slope(model, ramp)
    late = (FIRST_SAMPLE_US[0] + (n - 1) / 2 * CONVERSION_US) * 1e-6
    later = (n + 0.5) * CONVERSION_US * 1e-6  # from the middle of K's conversions to that of VDAC's, a switch between
    at_k = model.volts(ramp.k)
    slower = model.parts.get("level filter", 0.0, RC_SHARE)
    at_level = model.volts(ramp.vdac) - rate * later * (1.0 + 2.0 * slower)
    # One share of the level's motion that the pin makes for both directions: in a hysteresis its doubt counts twice.
    position = ramp.k.mark.position
    follows = model.parts.get(f"level's motion at position {position}", *(SLUGGISH if sluggish else PROMPT))
    answered = uncertain(0.0, abs(rate) * FIRST_SAMPLE_US[1] * 1e-6, "level's motion")
    at_pin, amperes = model.on_level(position, at_k, at_level)
    volts = at_pin - ground - rate * late * (follows + slower) - answered
    return Figure(volts, Model.quantity(amperes, "A"), "measured there")
