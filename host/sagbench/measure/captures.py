"""An input's threshold from trials: levels that were clocked in, some of them read as low and some as high.

    pin = K - I Ron, I = (VDAC - K) / (level resistor + channel of the selector)

Nothing moves while it is read, so no lag enters; but the chip's own ground is not seen at the moment of the clock.  The
threshold lies anywhere between the highest level that was read as low and the lowest that was read as high: evenly
spread, half of the distance over the root of three.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from sagbench.measure.inputs import Figure
from sagbench.measure.model import Model
from sagbench.measure.uncertain import Uncertain, uncertain, value
from sagbench.plan.recipe import Reading


CLOCKED_V = 0.006  # some milliamperes that change at the clock, through the ohm of ground switch, socket and bond wire
CROSSED_V = 0.015  # near the threshold an input's current holds its volts almost still: trials may cross by their noise and that of ground


@dataclass(frozen=True)
class Trial:
    """One level: volts at the pin, the current into it, and how it was read."""

    volts: Uncertain
    amperes: Uncertain
    as_high: bool


def trial(model: Model, k: Reading, vdac: Reading, ground: Reading, as_high: bool) -> Trial | None:
    """From the readings of one trial; None if one of them was not made or was at the converter's top."""
    if any(r.total is None or model.saturated(r) for r in (k, vdac, ground)):
        return None
    at_pin, amperes = model.on_level(k.mark.position, model.volts(k), model.volts(vdac))
    return Trial(at_pin - model.pin_volts(ground), amperes, as_high)


def threshold(trials: Sequence[Trial]) -> Figure | None:
    """VT in volts against the chip's ground pin; None if all trials were read alike, or contradict each other by more than
    their noise."""
    lows, highs = ([t for t in trials if t.as_high is high] for high in (False, True))
    if not lows or not highs:
        return None
    below, above = max(lows, key=lambda t: value(t.volts)), min(highs, key=lambda t: value(t.volts))
    gap = value(above.volts) - value(below.volts)
    if gap < -CROSSED_V:
        return None
    volts = (
        (below.volts + above.volts) / 2
        + uncertain(0.0, abs(gap) / 2 / sqrt(3), "between two trials")
        + uncertain(0.0, CLOCKED_V, "ground while it is clocked in")
    )
    return Figure(volts, Model.quantity((below.amperes + above.amperes) / 2, "A"), "between two levels")
