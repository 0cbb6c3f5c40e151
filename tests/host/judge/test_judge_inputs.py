"""Input currents against their limits: whole findings, with the limits of data sheets: DM7400 (a unit load: 40 uA and 1.6 mA), MM74HC573
(an HC input: 0.1 uA).

SPDX-License-Identifier: MIT
"""
import pytest

from sagbench.judge.inputs import is_alive, judge_input, judge_sisters, off_scale, out_of_reach, too_fine
from sagbench.parts import load_part
from sagbench.record import Outcome, Quantity

TTL, HC = load_part("7400"), load_part("74HC00")


def amperes(value, u=2e-6):
    return Quantity(value, u, "A")


def test_both_currents_of_a_sound_input_with_all_that_a_report_shows():
    high, low = judge_input(TTL, 4, amperes(10e-6), amperes(-1.0e-3))
    limits = TTL.limits[4]
    assert high.sentence == "pin 4 (2A) takes 10 µA when high; the limit is 40 µA"
    assert low.sentence == "pin 4 (2A) delivers 1 mA when low; the limit is 1.6 mA"
    for finding, name, value, limit in ((high, "IIH", 10e-6, limits.iih), (low, "IIL", -1.0e-3, limits.iil)):
        assert (finding.quantity, finding.outcome, finding.pin, finding.weight) == (name, Outcome.WITHIN, 4, 0)
        assert finding.value.value == value and (finding.limit, finding.limit_kind, finding.source) == (limit.value, limit.kind, limit.source)
        assert finding.margin == pytest.approx(abs(limit.value) - abs(value)) and finding.source
    assert judge_input(TTL, 4, None, None) == [] and [f.quantity for f in judge_input(TTL, 4, None, amperes(-1e-3))] == ["IIL"]


def test_a_leak_is_beyond_and_a_limit_too_fine_is_nothing_unless_it_is_surely_missed():
    (leak,) = judge_input(TTL, 4, amperes(300e-6), None)
    assert leak.outcome is Outcome.BEYOND and leak.sentence.endswith(": a leaky input") and leak.weight == 65
    (near,) = judge_input(TTL, 4, amperes(39e-6), None)
    assert near.outcome is Outcome.UNSURE and near.weight == 12 and "leaky" not in near.sentence
    assert judge_input(HC, 4, amperes(0.0), amperes(0.0)) == []                   # 0.1 uA of limit, 2 of uncertainty
    assert [f.outcome for f in judge_input(HC, 4, amperes(9e-6), amperes(0.0))] == [Outcome.BEYOND]


def test_an_input_of_several_unit_loads_has_so_much_more():
    """The enable of a 7475: four unit loads when low, 6.4 mA (TI data book, from memory)."""
    latch = load_part("7475")
    enable = next(p for p in latch.inputs if p.low_unit_loads == 4)
    (low,) = judge_input(latch, enable.number, None, amperes(-5e-3, 1e-5))
    assert low.outcome is Outcome.WITHIN and low.limit == pytest.approx(-6.4e-3) and low.margin == pytest.approx(1.4e-3)


def test_a_current_when_low_that_is_off_the_scale_was_not_measured():
    found = off_scale(TTL, 4)
    assert (found.quantity, found.outcome, found.pin) == ("IIL", Outcome.NOT_MEASURED, 4) and "pin 4 (2A)" in found.sentence


def test_too_fine_a_limit_is_told_with_the_worst_that_was_resolved():
    assert too_fine(TTL, {4: amperes(0.0), 5: amperes(0.0)}) == ""
    assert too_fine(HC, {4: amperes(0.0, 2e-6), 5: amperes(0.0, 5e-6)}) == "input leakage finer than 5 µA (the limit is 0.1 µA)"


@pytest.mark.parametrize(("part", "low", "alive"), [
    (TTL, amperes(-1.0e-3), True), (TTL, amperes(-2e-6), False), (TTL, None, False), (HC, amperes(-1.0e-3), False),
    (TTL, amperes(-1.0e-3, 2e-3), False)])
def test_an_input_that_delivers_is_alive_though_it_has_no_clamp(part, low, alive):
    assert is_alive(part, 4, low) is alive


def test_one_input_that_delivers_otherwise_than_its_sisters_is_named_with_both():
    currents = {p.number: {"IIL": amperes(-1.0e-3 - 4e-6 * n)} for n, p in enumerate(TTL.inputs)}
    assert judge_sisters(TTL, currents) == {}
    currents[9] = {"IIL": amperes(-0.3e-3)}
    ((pin, (found,)),) = judge_sisters(TTL, currents).items()
    assert pin == 9 and (found.outcome, found.state, found.weight) == (Outcome.ODD, "sisters", 28) and found.typical == pytest.approx(-1.01e-3, abs=0.01e-3)
    assert found.sentence == "pin 9 (3A) is unlike its sister inputs: it delivers 0.30 mA, the others 1 mA"
    currents[9] = {"IIL": amperes(-0.3e-3, 1e-3)}                                 # by less than its own uncertainty
    assert judge_sisters(TTL, currents) == {}
    few = {n: {"IIL": amperes(i)} for n, i in ((1, -1e-3), (2, -1e-3), (9, -0.3e-3))}
    assert judge_sisters(TTL, few) == {}                                          # three do not say which is odd


def test_thresholds_that_most_have_are_missing_at_one_and_not_at_many():
    def without(*pins):
        return {p.number: {"IIH": amperes(1e-6)} | ({} if p.number in pins else {"VT-": Quantity(1.4, 0.02, "V")}) for p in TTL.inputs}
    one = out_of_reach(TTL, without(5))
    assert list(one) == [5] and (one[5].quantity, one[5].outcome, one[5].pin) == ("VT+", Outcome.NOT_MEASURED, 5)
    assert sorted(out_of_reach(TTL, without(5, 9))) == [5, 9] and out_of_reach(TTL, without(1, 5, 9)) == {}
    assert out_of_reach(TTL, {n: {} for n in without()}) == {}
