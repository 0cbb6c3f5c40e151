# SPDX-License-Identifier: MIT
"""Scales of the load lines: which currents and volts are drawn, and where.

All outputs of a chip have the same scale, so that they can be compared; one that
is far off does not flatten the others, but leaves the drawing at its edge.
"""
from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median_high

from sagbench.record import Finding, LoadReading, PinRecord, SweepRecord
from sagbench.report import view

WIDTH, HEIGHT = 320.0, 214.0
LEFT, RIGHT, TOP, BOTTOM = 44.0, 12.0, 12.0, 38.0
QUANTITY = {"sink": "VOL", "source": "VOH"}
LEAST_TOP_V, ABOVE_LIMIT = 0.9, 2.5      # a low level is drawn so high at least, and up to so many times its limit


@dataclass(frozen=True)
class Scale:
    """Amperes and volts of one direction to places on the drawing."""

    direction: str
    most_amperes: float
    volts: tuple[float, float]
    steps: tuple[float, float]           # between grid lines: amperes, volts

    def x(self, amperes: float) -> float:
        """Place of a current of this direction, whatever its sign."""
        return LEFT + abs(amperes) / self.most_amperes * (WIDTH - LEFT - RIGHT)

    def y(self, volts: float) -> float:
        """Place of a voltage, outside the drawing if it is outside the scale."""
        low, high = self.volts
        return HEIGHT - BOTTOM - (volts - low) / (high - low) * (HEIGHT - TOP - BOTTOM)

    def y_inside(self, volts: float) -> float:
        """Place of a voltage; what is outside the scale is put at its edge."""
        return self.y(min(max(volts, self.volts[0]), self.volts[1]))

    def holds(self, volts: float) -> bool:
        """True if the voltage is within the scale."""
        return self.volts[0] <= volts <= self.volts[1]


def scale_for(record: SweepRecord, direction: str) -> Scale | None:
    """One scale for all outputs of the record; None if nothing was measured in this direction."""
    readings = [r for pin in record.pins for r in readings_of(pin, direction)]
    rated = [f for pin in record.pins for f in rated_points(pin, direction)]
    currents = [abs(r.amperes.value) + r.amperes.u for r in readings] + [abs(f.at.value) for f in rated if f.at]
    levels = [r.volts.value for r in readings] + [f.limit for f in rated if f.limit is not None]
    currents, levels = [c for c in currents if math.isfinite(c)], [v for v in levels if math.isfinite(v)]
    if not readings or not currents or not levels or max(currents) <= 0:
        return None
    step_a = nice_step(max(currents), 6)
    if direction == "sink":
        top = max(min(max(levels), _most_for_many(record, rated)) * 1.15, 0.6)
        low, step_v = 0.0, nice_step(top, 5)
    else:
        unloaded = [pin.high.value for pin in record.pins if pin.high and math.isfinite(pin.high.value)]
        top = max([*levels, *unloaded])
        low = max(0.0, min(levels) - 0.3)
        step_v = nice_step(top - low, 5)
        low = math.floor(low / step_v) * step_v
    high = math.ceil(round(top / step_v, 6)) * step_v
    return Scale(direction, math.ceil(round(max(currents) / step_a, 6)) * step_a, (low, high), (step_a, step_v))


def _most_for_many(record: SweepRecord, rated: list[Finding]) -> float:
    """A low level up to which the drawing reaches for certain: well beyond the limits, and what half of the outputs need."""
    heaviest = [max(r.volts.value for r in found) for pin in record.pins if (found := readings_of(pin, "sink"))]
    return max(LEAST_TOP_V, median_high(heaviest), *(ABOVE_LIMIT * f.limit for f in rated if f.limit is not None))


def nice_step(span: float, most: int) -> float:
    """The smallest of 1, 2, 5 times a power of ten that divides the span in `most` steps or fewer."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return next(power * f for f in (1, 2, 5, 10, 20) if power * f * most >= span * 0.999999)


def rated_points(pin: PinRecord, direction: str) -> list[Finding]:
    """Comparisons at a rated current that can be drawn, light to heavy."""
    found = [f for f in pin.findings if f.quantity == QUANTITY[direction] and view.is_rated(f) and f.at
             and f.at.unit == "A" and math.isfinite(f.at.value)]
    return sorted(found, key=lambda f: abs(f.at.value) if f.at else 0.0)


def readings_of(pin: PinRecord, direction: str) -> list[LoadReading]:
    """Readings of one direction that can be drawn, light to heavy."""
    found = [r for r in pin.loads if r.direction == direction
             and math.isfinite(r.volts.value) and math.isfinite(r.amperes.value)]
    return sorted(found, key=lambda r: abs(r.amperes.value))
