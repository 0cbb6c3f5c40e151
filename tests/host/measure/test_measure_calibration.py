"""What a calibration tells the model: estimates, where their doubt comes from, and what warmth adds.

Within 3 K either way, anywhere between: resistors 50 millionths a kelvin (metal film), pins and channels 0.3 % a kelvin
(on-resistance of CMOS), both common practice; the 2.5 V reference 20 millionths a kelvin (LM4040, typical; data sheet, from memory).

SPDX-License-Identifier: MIT
"""
from math import hypot, sqrt

import pytest

from sagbench.measure.calibration import WARMTH, Calibration, Component, StageRecord, priors_of
from sagbench.plan.fixture import load_fixture

FIXTURE = load_fixture("bench24")
KELVIN = 3 / sqrt(3)


def made(*stages, **components):
    return Calibration(7, 1, "1.0", "2026-11-26T08:00:00Z", "0.1", tuple(StageRecord(s, "", "") for s in stages),
                       {name: Component(v, {"resistor": u}) for name, (v, u) in components.items()}, inl=(0.1, 0.2, 0.3), inl_step=16, inl_u=0.25)


def test_the_model_gets_everything_that_was_calibrated():
    priors = priors_of(made("self", alpha=(0.99, 0.001)), FIXTURE)
    assert priors.known == {"alpha": (0.99, 0.001)} and priors.factors == {"alpha": {"resistor": 0.001}}
    assert (priors.inl, priors.inl_step, priors.inl_u) == ((0.1, 0.2, 0.3), 16, 0.25)
    assert priors.origin == "board alone, 2026-11-26, fixture 7"
    assert [priors.curve(code) for code in (0, 8, 16, 24, 32, 999)] == pytest.approx([0.1, 0.15, 0.2, 0.25, 0.3, 0.3], abs=1e-5)


@pytest.mark.parametrize(("stages", "title"), [
    (("self",), "board alone, 2026-11-26"), (("self", "external"), "external resistor, 2026-11-26"),
    (("self", "external", "meter"), "external resistor, meter, 2026-11-26"), (("self", "meter"), "board alone, meter, 2026-11-26")])
def test_a_calibration_says_how_far_it_goes(stages, title):
    assert made(*stages).title == title


def test_warmth_is_a_doubt_that_all_share():
    parts = {"vref": (2.5, 1e-3), "icc_gain": (18.0, 0.01), "channel[6]": (100.0, 0.5), "strong_drive[6].high": (300.0, 0.1),
             "weak_load.low": (8330.0, 1.0)}
    priors = priors_of(made("self", **parts), FIXTURE)
    pin, channel = 30.0, sum(FIXTURE.raw["mux"]["ron_ohm"][k] for k in ("min", "max")) / 2
    assert FIXTURE.driver.middle == pin
    warm = {"vref": 2.5 * 20e-6, "icc_gain": 18.0 * 50e-6, "channel[6]": 100 * 3e-3, "strong_drive[6].high": pin * 3e-3 + 270 * 50e-6,
            "weak_load.low": (pin + channel) * 3e-3 + (8330 - pin - channel) * 50e-6}
    for name, drift in warm.items():
        assert priors.factors[name] == {"resistor": parts[name][1], WARMTH: pytest.approx(KELVIN * drift)}
        assert priors.known[name] == (parts[name][0], pytest.approx(hypot(parts[name][1], KELVIN * drift)))
