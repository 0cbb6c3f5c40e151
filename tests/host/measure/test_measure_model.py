"""The measurement model against figures worked out by hand.

SPDX-License-Identifier: MIT
"""

from math import pi, sin, sqrt

import pytest

from sagbench.measure.components import HALF_CUT
from sagbench.measure.model import Model, Priors
from sagbench.measure.uncertain import standard, value
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")
CUT = 0.8796  # standard deviation of a normal distribution cut at two of its own: tables of the truncated normal


OF_ONE_CODE = 0.71  # non-linearity of any code against the worst one's: rms of a sine


def over(half_span):
    """Standard deviation of specimens spread over +- half_span, whose ends are at two standard deviations."""
    return half_span / 2 * CUT


def reading(code, **mark):
    """As a converter shows it whose codes are as low as is assumed of one before any calibration."""
    mark = {"what": "position", "position": 6, **mark}
    return Reading(Mark(**mark), max(0, round((code - HALF_CUT) * mark.get("repeats", 1))))


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
    # reference 0.5 %; converter 1 LSB offset, a quarter more for cutting off, and 1 LSB non-linearity, of 512
    noise = sqrt(0.4**2 + 1 / 12) / 8
    inl = OF_ONE_CODE * over(1 / 512)
    expected = 5 * sqrt(over(0.005) ** 2 + over((1 + HALF_CUT) / 512) ** 2 + inl**2 + (noise / 512) ** 2)
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
    assert standard(model.references[Reference.V1V1]) == pytest.approx(over(0.1), rel=1e-3)


def test_a_strong_load_at_0_22_v_draws_16_09_mA(model):
    """(5.000 - 0.220) V / (270 + 30) ohm = 15.93 mA; 1 % and 20..40 ohm make 3.1 % of it at k = 2."""
    at_pin = reading(0.22 / 1.1 * 1024, reference=Reference.V1V1, repeats=4, lines=2, up=True)
    amperes = model.quantity(model.load_amperes(at_pin), "A")
    assert amperes.value == pytest.approx(15.93e-3, abs=0.02e-3)
    resistance = sqrt(over(2.7) ** 2 + over(10) ** 2) / 300
    assert amperes.u == pytest.approx(2 * 15.93e-3 * sqrt(resistance**2 + over(0.005) ** 2), rel=0.05)


def test_medium_and_strong_together_add_up(model):
    both = reading(0.3 / 5 * 1024, lines=3, up=True)
    assert value(model.load_amperes(both)) == pytest.approx(4.7 / 590 + 4.7 / 300, rel=0.003)


def test_a_sourcing_output_has_a_negative_current(model):
    assert value(model.load_amperes(reading(3.4 / 5 * 1024, lines=1))) == pytest.approx(-3.4 / 590, rel=0.003)


def test_a_reading_without_current_in_the_multiplexer_is_taken_as_it_is(model):
    loaded = reading(512, lines=2, up=True)
    assert value(model.pin_volts(loaded)) == value(model.volts(loaded))


def test_the_weak_load_is_corrected_for_its_own_current_in_the_channel(model):
    """K at 0.400 V under 8200 + 30 + 112 ohm to 5 V: 0.5515 mA, 61.1 mV in a channel of 111 ohm: 105 ohm near the rails, and
    0.2 * 4 * 0.086 * 0.914 more at 0.43 V, midway between the selector's ends; 0.2 * 4 * 0.074 * 0.926 at 0.37 V."""
    weak = reading(0.4 / 5 * 1024, selector=1, up=True, repeats=4)
    assert value(model.selector_amperes(weak)) == pytest.approx(0.5515e-3, rel=0.001)
    assert value(model.pin_volts(weak)) == pytest.approx(0.4 - 0.0611, abs=0.001)


def test_a_channel_measured_in_place_is_known_better_than_from_the_data_book(model):
    """590 ohm below, 100 ohm in the channel, 8200 + 30 + 90 above: K at 5 * 690 / 9010 = 0.3829 V.
    590 ohm above, 100 and 90 in the channels, K tied to ground: 5 * 90 / 780 = 0.5769 V."""
    before = standard(model.ron(6))
    channel = reading(0.3829 / 1.1 * 1024, reference=Reference.V1V1, selector=1, up=True, repeats=8)
    selector = reading(0.5769 / 1.1 * 1024, reference=Reference.V1V1, selector=7, repeats=8)
    model.learn_channels([channel], selector)
    assert value(model.ron(6, 0.07)) == pytest.approx(100, abs=1.5)  # at the level at which it was measured
    assert value(model.ron(0, 0.06)) == pytest.approx(90, abs=1.5)
    assert standard(model.ron(6)) < before / 3  # what remains is the medium line below it: 1 % and the controller pin


def test_what_two_readings_share_cancels_in_their_difference(model):
    a, b = (model.volts(reading(c, reference=Reference.V1V1, repeats=16)) for c in (300, 260))
    apart = sqrt(standard(a) ** 2 + standard(b) ** 2)
    assert standard(a - b) < apart * 0.85


def inl_apart(model, distance, codes=range(100, 400, 7)):
    """Root mean square, in codes, of what the non-linearity of two codes so far apart may differ by."""
    found = [
        standard(model.code(reading(c, repeats=16)) - model.code(reading(c + distance, repeats=16))) ** 2 - 2 * (0.4**2 + 1 / 12) / 16
        for c in codes
    ]
    return sqrt(max(0.0, sum(found) / len(found)))


def test_two_readings_of_one_level_share_its_non_linearity(model):
    """Of the code, not of the reading: 1 LSB over two standard deviations, cut, of 1.1 V in 1024 codes."""
    assert inl_apart(model, 0) == pytest.approx(0, abs=1e-6)
    assert inl_apart(model, 512) == pytest.approx(sqrt(2) * OF_ONE_CODE * over(1), rel=1e-3)


def test_codes_a_few_steps_apart_differ_by_the_differential_non_linearity_and_a_little_of_the_bow(model):
    """0.5 LSB over two standard deviations, as the INL is 1 LSB over two (ATmega2560 data sheet, from memory)."""
    assert over(0.5) < inl_apart(model, 32) < over(0.5) * 1.13


SHAPES = {"bow": lambda x: 4 * x * (1 - x), "narrow bow": lambda x: sin(pi * x) ** 3,
          "wave": lambda x: sin(2 * pi * x), "two waves": lambda x: sin(4 * pi * x)}  # fmt: skip


@pytest.mark.parametrize(("shape", "distance"), [(name, d) for name in SHAPES for d in (16, 32, 64, 100) if (name, d) != ("two waves", 100)])
def test_a_bow_or_a_wave_of_the_same_size_differs_no_more_over_that_distance(model, shape, distance):
    """Textbook shapes of a converter's non-linearity, brought to the same root mean square over the scale."""
    size = sqrt(sum(SHAPES[shape](c / 1024) ** 2 for c in range(1024)) / 1024) / (OF_ONE_CODE * over(1))
    apart = [(SHAPES[shape]((c + distance) / 1024) - SHAPES[shape](c / 1024)) / size for c in range(64, 960 - distance)]
    assert sqrt(sum(a * a for a in apart) / len(apart)) < inl_apart(model, distance)


def test_non_linearity_is_nothing_at_the_ends_of_the_scale(model):
    noise = sqrt(0.4**2 + 1 / 12) / 8
    alone = sqrt(standard(model.code(reading(512, repeats=64))) ** 2 - noise**2)
    for code, share in ((32, 0.5), (1023 - 32, 0.5), (512, 1.0)):
        own = sqrt(alone**2 - over(1 + HALF_CUT) ** 2) * share  # the offset stays
        assert standard(model.code(reading(code, repeats=64))) == pytest.approx(sqrt(own**2 + over(1 + HALF_CUT) ** 2 + noise**2), rel=0.01)


def test_a_reading_of_nothing_may_have_been_cut_off(model):
    lowest, above = (standard(model.code(reading(c, repeats=4))) for c in (0, 1))
    assert lowest > above


def test_the_budget_names_what_a_value_stands_on_and_adds_up(model):
    at_pin = reading(0.22 / 1.1 * 1024, reference=Reference.V1V1, repeats=4, lines=2, up=True)
    amperes = model.quantity(model.load_amperes(at_pin), "A")
    assert amperes.budget[0].name == "driver_high[S6]" and amperes.budget[0].u < 0  # more ohms, less current
    assert {"strong_drive[6]", "vref", "offset", "inl", "noise"} <= {c.name for c in amperes.budget}
    assert sum(c.u**2 for c in amperes.budget) == pytest.approx((amperes.u / 2) ** 2, rel=1e-9)
    assert sorted(amperes.budget, key=lambda c: -abs(c.u)) == list(amperes.budget)


def test_supply_current_is_the_rise_over_the_zero_and_the_offset_cancels(model):
    model.learn_2v56(reading(1000, what="vref", repeats=64, reference=Reference.V2V56))  # 2.5 * 1024 / 1000 = 2.56 V
    zero, on = (
        tuple(reading(c, what="icc", repeats=64, reference=Reference.V2V56) for c in pair)
        for pair in ((128, 128), (254.5, 254.5))
    )
    # 126.5 codes of 2.5 mV are 316 mV; 18 V/A times alpha (150/151 to 600/601, middle 0.99586) make 17.64 mA;
    # in 1 ohm they take 18 mV from pedestal (1 kohm) and base (515 ohm): 52 uA less there, 17.69 mA
    amperes = model.icc(on, zero)
    assert value(amperes) == pytest.approx(17.69e-3, rel=0.001)
    gain = sqrt(3 * over(0.01) ** 2 + over((600 / 601 - 150 / 151) / 2) ** 2)
    code = sqrt(2) * OF_ONE_CODE * over(1)  # two readings of each level share the non-linearity of their code
    assert standard(amperes) == pytest.approx(
        sqrt((17.64e-3 * gain) ** 2 + (code * 2.5e-3 / 18) ** 2 + (17.64e-3 * over(0.005)) ** 2), rel=0.05
    )


def test_calibration_data_take_the_place_of_tolerances():
    known = Model(
        FIXTURE, Priors({"strong_drive[6]": (271.3, 0.1), "driver_high[S6]": (25.0, 0.3)}, "bench certificate")
    )
    ohm = known.line_ohm(6, 2, True)
    assert value(ohm) == pytest.approx(296.3) and standard(ohm) == pytest.approx(sqrt(0.1**2 + 0.3**2))


def test_a_path_calibrated_as_a_whole_rules_over_its_parts_and_shares_what_it_was_calibrated_with():
    both = {"strong_drive[6].high": (297.0, 0.5), "strong_drive[7].high": (299.0, 0.5)}
    common = {"strong_drive[6].high": {"r": 0.4, "a": 0.3}, "strong_drive[7].high": {"r": 0.4, "b": -0.3}}
    known = Model(FIXTURE, Priors(both, "calibrated", common))
    six, seven = known.line_ohm(6, 2, True), known.line_ohm(7, 2, True)
    assert value(six) == 297.0 and standard(six) == pytest.approx(0.5)
    assert standard(seven - six) == pytest.approx(0.3 * sqrt(2))  # what they share cancels
    assert standard(known.line_ohm(6, 2, False)) > 4  # low was not calibrated


def test_a_reading_at_the_top_of_its_reference_says_only_at_least(model):
    assert model.saturated(reading(1023)) and not model.saturated(reading(1000))


def test_what_was_not_measured_has_no_code(model):
    with pytest.raises(ValueError, match="not measured"):
        model.code(Reading(Mark("position"), None))


@pytest.mark.parametrize("mark", [{"selector": 1}, {"lines": 3, "up": True}, {"selector": 5, "lines": 1, "up": True}])
def test_volts_and_amperes_of_a_point_are_those_asked_for_alone_and_share_their_noise(model, mark):
    here = reading(300, **mark)
    at_pin, amperes = model.point(here)
    assert value(at_pin) == value(model.pin_volts(here)) and value(amperes) == value(model.load_amperes(here))
    assert standard(at_pin) == pytest.approx(standard(model.pin_volts(here)), rel=1e-12)
    assert standard(amperes) == pytest.approx(standard(model.load_amperes(here)), rel=1e-12)
    noises = [{one for one in number.derivatives if one.tag == "noise"} for number in (at_pin, amperes, model.rail)]
    assert noises[0] and noises[0] | noises[2] == noises[1] | noises[2]
