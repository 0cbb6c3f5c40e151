"""Whether a calibration is of the fixture that is used: what the contact check reads anyway against what it says.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from statistics import median

from sagbench.measure.model import Model
from sagbench.measure.uncertain import standard, value
from sagbench.plan.recipe import Reading

# Standard uncertainties.  Of eight simulated fixtures each has 0.5 to 1.2 with its own calibration, at any stage; with those of the
# others 3 to 28, more than this in 54 of 56 pairs: the rest are so alike that little is wrong.
MOST_U = 4.0


def strangeness(model: Model, channels: Sequence[Reading]) -> float:
    """By how many standard uncertainties half of the multiplexer channels, or more, differ from their calibration.

    channels: the dividers of `plan.contact.channels`, before `Model.learn_channels` has taken them.  The temperature of both
    days is in the uncertainty.  A median, for single pins of a bad chip may be shorted or leak; 0.0 if no channel is
    calibrated.
    """
    away = []
    for reading in channels:
        if f"channel[{reading.mark.position}]" in model.priors.known and reading.code and not model.saturated(reading):
            ohms, level = model.channel_ohm(reading)
            off = ohms - model.ron(reading.mark.position, level)
            away.append(abs(value(off)) / standard(off))
    return median(away) if away else 0.0
