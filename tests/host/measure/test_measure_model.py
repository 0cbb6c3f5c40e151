"""The measurement model against figures worked out by hand.

SPDX-License-Identifier: MIT
"""

from math import sqrt

import pytest

from sagbench.measure.model import Model, Priors
from sagbench.measure.uncertain import standard, value
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")


def reading(code, **mark):
    mark = {"what": "position", "position": 6, **mark}
    return Reading(Mark(**mark), round(code * mark.get("repeats", 1)))


@pytest.fixture
def model():
    """AVcc is 5.000 V: 2.5 V reads half scale; 1.1 V by 0.93 V common."""
    model = Model(FIXTURE)
    model.learn_rail(reading(512, what="vref", repeats=64))
    model.learn_1v1(
        reading(190.464, what="vdac", repeats=64), reading(865.745, what="vdac", repeats=64, reference=Reference.V1V1)
    )
    return model


def test_the_rail_follows_from_the_2_5_volt_reference(model):
    assert value(model.rail) == pytest.approx(5.0)
    # reference 0.5 % rectangular; converter 1 LSB offset and 1 LSB non-linearity, rectangular, of 512
    noise = sqrt(0.4**2 + 1 / 12) / 8
    expected = 5 * sqrt((0.005 / sqrt(3)) ** 2 + 2 * (1 / 512 / sqrt(3)) ** 2 + (noise / 512) ** 2)
    assert standard(model.rail) == pytest.approx(expected, rel=1e-3)


def test_the_1_1_volt_reference_follows_from_a_level_read_under_both(model):
    assert value(model.references[Reference.V1V1]) == pytest.approx(1.1, abs=1e-4)
    assert 2 * standard(model.references[Reference.V1V1]) < 0.015


def test_a_reference_that_cannot_be_compared_keeps_its_data_book_span():
    model = Model(FIXTURE)
    model.learn_rail(reading(512, what="vref", repeats=64))
    model.learn_2v56(reading(1023, what="vref", reference=Reference.V2V56))
    assert 2.4 <= value(model.references[Reference.V2V56]) <= 2.5
    model.learn_1v1(reading(190), Reading(Mark("vdac"), None))
    assert value(model.references[Reference.V1V1]) == 1.1
    assert standard(model.references[Reference.V1V1]) == pytest.approx(0.1 / sqrt(3))


def test_a_strong_load_at_0_22_v_draws_16_09_mA(model):
    """(5.000 - 0.220) V / (270 + 27) ohm = 16.09 mA; 1 % and 20..40 ohm make 4.6 % of it at k = 2."""
    at_pin = reading(0.22 / 1.1 * 1024, reference=Reference.V1V1, repeats=4, lines=2, up=True)
    amperes = model.quantity(model.load_amperes(at_pin), "A")
    assert amperes.value == pytest.approx(16.09e-3, abs=0.02e-3)
    driver = sqrt(20**2 / 12 + 3**2)
    assert amperes.u == pytest.approx(2 * 16.09e-3 * sqrt((2.7 / sqrt(3)) ** 2 + driver**2) / 297, rel=0.15)


def test_medium_and_strong_together_add_up(model):
    both = reading(0.3 / 5 * 1024, lines=3, up=True)
    assert value(model.load_amperes(both)) == pytest.approx(4.7 / 587 + 4.7 / 297, rel=0.003)


def test_a_sourcing_output_has_a_negative_current(model):
    assert value(model.load_amperes(reading(3.4 / 5 * 1024, lines=1))) == pytest.approx(-3.4 / 587, rel=0.003)


def test_a_reading_without_current_in_the_multiplexer_is_taken_as_it_is(model):
    loaded = reading(512, lines=2, up=True)
    assert value(model.pin_volts(loaded)) == value(model.volts(loaded))


def test_the_weak_load_is_corrected_for_its_own_current_in_the_channel(model):
    """K at 0.400 V under 8200 + 27 + 70 ohm to 5 V: 0.5544 mA, 38.8 mV in a channel of 70 ohm."""
    weak = reading(0.4 / 5 * 1024, selector=1, up=True, repeats=4)
    assert value(model.selector_amperes(weak)) == pytest.approx(0.5544e-3, rel=0.003)
    assert value(model.pin_volts(weak)) == pytest.approx(0.4 - 0.0388, abs=0.0015)


def test_a_channel_measured_in_place_is_known_better_than_from_the_data_book(model):
    """587 ohm below, 100 ohm in the channel, 8200 + 27 + 90 above: K at 5 * 687 / 9004 = 0.3815 V.
    587 ohm above, 100 and 90 in the channels, K tied to ground: 5 * 90 / 777 = 0.5792 V."""
    before = standard(model.ron(6))
    channel = reading(0.3815 / 1.1 * 1024, reference=Reference.V1V1, selector=1, up=True, repeats=8)
    selector = reading(0.5792 / 1.1 * 1024, reference=Reference.V1V1, selector=7, repeats=8)
    model.learn_channels([channel], selector)
    assert value(model.ron(6)) == pytest.approx(100, abs=1.5)
    assert value(model.ron(0)) == pytest.approx(90, abs=1.5)
    assert standard(model.ron(6)) < before / 4


def test_what_two_readings_share_cancels_in_their_difference(model):
    a, b = (model.volts(reading(c, reference=Reference.V1V1, repeats=16)) for c in (300, 290))
    apart = sqrt(standard(a) ** 2 + standard(b) ** 2)
    assert standard(a - b) < apart * 0.85


def test_supply_current_is_the_rise_over_the_zero_and_the_offset_cancels(model):
    model.learn_2v56(reading(1000, what="vref", repeats=64, reference=Reference.V2V56))  # 2.5 * 1024 / 1000 = 2.56 V
    zero, on = (
        tuple(reading(c, what="icc", repeats=64, reference=Reference.V2V56) for c in pair)
        for pair in ((128, 128), (254.5, 254.5))
    )
    # 126.5 codes of 2.5 mV are 316 mV; 24 V/A times alpha (300/301) make 13.22 mA
    amperes = model.icc(on, zero)
    assert value(amperes) == pytest.approx(13.22e-3, rel=0.002)
    gain = 2 * sqrt(3 * 0.01**2 / 3)
    assert 2 * standard(amperes) == pytest.approx(
        sqrt((13.22e-3 * gain) ** 2 + (2 * sqrt(2 * (1 / sqrt(3)) ** 2 / 2) * 2.5e-3 / 24) ** 2), rel=0.15
    )


def test_calibration_data_take_the_place_of_tolerances():
    known = Model(FIXTURE, Priors({"strong_drive[6]": (271.3, 0.1), "driver_high": (25.0, 0.3)}, "bench certificate"))
    known.learn_rail(reading(512, what="vref", repeats=64))
    ohm = known.line_ohm(6, 2, True)
    assert value(ohm) == pytest.approx(296.3) and standard(ohm) == pytest.approx(sqrt(0.1**2 + 0.3**2))


def test_a_reading_at_the_top_of_its_reference_says_only_at_least(model):
    assert model.saturated(reading(1023)) and not model.saturated(reading(1000))


def test_what_was_not_measured_has_no_code(model):
    with pytest.raises(ValueError, match="not measured"):
        model.code(Reading(Mark("position"), None))
