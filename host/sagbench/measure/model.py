"""The measurement model: every physical relation between a code and a volt, ampere or ohm, in one place.

Uncertainty is carried through every expression (uncertain.py), so that what two readings share (the reference, a
resistor, the converter's offset) cancels where it cancels and adds where it adds.  components.py says what is assumed
of each component; a calibrated fixture gives better values for the same names.

Multiplexer channels of the positions are measured in place (`learn_channels`), the references before every sweep.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial
from math import cos, pi, sin, sqrt

from sagbench.measure.components import Components, Maker, Priors, offset_span
from sagbench.measure.uncertain import Number, Uncertain, budget, exact, less, linear, negative, settled, standard, uncertain, value
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture, Spread
from sagbench.plan.recipe import Reading
from sagbench.record import Quantity
from sagbench.wire.numbers import Reference

__all__ = ["K", "Model", "Priors"]

K = 2.0  # coverage factor of every Quantity
SATURATED = 1.0  # codes below full scale from which on a reading only says "at least"
PEAK_TO_RMS = (
    0.71  # the data sheet's non-linearity is that of the worst code; of a bow or a wave, a code's own is less,
)
INL_ENDS = 64  # and none at the ends, where offset and gain are taken off: it grows over so many codes
# Codes over which a part of the non-linearity becomes another one, and its share of the variance.  Steps between codes are off
# by 0.5 LSB at most (differential non-linearity, ATmega2560 data sheet, from memory): what differs at once makes a quarter of
# the variance, for its difference over two sigmas is that.  The rest is smooth, a bow or up to two waves over the scale: an
# eighth of it away it is another one.
INL_STEPS = ((16, 0.25), (128, 0.75))
LEFT_STEPS = ((16, 1.0),)  # what a calibrated curve leaves are single steps
CLIPPED = 0.4  # a mean code below this may have been cut off at zero: noise of 0.4 LSB no longer shows both sides
CLIPPED_LSB = 0.3  # how far below, by the distribution of what rounds to zero
SELECTOR = {1: "weak_load", 2: "trickle_load", 3: "calibration_reference", 5: "heavy_load"}


class Model:
    """Codes to figures for one fixture on one day. Feed `learn_*` first, in this order.

    make: what numbers are made of, for the Monte Carlo check; `uncertain.uncertain` otherwise.
    """

    def __init__(self, fixture: Fixture, priors: Priors | None = None, make: Maker = uncertain) -> None:
        self.fixture = fixture
        self.priors = priors or Priors()
        self.parts = Components(fixture, self.priors, make)
        self._make = make
        adc = fixture.raw["adc"]
        span = Spread(0.0, -adc["inl_lsb"], adc["inl_lsb"])
        self._inl_u = self.priors.inl_u if self.priors.inl else fixture.standard(span) * PEAK_TO_RMS
        self._noise = sqrt(adc["noise_lsb"] ** 2 + 1 / 12)
        self._offset = self.parts.spread("offset", offset_span(fixture))
        self._inl_steps = LEFT_STEPS if self.priors.inl else INL_STEPS
        self._inl: dict[tuple[int, int], Uncertain] = {}
        source = fixture.raw["voltage_reference"]
        self._vref = self.parts.spread("vref", Spread.of({"ohm": source["volts"], "tolerance": source["tolerance"]}))
        self.references: dict[Reference, Uncertain] = {}

    # ---------------------------------------------------------------- components
    def line_ohm(self, position: int, line: int, high: bool) -> Uncertain:
        """Ohms from a position through one line to the rail that the controller pin drives it to."""
        return self.parts.line(position, line, high)

    def ron(self, position: int, level: float = 0.0) -> Uncertain:
        """On-resistance of a position's channel, in ohms, at a level (fraction of the rail); 0: the load selector's."""
        return self.parts.ron(position, level)

    def learn_channels(self, channels: Sequence[Reading], selector: Reading) -> None:
        """On-resistances, from a divider of known resistors at each position: see `plan.contact.channels`.

        Twice over, for the load selector's own channel is in the first divider and the position's in the second.
        """
        for _ in range(2):
            for reading in channels:
                if reading.code:
                    self.parts.learn_ron(reading.mark.position, *self.channel_ohm(reading))
            if selector.code and not self.saturated(selector):
                position, volts = selector.mark.position, self.volts(selector)
                amperes = (self.rail - volts) / (self.line_ohm(position, M_LINE, True) + self.ron(position))
                self.parts.learn_ron(0, volts / amperes, self.between(volts, 0.0))  # from K to ground

    def channel_ohm(self, reading: Reading) -> tuple[Uncertain, float]:
        """Ohms of a position's channel as its divider (`plan.contact.channels`) has it, and the level it was at, of the rail."""
        volts = self.volts(reading)
        amperes = less(self.rail, volts) / self.selector_ohm(reading.mark.selector, True, volts)
        at_pin = amperes * self.line_ohm(reading.mark.position, M_LINE, False)
        return less(volts, at_pin) / amperes, self.between(volts, at_pin)

    def between(self, one: Number, other: Number) -> float:
        """The level midway between two, as a fraction of the rail, best estimate: at which a channel between them is."""
        return (value(one) + value(other)) / 2 / value(self.rail)

    def selector_ohm(self, selector: int, high: bool, at_k: Number) -> Uncertain:
        """Ohms from node K, which is at this level, through the load selector to the rail that LD is driven to."""
        return self.parts.selector(SELECTOR[selector], high, self._selector_level(selector, high, value(at_k)))

    def _selector_level(self, selector: int, high: bool, at_k: float) -> float:
        """The level of the selector's channel, as a fraction of the rail."""
        rail = value(self.rail)
        ohms = self.fixture.resistor(SELECTOR[selector]).middle + self.fixture.driver.middle
        own = self.parts.ron_value(0)
        behind = at_k + ((rail if high else 0.0) - at_k) * own / (ohms + own)  # the level behind the channel
        return (at_k + behind) / 2 / rail

    def level_ohm(self, at_k: Number, at_level: Number) -> Uncertain:
        """Ohms from the level drive's buffer to node K, which are at these levels."""
        own = self.parts.ron_value(0)
        ohms = self.fixture.resistor("level_drive").middle
        behind = value(at_k) + (value(at_level) - value(at_k)) * own / (ohms + own)
        return self.parts.level_drive(self.between(at_k, behind))

    # ---------------------------------------------------------------- converter
    def code(self, reading: Reading) -> Uncertain:
        """The mean code of a reading, free of offset and non-linearity. ValueError if it was not measured.

        Noise and quantisation fall with the square root of the conversions.  Non-linearity belongs to the code:
        two readings of one level share it, readings far apart do not (INL_STEPS).
        """
        return self._scaled(reading, 1.0)

    def _scaled(self, reading: Reading, scale: float) -> Uncertain:
        """So many times the code."""
        code = reading.code
        if code is None:
            raise ValueError("a reading that was not measured has no code")
        u = self._noise / sqrt(reading.mark.repeats)
        if code < CLIPPED:
            u = sqrt(u**2 + CLIPPED_LSB**2)
        straight = self._make(code - self.priors.curve(code), u, "noise")
        return linear(0.0, (scale, straight), (scale, self._offset), *self._nonlinearity(code, scale))

    def _nonlinearity(self, code: float, scale: float) -> list[tuple[float, Uncertain]]:
        """Slopes and knots whose sum it is, in so many times a code; the more alike the nearer two codes are."""
        size = 1.0 if self.priors.inl else min(1.0, code / INL_ENDS, (self.fixture.full_scale - 1 - code) / INL_ENDS)
        terms = []
        for codes, variance in self._inl_steps:
            step, share = divmod(code / codes, 1)
            slope, turn = scale * size * sqrt(variance), share * pi / 2
            terms.append((slope * cos(turn), self._knot(codes, int(step))))
            terms.append((slope * sin(turn), self._knot(codes, int(step) + 1)))
        return terms

    def _knot(self, codes: int, k: int) -> Uncertain:
        if (codes, k) not in self._inl:
            self._inl[codes, k] = self._make(0.0, self._inl_u, "inl")
        return self._inl[codes, k]

    def saturated(self, reading: Reading) -> bool:
        """True if the reading is at the top of its reference."""
        return reading.code is not None and reading.code >= self.fixture.full_scale - 1 - SATURATED

    def volts(self, reading: Reading) -> Uncertain:
        """Volts at the converter's pin, against the fixture's ground."""
        return self._scaled(reading, 1 / self.fixture.full_scale) * self.references[reading.mark.reference]

    def volts_value(self, reading: Reading) -> float:
        """Best estimate of the same."""
        if reading.code is None:
            raise ValueError("a reading that was not measured has no level")
        straight = reading.code - self.priors.curve(reading.code) + value(self._offset)
        return straight / self.fixture.full_scale * value(self.references[reading.mark.reference])

    @property
    def rail(self) -> Uncertain:
        """The fixture's 5 V rail, which is AVcc and what the controller drives high."""
        return self.references[Reference.AVCC]

    def learn_rail(self, vref_on_avcc: Reading) -> None:
        """AVcc, from the 2.5 V reference read against it."""
        self.references[Reference.AVCC] = settled(self._vref * self.fixture.full_scale / self.code(vref_on_avcc))

    def learn_2v56(
        self, vref_on_2v56: Reading, common_on_avcc: Reading | None = None, common_on_2v56: Reading | None = None
    ) -> None:
        """The 2.56 V reference likewise; a specimen below 2.5 V saturates: then from a level read under both.

        Without that it keeps its data-book span, as far as it lies below 2.5 V.
        """
        spread = Spread.of(self._internal("v2v56"))
        if vref_on_2v56.total is not None and not self.saturated(vref_on_2v56):
            known = settled(self._vref * self.fixture.full_scale / self.code(vref_on_2v56))
        elif common_on_avcc and common_on_2v56 and common_on_avcc.code and common_on_2v56.code:
            known = settled(self.volts(common_on_avcc) * self.fixture.full_scale / self.code(common_on_2v56))
        else:
            known = self.parts.spread("v2v56", Spread((spread.min + 2.5) / 2, spread.min, 2.5))
        self.references[Reference.V2V56] = known

    def learn_1v1(self, common_on_avcc: Reading, common_on_1v1: Reading) -> None:
        """The 1.1 V reference, from one level read against AVcc and against it."""
        if common_on_1v1.total is None or self.saturated(common_on_1v1) or not common_on_1v1.code:
            self.references[Reference.V1V1] = self.parts.spread("v1v1", Spread.of(self._internal("v1v1")))
        else:
            known = self.volts(common_on_avcc) * self.fixture.full_scale / self.code(common_on_1v1)
            self.references[Reference.V1V1] = settled(known)

    def _internal(self, name: str) -> Mapping[str, float]:
        entries = self.fixture.raw["adc"]["reference"]
        return dict(next(r["volts"] for r in entries if r["name"] == name))

    # ---------------------------------------------------------------- socket
    def pin_volts(self, reading: Reading) -> Uncertain:
        """Volts at a position, against the fixture's ground; corrected for the current through the multiplexer."""
        return self.point(reading)[0] if reading.mark.selector else self.volts(reading)

    def point(self, reading: Reading) -> tuple[Uncertain, Uncertain]:
        """Volts at a position as `pin_volts`, and all current of its load point into the pin, positive: lines and selector.

        Of one reading, and so with one noise: what it does to the volts it does to the amperes.
        """
        mark, at_pin = reading.mark, self.volts(reading)  # without selector K carries no current: a Kelvin reading
        currents = []
        if mark.selector:
            currents.append(self._through_selector(reading, at_pin))
            at_pin = self.behind_channel(mark.position, at_pin, currents[0])
        if mark.lines:
            across = less(self.rail, at_pin) if mark.up else negative(at_pin)
            lines = (line for line in (M_LINE, S_LINE) if mark.lines & line)
            currents += [across / self.line_ohm(mark.position, line, mark.up) for line in lines]
        return at_pin, linear(0.0, *((1.0, amperes) for amperes in currents))

    def behind_channel(self, position: int, at_k: Uncertain, amperes: Uncertain) -> Uncertain:
        """Volts at a position from those at node K and the current through its channel, positive into the pin."""
        near = value(at_k) - value(amperes) * self.parts.ron_value(position, self.between(at_k, at_k))
        return less(at_k, amperes * self.ron(position, self.between(at_k, near)))

    def on_level(self, position: int, at_k: Uncertain, at_level: Uncertain) -> tuple[Uncertain, Uncertain]:
        """Volts at a position that the level drive holds, and amperes into it, from the volts at K and of the drive."""
        amperes = less(at_level, at_k) / self.level_ohm(at_k, at_level)
        return self.behind_channel(position, at_k, amperes), amperes

    def pin_level(self, reading: Reading) -> float:
        """Best estimate of the same, in volts: for thousands of logic levels, of which nobody asks the uncertainty."""
        if reading.code is None:
            raise ValueError("a reading that was not measured has no level")
        at_k = reading.code / self.fixture.full_scale * value(self.references[reading.mark.reference])
        if not reading.mark.selector:
            return at_k
        mark, rail = reading.mark, value(self.rail)
        level = self._selector_level(mark.selector, mark.up, at_k)
        ohms = self.parts.selector_value(SELECTOR[mark.selector], mark.up, level)
        source = rail if mark.up else 0.0
        return at_k - (source - at_k) / ohms * self.parts.ron_value(mark.position, at_k / rail)

    def selector_amperes(self, reading: Reading) -> Uncertain:
        """Current from the load selector into the position, positive into the pin."""
        return self._through_selector(reading, self.volts(reading)) if reading.mark.selector else exact(0.0)

    def _through_selector(self, reading: Reading, at_k: Uncertain) -> Uncertain:
        across = less(self.rail, at_k) if reading.mark.up else negative(at_k)
        return across / self.selector_ohm(reading.mark.selector, reading.mark.up, at_k)

    def leakage(self, position: int) -> Uncertain:
        """Amperes that multiplexers and idle controller pins deliver into a position, within data-book limits."""
        return self.parts.leakage(position)

    def load_amperes(self, reading: Reading) -> Uncertain:
        """All current of a load point into the pin: lines and selector."""
        return self.point(reading)[1]

    # ---------------------------------------------------------------- supply current
    def icc_gain(self) -> Uncertain:
        """Volts of the ICC amplifier per ampere in the shunt; its PNP passes alpha of the current on."""
        whole = self.parts.calibrated("icc_gain")
        if whole is not None:
            return whole
        shunt, output, input_ = (
            self.parts.resistor(role) for role in ("shunt", "sense_gain_output", "sense_gain_input")
        )
        beta = Spread.of(self.fixture.raw["supply_switch"]["beta"])
        alpha = self.parts.spread("alpha", Spread(0.0, beta.min / (beta.min + 1), beta.max / (beta.max + 1)))
        return shunt * output / input_ * alpha * (1 - shunt * self._standing_siemens())

    def _standing_siemens(self) -> float:
        """By how much less pedestal and supply switch's base draw for each volt that VBUS goes down in the shunt."""
        base = self.fixture.resistor("supply_switch_base").typ + self.fixture.raw["register_output_ohm"]["typ"]
        return float(1 / self.fixture.resistor("pedestal").typ + 1 / base)

    def icc(self, readings: tuple[Reading, ...], zeros: tuple[Reading, ...]) -> Uncertain:
        """Chip current: ICC readings less zero readings, over the gain. The offset of the amplifier cancels."""
        return less(self._mean(readings), self._mean(zeros)) / self.icc_gain()

    def _mean(self, readings: tuple[Reading, ...]) -> Uncertain:
        return linear(0.0, *((1 / len(readings), self.volts(r)) for r in readings))

    def supply_path(self) -> Uncertain:
        """Ohms between rail and chip's supply pin that its current sees: shunt and supply switch."""
        saturation = Spread.of(self.fixture.raw["supply_switch"]["saturation_ohm"])
        return self.parts.resistor("shunt") + self.parts.spread("supply_switch", saturation)

    def ground_path(self) -> Uncertain:
        """Ohms between the chip's ground pin and the fixture's ground: the ground switch."""
        return self.parts.spread("ground_switch", Spread.of(self.fixture.raw["ground_switch"]["saturation_ohm"]))

    def base_amperes(self, switches: int) -> Uncertain:
        """What the supply switches' base currents add in the shunt, by the resistors: for want of a better zero."""
        ohm = self.parts.resistor("supply_switch_base") + self.parts.spread(
            "register_output", Spread.of(self.fixture.raw["register_output_ohm"])
        )
        vbe = self.parts.spread("vbe", Spread(0.75, 0.65, 0.85))
        off = self.fixture.resistor("supply_switch_off").typ
        return switches * ((self.rail - vbe) / ohm + vbe / off)

    # ---------------------------------------------------------------- out
    @staticmethod
    def quantity(number: Number, unit: str) -> Quantity:
        """Value, expanded uncertainty (k = 2) and where it comes from (k = 1), in the unit."""
        return Quantity.whose(value(number), K * standard(number), unit, partial(budget, number))
