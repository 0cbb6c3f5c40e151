"""The measurement model: every physical relation between a code and a volt, ampere or ohm, in one place.

Uncertainty is carried through every expression (uncertain.py, after the GUM), so that what two readings share
(the reference, a resistor, the driver) cancels where it cancels and adds where it adds.

Components, from the fixture description.  Unless said otherwise a specimen is taken to be anywhere in its span
(rectangular), and the typical value as the estimate; where that is off the middle, so much more is the uncertainty:
u^2 = span^2 / 12 + (typical - middle)^2.
    reference   the 2.5 V reference's tolerance; AVcc and the internal references are measured against it
    offset      converter: absolute accuracy less integral non-linearity, one value for all readings
    inl         converter: integral non-linearity, independent for each reading
    noise       rms noise and quantisation, normal, falling with the square root of the conversions
    R, driver   load resistors (each its own), controller pin (one value for high, one for low)
    Ron         measured in place at each position (`learn_channels`); else one value for each multiplexer package
A fixture that has been calibrated gives better values for the same names: see `Priors`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import sqrt

from sagbench.measure.uncertain import Number, Uncertain, exact, standard, uncertain, value
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture, Spread
from sagbench.plan.recipe import Reading
from sagbench.record import Quantity
from sagbench.wire.numbers import Reference

K = 2.0  # coverage factor of every Quantity
SATURATED = 1.0  # codes below full scale from which on a reading only says "at least"


@dataclass(frozen=True)
class Priors:
    """What is known beforehand of a component: name -> (value, standard uncertainty).

    Names not given fall back on the span in the fixture description.
    factors: for names that are correlated with others, where their uncertainty comes from: name -> factor -> signed
    standard uncertainty. Factors are independent; their squares add up to that of the standard uncertainty.
    Beside single parts a calibration knows whole paths, by these names (see `calibration.py`): `strong_drive[6].high`,
    resistor and controller pin together; `weak_load.low`, resistor, LD pin and the load selector's channel;
    `channel[6]`, the multiplexer channel of a position; `icc_gain`, volts per ampere.
    """

    known: Mapping[str, tuple[float, float]] = field(default_factory=dict)
    origin: str = "none: data-book tolerances assumed"
    factors: Mapping[str, Mapping[str, float]] = field(default_factory=dict)


class Model:
    """Codes to figures for one fixture on one day. Feed `learn_*` first, in this order."""

    def __init__(self, fixture: Fixture, priors: Priors | None = None) -> None:
        self.fixture = fixture
        self.priors = priors or Priors()
        self._parts: dict[str, Uncertain] = {}
        self._factors: dict[str, Uncertain] = {}  # of calibrated components
        self._ron: dict[int, Uncertain] = {}
        adc = fixture.raw["adc"]
        self._inl = adc["inl_lsb"] / sqrt(3)
        self._noise = sqrt(adc["noise_lsb"] ** 2 + 1 / 12)
        self._offset = self.component(
            "offset", Spread(0.0, adc["inl_lsb"] - adc["absolute_lsb"], adc["absolute_lsb"] - adc["inl_lsb"])
        )
        source = fixture.raw["voltage_reference"]
        self._vref = self.component("vref", Spread.of({"ohm": source["volts"], "tolerance": source["tolerance"]}))
        self.references: dict[Reference, Uncertain] = {}

    # ---------------------------------------------------------------- components
    def component(self, name: str, spread: Spread) -> Uncertain:
        """The uncertain number of that name, made once: anywhere in the span unless known better."""
        if name not in self._parts:
            known = self._calibrated(name)
            self._parts[name] = uncertain(spread.typ, spread.rms) if known is None else known
        return self._parts[name]

    def _calibrated(self, name: str) -> Uncertain | None:
        """The number of that name as calibrated, made once; None if there is none."""
        if name not in self._parts and name in self.priors.known:
            estimate, u = self.priors.known[name]
            factors = self.priors.factors.get(name)
            if factors is None:
                self._parts[name] = uncertain(estimate, u)
            else:
                number = exact(estimate)
                for factor, share in factors.items():
                    if factor not in self._factors:
                        self._factors[factor] = uncertain(0.0, 1.0)
                    number = number + share * self._factors[factor]
                self._parts[name] = number
        return self._parts.get(name)

    def line_ohm(self, position: int, line: int, high: bool) -> Uncertain:
        """Resistance from a position through one line to the rail that the controller pin drives it to."""
        role = "medium_drive" if line == M_LINE else "strong_drive"
        whole = self._calibrated(f"{role}[{position}].{'high' if high else 'low'}")
        if whole is not None:
            return whole
        resistor = self.component(f"{role}[{position}]", self.fixture.resistor(role))
        return resistor + self.component(f"driver_{'high' if high else 'low'}", self.fixture.driver)

    def ron(self, position: int) -> Uncertain:
        """On-resistance of the multiplexer channel of a position; 0: of the load selector."""
        package = self.fixture.raw["sense_mux"][position - 1] if position else "selector"
        known = self._ron.get(position)
        if known is None:
            known = self._calibrated(f"channel[{position}]")
        if known is None:
            known = self.component(f"ron[{package}]", Spread.of(self.fixture.raw["mux"]["ron_ohm"]))
        return known

    def learn_channels(self, channels: Sequence[Reading], selector: Reading) -> None:
        """On-resistances, from a divider of known resistors at each position: see `plan.contact.channels`.

        Twice over, for the load selector's own channel is in the first divider and the position's in the second.
        """
        for _ in range(2):
            for reading in channels:
                if reading.code:
                    position = reading.mark.position
                    volts = self.volts(reading)
                    amperes = (self.rail - volts) / self.selector_ohm(reading.mark.selector, True)
                    self._ron[position] = volts / amperes - self.line_ohm(position, M_LINE, False)
            if selector.code and not self.saturated(selector):
                position = selector.mark.position
                volts = self.volts(selector)
                amperes = (self.rail - volts) / (self.line_ohm(position, M_LINE, True) + self.ron(position))
                self._ron[0] = volts / amperes

    def selector_ohm(self, selector: int, high: bool) -> Uncertain:
        """Resistance from node K through the load selector to the rail that LD is driven to."""
        role = {1: "weak_load", 2: "trickle_load", 3: "calibration_reference", 5: "heavy_load"}[selector]
        whole = self._calibrated(f"{role}.{'high' if high else 'low'}")
        if whole is not None:
            return whole
        driver = self.component(f"driver_{'high' if high else 'low'}", self.fixture.driver)
        return self.component(role, self.fixture.resistor(role)) + self.ron(0) + driver

    # ---------------------------------------------------------------- converter
    def code(self, reading: Reading) -> Uncertain:
        """The mean code of a reading. ValueError if it was not measured."""
        if reading.code is None:
            raise ValueError("a reading that was not measured has no code")
        u = sqrt(self._inl**2 + self._noise**2 / reading.mark.repeats)
        return uncertain(reading.code, u) + self._offset

    def saturated(self, reading: Reading) -> bool:
        """True if the reading is at the top of its reference."""
        return reading.code is not None and reading.code >= self.fixture.full_scale - 1 - SATURATED

    def volts(self, reading: Reading) -> Uncertain:
        """Volts at the converter's pin, against the fixture's ground."""
        return self.code(reading) / self.fixture.full_scale * self.references[reading.mark.reference]

    @property
    def rail(self) -> Uncertain:
        """The fixture's 5 V rail, which is AVcc and what the controller drives high."""
        return self.references[Reference.AVCC]

    def learn_rail(self, vref_on_avcc: Reading) -> None:
        """AVcc, from the 2.5 V reference read against it."""
        self.references[Reference.AVCC] = self._vref * self.fixture.full_scale / self.code(vref_on_avcc)

    def learn_2v56(self, vref_on_2v56: Reading) -> None:
        """The 2.56 V reference likewise; a specimen below 2.5 V saturates and keeps its data-book span."""
        spread = Spread.of(self._internal("v2v56"))
        if vref_on_2v56.total is None or self.saturated(vref_on_2v56):
            known = self.component("v2v56", Spread((spread.min + 2.5) / 2, spread.min, 2.5))
        else:
            known = self._vref * self.fixture.full_scale / self.code(vref_on_2v56)
        self.references[Reference.V2V56] = known

    def learn_1v1(self, common_on_avcc: Reading, common_on_1v1: Reading) -> None:
        """The 1.1 V reference, from one level read against AVcc and against it."""
        if common_on_1v1.total is None or self.saturated(common_on_1v1) or not common_on_1v1.code:
            self.references[Reference.V1V1] = self.component("v1v1", Spread.of(self._internal("v1v1")))
        else:
            self.references[Reference.V1V1] = (
                self.volts(common_on_avcc) * self.fixture.full_scale / self.code(common_on_1v1)
            )

    def _internal(self, name: str) -> Mapping[str, float]:
        entries = self.fixture.raw["adc"]["reference"]
        return dict(next(r["volts"] for r in entries if r["name"] == name))

    # ---------------------------------------------------------------- socket
    def pin_volts(self, reading: Reading) -> Uncertain:
        """Volts at a position, against the fixture's ground; corrected for the current through the multiplexer."""
        at_k = self.volts(reading)
        if not reading.mark.selector:
            return at_k  # K carries no current: a Kelvin reading
        return at_k - self.selector_amperes(reading) * self.ron(reading.mark.position)

    def selector_amperes(self, reading: Reading) -> Uncertain:
        """Current from the load selector into the position, positive into the pin."""
        if not reading.mark.selector:
            return exact(0.0)
        source = self.rail if reading.mark.up else exact(0.0)
        return (source - self.volts(reading)) / self.selector_ohm(reading.mark.selector, reading.mark.up)

    def leakage(self) -> Uncertain:
        """What multiplexers and idle controller pins may draw or deliver at a position, within data-book limits."""
        most = (self.fixture.raw["mux"]["leak_common_ua"]["max"] + 2 * self.fixture.raw["pin_leak_ua"]["max"]) * 1e-6
        return self.component("leakage", Spread(0.0, -most, most))

    def load_amperes(self, reading: Reading) -> Uncertain:
        """All current of a load point into the pin: lines and selector."""
        source = self.rail if reading.mark.up else exact(0.0)
        at_pin = self.pin_volts(reading)
        total = self.selector_amperes(reading)
        for line in (M_LINE, S_LINE):
            if reading.mark.lines & line:
                total = total + (source - at_pin) / self.line_ohm(reading.mark.position, line, reading.mark.up)
        return total

    # ---------------------------------------------------------------- supply current
    def icc_gain(self) -> Uncertain:
        """Volts of the ICC amplifier per ampere in the shunt; its PNP passes alpha of the current on."""
        whole = self._calibrated("icc_gain")
        if whole is not None:
            return whole
        part = {
            role: self.component(role, self.fixture.resistor(role))
            for role in ("shunt", "sense_gain_input", "sense_gain_output")
        }
        beta = Spread.of(self.fixture.raw["supply_switch"]["beta"])
        alpha = self.component(
            "alpha", Spread(beta.typ / (beta.typ + 1), beta.min / (beta.min + 1), beta.max / (beta.max + 1))
        )
        return part["shunt"] * part["sense_gain_output"] / part["sense_gain_input"] * alpha

    def icc(self, readings: tuple[Reading, ...], zeros: tuple[Reading, ...]) -> Uncertain:
        """Chip current: ICC readings less zero readings, over the gain. The offset of the amplifier cancels."""
        return (self._mean(readings) - self._mean(zeros)) / self.icc_gain()

    def _mean(self, readings: tuple[Reading, ...]) -> Uncertain:
        return sum((self.volts(r) for r in readings), exact(0.0)) / len(readings)

    def base_amperes(self, switches: int) -> Uncertain:
        """What the supply switches' base currents add in the shunt, by the resistors: for want of a better zero."""
        ohm = self.component("supply_switch_base", self.fixture.resistor("supply_switch_base")) + self.component(
            "register_output", Spread.of(self.fixture.raw["register_output_ohm"])
        )
        vbe = self.component("vbe", Spread(0.75, 0.65, 0.85))
        off = self.fixture.resistor("supply_switch_off").typ
        return switches * ((self.rail - vbe) / ohm + vbe / off)

    # ---------------------------------------------------------------- out
    @staticmethod
    def quantity(number: Number, unit: str) -> Quantity:
        """Value and expanded uncertainty, k = 2."""
        return Quantity(value(number), K * standard(number), unit)
