"""The components of the measurement model by name: what is assumed of them, and what is known better.

A specimen is taken to be spread over its data-book span as `[specimen]` of the wiring file says: normal about the
middle, cut at the ends.  Leakages go either way, half a normal distribution in size.

Names (positions in brackets; `strong`, `medium` are the lines S and M):
    vref                        the 2.5 V reference
    v1v1, v2v56                 internal references, only where they could not be compared with vref
    offset, inl, noise          converter; see `model.Model.code`
    strong_drive[6], medium_drive[6], weak_load, trickle_load, heavy_load, calibration_reference, level_drive
                                the resistors alone
    driver_high[S6], driver_low[M6], driver_high[LD]
                                a controller pin's output resistance, each pin by itself
    ron[6], ron[0]              multiplexer channel of a position, of the load selector (all its channels alike)
    shunt, sense_gain_output, sense_gain_input, alpha
                                the ICC amplifier
    channel_shape, selector_shape   how their curve over the level differs from what is assumed, as a fraction
    channel_near_rail           the same that no calibration sees, for none brings a current through a channel near a rail
    level filter                by how much its time constants are off, as a fraction
    level's motion at position 6    what share of the level's motion the pin of an input there makes
    leakage[6], leakage_k       what idle parts deliver into a position, into node K
A calibration knows whole paths rather than single parts; where one is known it rules:
    strong_drive[6].high        resistor and controller pin together
    weak_load.low               resistor, LD pin and the load selector's channel
    level_drive.path            resistor and the load selector's channel
    channel[6]                  the multiplexer channel of a position near a rail
    channel_hump                what any channel has more at half the supply, as a fraction
    icc_gain                    volts of the ICC amplifier per ampere

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, sqrt

from sagbench.measure.uncertain import Uncertain, exact, linear, settled, standard, uncertain, value
from sagbench.plan.fixture import M_LINE, Fixture, Spread

# Channels at 5 V: 80 ohm near the rails and 100 ohm at half the supply is typical of 74HC4051 data sheets (from memory).
HUMP = Spread(0.2, 0.0, 0.4)
HALF_CUT = 0.25  # codes: half of what cutting off does on average
NOMINAL_V, THRESHOLD_V = 5.0, 0.8  # of a 74HC4051's channels (common practice)
# Of what lies between parabola and gate: anywhere between is as likely (0.29), half of the variance alike over the whole
# curve, half near a rail alone.
SHAPE_SD = NEAR_RAIL_SD = 0.29 / sqrt(2)
TYPICAL_LEVEL = 0.16  # where weak loads stand, 0.3 to 1.5 V from a rail: calibrated paths are those at it

Maker = Callable[[float, float, str], Uncertain]  # estimate, standard uncertainty, name


def curve(level: float) -> float:
    """What of the hump a channel has at a level (a fraction of the rail): 0 at the rails, 1 at half the supply.

    The level is that of the middle between the channel's two ends: for two transistors in their linear region, one of each
    kind, the current is a difference of squares, I = k (V1 - V2) (W - (V1 + V2) / 2) (any textbook).  Midway between the
    parabola that data sheets draw and the textbook gate, whose `between` is in doubt.
    """
    return (_parabola(level) + _gate(level)) / 2


def between(level: float) -> float:
    """By how much the textbook gate has more of the hump at a level than the parabola: most some 0.8 V from a rail."""
    return _gate(level) - _parabola(level)


def _parabola(level: float) -> float:
    return 4 * level * (1 - level)


def _gate(level: float) -> float:
    """One device alone near a rail, R = 1 / k (W - V); at its threshold the other joins in and the sum stays as it is."""
    volts = NOMINAL_V * min(max(min(level, 1 - level), 0.0), THRESHOLD_V / NOMINAL_V)
    overdrive = NOMINAL_V - THRESHOLD_V
    return volts / (overdrive - volts) * (overdrive - THRESHOLD_V) / THRESHOLD_V


TYPICAL_CURVE, TYPICAL_BETWEEN = curve(TYPICAL_LEVEL), between(TYPICAL_LEVEL)


def offset_span(fixture: Fixture) -> Spread:
    """Codes to be added to what is read: what the data sheet's absolute accuracy leaves besides the non-linearity.

    The data sheet's formula cuts off (half a code to be added on average), its definition of the offset has the first
    transition at half a code (nothing to be added): the middle is taken, and either is in the span.
    """
    adc = fixture.raw["adc"]
    most = adc["absolute_lsb"] - adc["inl_lsb"]
    return Spread(HALF_CUT, HALF_CUT - most - HALF_CUT, HALF_CUT + most + HALF_CUT)


@dataclass(frozen=True)
class Priors:
    """What is known beforehand of a component or path: name -> (value, standard uncertainty).

    Ohms, volts, amperes or codes.  Names not given fall back on the span in the fixture description.
    factors: for names that are correlated with others, where their uncertainty comes from: name -> factor -> signed
    standard uncertainty.  Factors are independent; their squares add up to that of the standard uncertainty.
    inl: the converter's curve, to be taken off a code, at knots `inl_step` codes apart from code 0 on; inl_u: what is
    left of non-linearity then (k = 1, codes).  Empty: not known, the data book's span holds.
    """

    known: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    origin: str = "none: data-book tolerances assumed"
    factors: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    inl: Sequence[float] = ()
    inl_step: int = 32
    inl_u: float = 0.0

    def curve(self, code: float) -> float:
        """The converter's curve at a code, by straight lines between its knots; 0 if it is not known."""
        if not self.inl:
            return 0.0
        place = min(max(code / self.inl_step, 0.0), len(self.inl) - 1.000001)
        low, share = int(place), place % 1
        return self.inl[low] * (1 - share) + self.inl[low + 1] * share


class Components:
    """Makes each component once; whoever asks for it again gets the same number, and is correlated by it."""

    def __init__(self, fixture: Fixture, priors: Priors, make: Maker = uncertain) -> None:
        self.fixture, self.priors, self.make = fixture, priors, make
        self._made: dict[str, Uncertain] = {}
        self._factors: dict[str, Uncertain] = {}
        self._ron: dict[int, Uncertain] = {}
        self._driven: dict[tuple[str, str, bool, int], Uncertain] = {}
        self._leakage: dict[int, Uncertain] = {}

    def calibrated(self, name: str) -> Uncertain | None:
        """The number of that name as the priors have it; None if they say nothing."""
        if name not in self._made and name in self.priors.known:
            estimate, u = self.priors.known[name]
            factors = self.priors.factors.get(name)
            if factors is None:
                self._made[name] = self.make(estimate, u, name)
            else:
                number: Uncertain | float = estimate
                for factor, share in factors.items():
                    if factor not in self._factors:
                        self._factors[factor] = self.make(0.0, 1.0, factor)
                    number = number + share * self._factors[factor]
                self._made[name] = number if not isinstance(number, float) else exact(number)
        return self._made.get(name) if name in self.priors.known else None

    def get(self, name: str, estimate: float, u: float) -> Uncertain:
        """The component of that name: as the priors have it, else this estimate and standard uncertainty."""
        known = self.calibrated(name)
        if known is not None:
            return known
        if name not in self._made:
            self._made[name] = self.make(estimate, u, name)
        return self._made[name]

    def spread(self, name: str, spread: Spread) -> Uncertain:
        """The component of that name, somewhere in a span."""
        made = self._made.get(name)
        return self.get(name, spread.middle, self.fixture.standard(spread)) if made is None else made

    def resistor(self, role: str, position: int = 0) -> Uncertain:
        """A resistor by its role, and by position where there is one at each."""
        return self.spread(f"{role}[{position}]" if position else role, self.fixture.resistor(role))

    def driven(self, role: str, pin: str, high: bool, position: int) -> Uncertain:
        """Ohms from behind a resistor to the rail that its controller pin drives it to: resistor and pin."""
        key = role, pin, high, position
        if key not in self._driven:
            self._driven[key] = self._driven_anew(*key)
        return self._driven[key]

    def _driven_anew(self, role: str, pin: str, high: bool, position: int) -> Uncertain:
        level = "high" if high else "low"
        whole = self.calibrated(f"{role}[{position}].{level}")
        if whole is not None:
            return whole
        own = self.spread(f"driver_{level}[{pin}]", self.fixture.driver)
        return linear(0.0, (1.0, self.resistor(role, position)), (1.0, own))

    def selector(self, role: str, high: bool, level: float) -> Uncertain:
        """Ohms from node K through a load of the selector to the rail that LD is driven to; its channel at this level."""
        side = "high" if high else "low"
        whole = self.calibrated(f"{role}.{side}")
        if whole is not None:
            return self._at_level(whole, level)
        pin = self.spread(f"driver_{side}[LD]", self.fixture.driver)
        return linear(0.0, (1.0, self.resistor(role)), (1.0, self.ron(0, level)), (1.0, pin))

    def selector_value(self, role: str, high: bool, level: float) -> float:
        """Best estimate of the same."""
        side = "high" if high else "low"
        whole = self.calibrated(f"{role}.{side}")
        if whole is not None:
            return value(self._at_level(whole, level))
        pin = self.spread(f"driver_{side}[LD]", self.fixture.driver)
        return value(self.resistor(role)) + self.ron_value(0, level) + value(pin)

    def level_drive(self, level: float) -> Uncertain:
        """Ohms from the level drive's buffer through the load selector, whose channel is at this level, to node K."""
        whole = self.calibrated("level_drive.path")
        if whole is not None:
            return self._at_level(whole, level)
        return linear(0.0, (1.0, self.resistor("level_drive")), (1.0, self.ron(0, level)))

    def _at_level(self, whole: Uncertain, level: float) -> Uncertain:
        ohms = self.ron_value(0)
        more = (ohms * (curve(level) - TYPICAL_CURVE), self.hump), (ohms * (between(level) - TYPICAL_BETWEEN), self._shape("selector"))
        return linear(0.0, (1.0, whole), *more)

    def line(self, position: int, line: int, high: bool) -> Uncertain:
        """Ohms from a position through its M or S line to the rail."""
        role, letter = ("medium_drive", "M") if line == M_LINE else ("strong_drive", "S")
        return self.driven(role, f"{letter}{position}", high, position)

    @property
    def hump(self) -> Uncertain:
        """What a channel has more at half the supply than near the rails, as a fraction."""
        return self.spread("channel_hump", HUMP)

    def bend(self, level: float) -> Uncertain:
        """How many times as much a channel has at a level (a fraction of the rail) as near the rails."""
        near_rail = self.get("channel_near_rail", 0.0, NEAR_RAIL_SD * value(self.hump))
        gate = between(level)
        return linear(1.0, (curve(level), self.hump), (gate, self._shape("channel")), (gate, near_rail))

    def _shape(self, whose: str) -> Uncertain:
        """Where between parabola and gate the channels' curve is, as a fraction: 0, and its doubt."""
        return self.get(f"{whose}_shape", 0.0, SHAPE_SD * value(self.hump))

    def learn_ron(self, position: int, measured: Uncertain, level: float = 0.0) -> None:
        """A channel's on-resistance as measured in place at a level; one known better from a calibration stays."""
        known = self.calibrated(f"channel[{position}]")
        if known is None or standard(measured) < standard(known):
            self._ron[position] = settled(measured / self.bend(level))

    def ron(self, position: int, level: float = 0.0) -> Uncertain:
        """On-resistance of the multiplexer channel of a position, in ohms, at a level (a fraction of the rail)."""
        return self._near_rail(position) * self.bend(level)

    def ron_value(self, position: int, level: float = 0.0) -> float:
        """Best estimate of the same."""
        shape = value(self._shape("channel")) + value(self.get("channel_near_rail", 0.0, NEAR_RAIL_SD * value(self.hump)))
        return value(self._near_rail(position)) * (1.0 + value(self.hump) * curve(level) + shape * between(level))

    def _near_rail(self, position: int) -> Uncertain:
        known = self._ron.get(position)
        if known is None:
            known = self.calibrated(f"channel[{position}]")
        return self.spread(f"ron[{position}]", Spread.of(self.fixture.raw["mux"]["ron_ohm"])) if known is None else known

    def leakage(self, position: int) -> Uncertain:
        """Amperes that idle parts deliver into a position tied to node K: two controller pins, multiplexers, converter."""
        if position not in self._leakage:
            self._leakage[position] = self._leakage_anew(position)
        return self._leakage[position]

    def _leakage_anew(self, position: int) -> Uncertain:
        pin = self.fixture.leak_standard(self.fixture.raw["pin_leak_ua"]["max"] * 1e-6)
        channel = self.fixture.leak_standard(self.fixture.raw["mux"]["leak_off_ua"]["max"] * 1e-6)
        commons = self.fixture.leak_standard(self.fixture.raw["mux"]["leak_common_ua"]["max"] * 1e-6)
        own = self.get(f"leakage[{position}]", 0.0, hypot(sqrt(2) * pin, channel))
        return own + self.get("leakage_k", 0.0, hypot(pin, commons))
