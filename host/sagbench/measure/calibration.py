"""What a calibration has found of one fixture, and what the measurement model may know from it.

    calibration = Calibration(...)                    # from `sagbench.calibrate`
    priors = priors_of(calibration, fixture)          # for `Model(fixture, priors)`

Components are named as in `components.py`.  Each carries where its uncertainty comes from as independent factors, for
most of them hang on the same few things: the reference resistor, the external resistor, the meter.

Assumptions, none of which a calibration can see (`ASSUMED`, shown by `sagbench fixture info`): the fixture is used
within TEMPERATURE_K of the temperature at which it was calibrated, and what parts do with temperature is what their
data sheets say is typical.  Figures are from memory of data sheets and common practice; none measured here.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import sqrt

from sagbench.measure.components import Priors
from sagbench.plan.fixture import Fixture, Spread

TEMPERATURE_K = 3.0  # either way, anywhere between
RESISTOR_PER_K = 50e-6  # metal film, 1 %
PIN_PER_K = 3e-3  # on-resistance of a CMOS pin or channel
VREF_PER_K = 20e-6  # 2.5 V reference, typical
ASSUMED = (
    f"the fixture is used within {TEMPERATURE_K:g} K of the temperature at which it was calibrated",
    f"resistors change by {RESISTOR_PER_K * 1e6:g} millionths a kelvin, controller pins and multiplexer channels by "
    f"{PIN_PER_K:.1%} a kelvin, the 2.5 V reference by {VREF_PER_K * 1e6:g} millionths a kelvin (data sheets, typical)",
    "contacts of the socket and leads of the external resistor add less than 0.05 ohm",
)
WARMTH = "temperature since calibration"


@dataclass(frozen=True)
class Component:
    """One component: estimate (ohm, volt, code or ohm of the ICC gain) and factor -> signed standard uncertainty."""

    value: float
    factors: Mapping[str, float]

    @property
    def u(self) -> float:
        """Standard uncertainty, in the unit of the value."""
        return sqrt(sum(share * share for share in self.factors.values()))


@dataclass(frozen=True)
class StageRecord:
    """One stage that was done.

    name: "self", "external" or "meter".  done: ISO 8601, UTC.  what: with which reference, in plain words.
    readings: how many.  misfit: root mean square of the residuals over their standard uncertainties, about 1 or less
    for a model that fits.  worst: the largest of them, and where.
    """

    name: str
    done: str
    what: str
    readings: int = 0
    misfit: float = 0.0
    worst: str = ""


@dataclass(frozen=True)
class Residual:
    """What a reading differs from what the calibrated components explain: code and residual in converter codes."""

    stage: str
    where: str
    code: float
    residual: float
    u: float


@dataclass(frozen=True)
class Calibration:
    """One fixture, calibrated.

    inl: corrections to be taken off a code, at knots `inl_step` codes apart from code 0 on; inl_u: what is left of
    non-linearity then, codes (k = 1).  Empty: not calibrated.
    """

    serial: int
    wiring_id: int
    firmware: str
    made: str
    sagbench: str
    stages: tuple[StageRecord, ...]
    components: Mapping[str, Component]
    inl: tuple[float, ...] = ()
    inl_step: int = 32
    inl_u: float = 0.0
    residuals: tuple[Residual, ...] = field(default=(), repr=False)

    @property
    def title(self) -> str:
        """For people: how far it goes and when."""
        names = {stage.name for stage in self.stages}
        kind = "external resistor" if "external" in names else "board alone"
        meter = ", meter" if "meter" in names else ""
        return f"{kind}{meter}, {self.made[:10]}"


def priors_of(calibration: Calibration, fixture: Fixture) -> Priors:
    """Components for the model, drift with temperature added."""
    known: dict[str, tuple[float, float]] = {}
    factors: dict[str, Mapping[str, float]] = {}
    for name, component in calibration.components.items():
        shares = dict(component.factors)
        if drift := _drift(name, component.value, fixture):
            shares[WARMTH] = drift
        factors[name] = shares
        known[name] = component.value, sqrt(sum(share * share for share in shares.values()))
    origin = f"{calibration.title}, fixture {calibration.serial}"
    return Priors(known, origin, factors, calibration.inl, calibration.inl_step, calibration.inl_u)


def _drift(name: str, value: float, fixture: Fixture) -> float:
    """Standard uncertainty of a component from temperature, in its unit; all rise together."""
    kelvin = TEMPERATURE_K / sqrt(3)
    path = re.match(r"(\w+)(?:\[\d+\])?\.(?:high|low)$", name)
    if path:
        channel = Spread.of(fixture.raw["mux"]["ron_ohm"]).middle if "[" not in name else 0.0
        warm = fixture.driver.middle + channel
        return kelvin * (warm * PIN_PER_K + max(value - warm, 0.0) * RESISTOR_PER_K)
    if name.startswith("channel["):
        return kelvin * value * PIN_PER_K
    if name == "vref":
        return kelvin * value * VREF_PER_K
    # Three resistors that track as well as not; the gain is a ratio of two of them times the third.
    return kelvin * value * RESISTOR_PER_K if name == "icc_gain" else 0.0
