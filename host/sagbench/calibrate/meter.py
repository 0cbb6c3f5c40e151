"""Stage 3: one reading of a multimeter, at the 5 V rail or at the 2.5 V reference, carried over to the reference.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace
from math import sqrt

from sagbench.calibrate.converter import Curve
from sagbench.calibrate.passes import run
from sagbench.calibrate.session import Given
from sagbench.device import Device
from sagbench.errors import DeviceError, UsageError
from sagbench.measure.calibration import Calibration, Component, StageRecord
from sagbench.plan.fixture import Fixture, Spread
from sagbench.plan.recipe import Recipe
from sagbench.wire.numbers import Reference, Source

REPEATS = 64
BEYOND = 3.0  # standard uncertainties outside its data-book span, from which on the reading is taken for a mistake
WORDS = {"rail": "5 V rail", "reference": "2.5 V reference"}


def reference_code(device: Device) -> float:
    """The 2.5 V reference against AVcc, now: mean code. Raises DeviceError, LinkError."""
    recipe = Recipe()
    recipe.power_off()
    recipe.reference(Reference.AVCC)
    recipe.read(Source.VREF, REPEATS, label="vref")
    readings, _ = run(device, recipe)
    code = readings.all[0].code
    if not code:
        raise DeviceError("The fixture's 2.5 V reference reads nothing: run `sagbench fixture selftest`.")
    return code


def with_meter(
    calibration: Calibration, fixture: Fixture, where: str, given: Given, code: float, now: str
) -> Calibration:
    """The calibration with the 2.5 V reference as the meter has it.

    where: "rail" or "reference".  code: the reference against AVcc, read at the same time.
    Raises UsageError if the reading cannot be right: the reference would be far outside its data-book span.
    """
    vref = reference(calibration, fixture, where, given, code)
    source = fixture.raw["voltage_reference"]
    span = Spread.of({"ohm": source["volts"], "tolerance": source["tolerance"]})
    if not span.min - BEYOND * vref.u <= vref.value <= span.max + BEYOND * vref.u:
        raise UsageError(
            f"With {given.value:g} V at the {WORDS[where]} the fixture's reference "
            f"{fixture.raw['designator']['2.5_V_reference']} "
            f"would be {vref.value:.4f} V; it is {span.min:.4f} to {span.max:.4f} V if it is sound. Look at the "
            f"meter's leads "
            "and range; if the reading is right, replace the reference."
        )
    words = f"{WORDS[where]} read as {given.value:g} V, within {given.off:g} V"
    stages = tuple(stage for stage in calibration.stages if stage.name != "meter")
    return replace(
        calibration,
        components={**calibration.components, "vref": vref},
        stages=(*stages, StageRecord("meter", now, words)),
    )


def reference(calibration: Calibration, fixture: Fixture, where: str, given: Given, code: float) -> Component:
    """The 2.5 V reference, volts."""
    if where == "reference":
        return Component(given.value, {"meter": given.u})
    curve = Curve(calibration.inl, calibration.inl_u) if calibration.inl else None
    offset = calibration.components["offset"]
    full = fixture.full_scale
    share = (code - (curve.at(code) if curve else 0.0) + offset.value) / full
    one = given.value / full  # volts of a code
    adc = fixture.raw["adc"]
    own = curve.u if curve else fixture.standard(Spread(0.0, -adc["inl_lsb"], adc["inl_lsb"]))
    read = sqrt(own**2 + (adc["noise_lsb"] ** 2 + 1 / 12) / REPEATS)
    factors = {name: one * u for name, u in offset.factors.items()}
    return Component(given.value * share, {**factors, "meter": given.u * share, "calibration of vref": one * read})


def carried_over(calibration: Calibration, earlier: Calibration) -> Calibration:
    """The calibration with an earlier one's reading of the meter, if it has none of its own: the reference stays itself."""
    stage = next((s for s in earlier.stages if s.name == "meter"), None)
    if stage is None or any(s.name == "meter" for s in calibration.stages):
        return calibration
    vref = earlier.components["vref"]
    meter = Component(vref.value, {"meter": vref.u})
    return replace(
        calibration, components={**calibration.components, "vref": meter}, stages=(*calibration.stages, stage)
    )
