"""Figures of an input: its currents at the test voltages of the data book, and its clamp.

Amperes are positive into the pin, volts against the chip's ground pin.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import log, sqrt
from types import MappingProxyType

from sagbench.measure.model import Model
from sagbench.measure.uncertain import Number, Uncertain, exact, less, linear, negative, uncertain, value
from sagbench.plan.fixture import M_LINE
from sagbench.plan.recipe import Reading, Readings
from sagbench.record import Quantity

LOW_TEST_V = 0.4  # VIL at which data books test IIL (0.5 V in S, F and AS families: within the slope's reach)
HIGH_TEST_V = 2.4  # the lower of the usual test voltages of IIH, 2.4 and 2.7 V
# Volts, and their standard deviation, between supply and what drives a low bipolar input's current through its base
# resistor: a Schottky diode (LS), diode and PNP (ALS, AS, F), a base-emitter junction (the others); data books' schematics.
JUNCTION_V = {"LS": (0.38, 0.06), "ALS": (0.60, 0.10), "AS": (0.60, 0.10), "F": (0.60, 0.10)}
BASE_EMITTER_V = (0.72, 0.08)
APART_V = 0.05  # two points nearer than this say nothing of a leakage: the converter's codes are 1 to 5 mV apart
EVEN = 0.62  # 1 / root of 3: anything from none to twice it; and some more, for a leakage is no part of the resistor's current
LEAK_A = 2e-6  # standard deviation of an input's leakage at 0.4 V that was not looked at (common practice: some microamperes)
STUCK_V = 1.2  # an input that its lines do not bring lower is not low
NONE: Mapping[int, float] = MappingProxyType({})
KT_Q = 0.0259  # volts, 300 K
FLOODED = 0.5  # of a clamp's resistance that may be gone beyond the heaviest point
IDEALITY = (1.02, 0.03)  # of a substrate or Schottky clamp diode; common practice


@dataclass(frozen=True)
class Figure:
    """A figure before it is a `Measured`: number, the current or voltage it holds for, how it came about, the state."""

    number: Uncertain
    at: Quantity
    how: str
    state: str = ""


def drives_from(supply: Number, family: str) -> Uncertain:
    """Volts (against ground) at which a low input of this bipolar family would deliver nothing."""
    return supply - uncertain(*JUNCTION_V.get(family, BASE_EMITTER_V), "input stage")


def more_at_nothing(
    model: Model, readings: Sequence[Reading], ground: Number, above: Uncertain, unheld: Mapping[int, float] = NONE
) -> Uncertain:
    """Amperes by which the supply current would be larger if low bipolar inputs were at 0 V, as data books have it.

    They hang on their lines some tenths of a volt above.  I (V0 - 0) / (V0 - V), whatever inputs share a resistor.
    unheld: positions of inputs that no line brings under their threshold -> the most they may deliver when low, amperes
    (magnitude).  Between what they deliver now and that much all is as likely, and one is as the others.
    """
    more, unknown = exact(0.0), 0.0
    for reading in readings:
        if reading.total is not None and not model.saturated(reading):
            at_pin, amperes = model.point(reading)
            volts = at_pin - ground
            most = unheld.get(reading.mark.position)
            if most is not None:
                unknown += max(0.0, most + value(amperes))
            elif 0 < value(volts) < STUCK_V:
                more = more - amperes * volts / (above - volts)
    return more + uncertain(unknown / 2, unknown / sqrt(12), "inputs that could not be held low")


Held = tuple[Uncertain, Uncertain]  # volts of an input against the chip's ground pin, amperes into it


def held_by_lines(model: Model, readings: Sequence[Reading], ground: Number) -> list[Held]:
    """An input held low by lines or a selector's load, once for each reading that was taken."""
    return [
        (at_pin - ground, amperes + model.leakage(r.mark.position))
        for r in readings
        if r.total is not None and not model.saturated(r)
        for at_pin, amperes in (model.point(r),)
    ]


def held_by_level(model: Model, k: Reading, vdac: Reading, ground: Number) -> list[Held]:
    """An input held by the level drive: at most one."""
    if k.total is None or vdac.total is None or model.saturated(k):
        return []
    at_pin, amperes = model.on_level(k.mark.position, model.volts(k), model.volts(vdac))
    return [(at_pin - ground, amperes + model.leakage(k.mark.position))]


def low_current(points: Sequence[Held], above: Uncertain | None) -> Figure | None:
    """IIL at 0.4 V of a bipolar input, of another at the lowest voltage it was held at; None if not measured.

    above: V0 of a bipolar input (`drives_from`).  From the nearest point I = (V0 - V) / R, along the input's own resistor; a
    leakage beside it shows as what the others deliver more than that.  A junction's has settled within a tenth of a
    volt, a surface's goes on in proportion (both textbook): half of the proportional share is taken, anything
    from none to all is as likely.  With one point only nothing is seen of a leakage, and some may be there.
    """
    if not points:
        return None
    if above is None:
        v, i = min(points, key=lambda p: value(p[0]))
        return Figure(i, Model.quantity(v, "V"), "measured there")
    v, i = min(points, key=lambda p: abs(value(p[0]) - LOW_TEST_V))
    away = LOW_TEST_V - value(v)
    other = max(points, key=lambda p: abs(value(p[0]) - value(v)))
    apart = value(v) - value(other[0])
    if abs(apart) < APART_V:
        more, doubt = exact(0.0), LEAK_A * abs(away) / LOW_TEST_V
    else:
        more = (i - other[1] * (above - v) / (above - other[0])) * (away / apart / 2)
        doubt = abs(value(more)) * EVEN
    amperes = i * (above - LOW_TEST_V) / (above - v) + more + uncertain(0.0, doubt, "leakage's curve")
    between = any((value(p[0]) - LOW_TEST_V) * away >= 0 for p in points)
    how = "interpolated" if between else "corrected along the input's own resistor"
    return Figure(amperes, Quantity(LOW_TEST_V, 0.0, "V"), how)


def high_current(model: Model, finely: Reading | None, coarsely: Reading | None, ground: Number) -> Figure | None:
    """IIH: through the trickle load if that leaves the pin at 2.4 V, else through the weak one; None if not measured.

    A reading at the rail says only that less flows than the converter and the leakages of the fixture hide.
    """
    for reading in (finely, coarsely):
        if reading is None or reading.total is None:
            continue
        at_pin, amperes = model.point(reading)
        volts = at_pin - ground
        if reading is finely and value(volts) < HIGH_TEST_V:
            continue
        return Figure(amperes + model.leakage(reading.mark.position), Model.quantity(volts, "V"), "measured there")
    return None


def clamp(model: Model, readings: Readings, position: int, amperes: float | None) -> Figure | None:
    """VIK, negative: of one input at `amperes` (magnitude), or at the heaviest point if None; None if not measured.

    A diode with a resistance: V = V1 + n kT/q ln(I/I1) + R (I - I1), R from the lightest and the heaviest point.  Beyond the
    heaviest that resistance is still so at most, and half of it where the current floods the silicon under the junction
    (high injection, any textbook): anywhere between is as likely.
    """
    points = []
    here = [r for r in readings.labelled("clamp") if position in (r.mark.position, r.mark.under)]
    for name in dict.fromkeys(r.mark.point for r in here):
        loaded = next(r for r in here if r.mark.point == name and not r.mark.under)
        ground = next(r for r in here if r.mark.point == name and r.mark.under)
        if loaded.total is None or ground.total is None:
            return None
        at_pin, amperes_in = model.point(loaded)
        current = negative(amperes_in)
        # `load` opens the selector before it reads the ground pin: under a selector's load that is calculated.
        at_ground = (
            model.rail - current * model.line_ohm(ground.mark.position, M_LINE, True)
            if loaded.mark.selector
            else model.pin_volts(ground)
        )
        points.append((less(at_ground, at_pin), current))
    if len(points) < 2 or value(points[0][1]) <= 0 or value(points[-1][1]) < 2 * value(points[0][1]):
        return None
    (v1, i1), (v2, i2) = points[0], points[-1]
    if amperes is None:
        return Figure(-v2, Model.quantity(-i2, "A"), "measured there")
    slope = KT_Q * uncertain(*IDEALITY, "clamp diode")
    ohms = linear(0.0, (1.0, v2), (-1.0, v1), (-1.0, slope * _log_ratio(i2, i1))) / less(i2, i1)
    further = ohms * (amperes - i2)
    flooded = uncertain(-FLOODED / 2 * value(further), FLOODED / 2 / 3**0.5 * abs(value(further)), "resistance of the clamp")
    volts = linear(0.0, (1.0, v2), (1.0, slope * _log_ratio(amperes, i2)), (1.0, further), (1.0, flooded))
    return Figure(negative(volts), Quantity(-amperes, 0.0, "A"), "extrapolated")


def _log_ratio(a: Number, b: Uncertain) -> Uncertain:
    """ln(a / b), linear about the estimates: what a and b share in uncertainty cancels."""
    ratio = a / b
    estimate = value(ratio)
    return linear(log(estimate) - 1.0, (1 / estimate, ratio))
