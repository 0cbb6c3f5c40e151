"""Thresholds, clamp voltage and short-circuit current against their limits.

Limits from the data sheets that stand as sources in the family tables: DM7400 (IOS -18 to -57 mA with the looser of
two sheets, VIK -1.5 V), NTE7413 (Schmitt thresholds), DM74LS00.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.dc import judge, without_limit
from sagbench.parts import load_part
from sagbench.record import Measured, Outcome, Quantity

TTL, LS, SCHMITT = load_part("7400"), load_part("74LS00"), load_part("7414")


def figure(name, pin, value, u, how="measured there"):
    return Measured(name, pin, Quantity(value, u, "A" if name == "IOS" else "V"), how=how)


def outcomes(part, *figures):
    return [(f.quantity, f.outcome) for some in judge(part, figures).values() for f in some]


@pytest.mark.parametrize("volts, expected", [
    (1.4, [Outcome.WITHIN, Outcome.WITHIN]), (2.2, [Outcome.BEYOND, Outcome.WITHIN]), (0.6, [Outcome.WITHIN, Outcome.BEYOND]),
    (2.01, [Outcome.UNSURE, Outcome.WITHIN]),
])
def test_a_threshold_lies_between_vil_and_vih(volts, expected):
    assert outcomes(TTL, figure("VT+", 1, volts, 0.02)) == [("VT+", x) for x in expected]


def test_of_two_thresholds_the_rising_one_is_held_against_vih_and_the_falling_one_against_vil():
    found = judge(TTL, [figure("VT+", 1, 1.5, 0.02), figure("VT-", 1, 1.3, 0.02)])[1]
    assert [(f.quantity, f.limit, f.limit_kind) for f in found] == [("VT+", 2.0, "max"), ("VT-", 0.8, "min")]


def test_a_schmitt_input_has_thresholds_of_its_own_and_a_least_hysteresis():
    sound = [figure("VT+", 1, 1.7, 0.02), figure("VT-", 1, 0.9, 0.02), figure("VH", 1, 0.8, 0.03)]
    assert {o for _, o in outcomes(SCHMITT, *sound)} == {Outcome.WITHIN}
    assert ("VH", Outcome.BEYOND) in outcomes(SCHMITT, figure("VH", 1, 0.1, 0.03))


@pytest.mark.parametrize("name", ["74LS18", "74LS19", "74LS24"])
def test_a_line_receiver_has_other_thresholds_than_its_family(name):
    """LS18, LS19, LS24: VT+ 1.65 to 2.15 V, VT- 0.75 to 1.25 V (TI, from memory); the LS14 1.4 to 1.9 V and 0.5 to 1.0 V."""
    typical = [figure("VT+", 1, 1.95, 0.02), figure("VT-", 1, 1.05, 0.02)]
    assert {o for _, o in outcomes(load_part(name), *typical)} == {Outcome.WITHIN}
    assert {o for _, o in outcomes(load_part("74LS14"), *typical)} == {Outcome.WITHIN, Outcome.BEYOND}


def test_a_weak_short_circuit_current_is_a_weak_pull_up_and_its_limits_are_those_of_ordinary_outputs_only():
    weak = judge(TTL, [figure("IOS", 3, -5e-3, 1e-3)])[3]
    assert [f.outcome for f in weak] == [Outcome.BEYOND, Outcome.WITHIN] and "pull-up has become weak" in weak[0].sentence
    assert judge(load_part("74LS244"), [figure("IOS", 18, -5e-3, 1e-3)]) == {}, "a bus driver"


def test_what_is_extrapolated_condemns_only_when_far_beyond():
    near, far = (figure("IOS", 3, a, 5e-3, "extrapolated") for a in (-72e-3, -120e-3))
    assert [f.outcome for f in judge(TTL, [near])[3]] == [Outcome.WITHIN, Outcome.UNSURE]
    assert "extrapolated as it is" in judge(TTL, [near])[3][1].sentence
    assert judge(TTL, [near])[3][1].weight == 0, "a pull-up gives way more than it was prolonged by: told, and no reason"
    within_u = judge(TTL, [figure("IOS", 3, -57.5e-3, 5e-3, "extrapolated")])[3][1]
    assert within_u.outcome is Outcome.UNSURE and within_u.weight == 0
    assert [f.outcome for f in judge(TTL, [far])[3]] == [Outcome.WITHIN, Outcome.BEYOND]
    clamp = [figure("VIK", 1, v, 0.03, "extrapolated") for v in (-1.1, -1.8, -9.0)]
    assert [judge(LS, [m])[1][0].outcome for m in clamp] == [Outcome.WITHIN, Outcome.UNSURE, Outcome.BEYOND]


def test_a_prolonged_short_circuit_current_a_little_too_small_is_the_chips_own_only_if_its_sisters_have_more():
    """18 mA at least for a 7400 (DM7400); a fault strikes one output, what is wrong with the prolonging strikes all."""
    def weights(*milliamps):
        figures = [figure("IOS", pin, -ma * 1e-3, 0.5e-3, "extrapolated") for pin, ma in zip((3, 6, 8, 11), milliamps, strict=True)]
        return [judge(TTL, figures)[m.pin][0].weight for m in figures]

    assert weights(17.0, 17.2, 16.8, 16.5) == [0, 0, 0, 0]
    assert weights(15.0, 30.0, 29.0, 31.0) == [8, 0, 0, 0]
    assert weights(12.0, 12.2, 11.8, 12.1) == [8, 8, 8, 8], "all of them far too small: perhaps another family"


@pytest.mark.parametrize(("volts", "supply", "what"), [
    (3.20, None, Outcome.BEYOND), (3.20, 4.5, Outcome.BEYOND), (3.20, 4.9, Outcome.WITHIN), (3.50, 4.9, Outcome.BEYOND)])
def test_a_cmos_threshold_is_held_against_the_limit_at_the_supply_it_was_measured_at(volts, supply, what):
    """VIH of HC is 3.15 V at 4.5 V and 4.2 V at 6 V (MM74HC00 and others), 70 % of the supply; HCT's is 2 V from 4.5 to 5.5 V."""
    assert judge(load_part("74HC00"), [figure("VT+", 1, volts, 0.02)], supply)[1][0].outcome is what
    assert judge(load_part("74HCT00"), [figure("VT+", 1, 1.4, 0.02)], supply)[1][0].limit == 2.0


def test_an_output_whose_short_circuit_current_has_no_limit_is_named():
    assert without_limit(TTL, [figure("IOS", 3, -30e-3, 1e-3)]) == ""
    one, two = figure("IOS", 3, -30e-3, 1e-3), figure("IOS", 6, -25e-3, 1e-3)
    free = load_part("74ALS00")
    assert without_limit(free, [one]) == "pin 3 (1Y) delivers 30 mA when shorted to ground (IOS); no limit is known here"
    assert without_limit(free, [one, two]) == "2 of its outputs deliver 25 mA to 30 mA when shorted to ground (IOS); no limit is known here"
    assert "pin 18 (1Y1)" in without_limit(load_part("74LS244"), [figure("IOS", 18, -60e-3, 1e-3)])


def test_figures_without_a_limit_give_no_finding():
    assert judge(TTL, [figure("ROL", 3, 9.0, 0.3), figure("NML", 0, 1.0, 0.02)]) == {}


@pytest.mark.parametrize(("volts", "what"), [(0.03, Outcome.WITHIN), (0.8, Outcome.BEYOND)])
def test_a_plain_input_with_hysteresis_is_of_a_schmitt_trigger(volts, what):
    """Typically 0.8 V in a 7414 (data books); a bus driver's inputs may have some 0.4 V by theirs."""
    (found,) = judge(TTL, [figure("VH", 1, volts, 0.03)])[1]
    assert found.outcome is what and ("Schmitt" in found.sentence) is (what is Outcome.BEYOND)
    assert judge(load_part("74LS244"), [figure("VH", 2, 0.4, 0.03)]) == {}
