"""Diagnoses of what several pins have in common, and one row a failure whatever the number of pins.

Records on paper (paper.py); what each failure looks like is common practice.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

from host.judge import paper
from host.judge.test_judge_diagnosis import SOUND, TTL, against, sick
from sagbench.judge.diagnosis import diagnose
from sagbench.judge.failures import Failure
from sagbench.parts import load_part
from sagbench.record import Finding, Outcome, Quantity

INPUTS = (1, 2, 4, 5, 9, 10, 12, 13)
OUTPUTS = (3, 6, 8, 11)


def takes(pin, milliamps):
    return against(pin, "IIH", f"pin {pin} takes {milliamps} mA when high", value=Quantity(milliamps / 1e3, 5e-6, "A"))


def told(record, part=TTL):
    return diagnose(part, record)


def test_two_leaking_inputs_are_one_row_with_both_pins():
    made = told(sick(SOUND, takes(1, 0.3), takes(9, 0.2)))
    leaks = [d for d in made if d.kind == Failure.LEAKY_INPUT]
    assert len(leaks) == 1 and made[0] is leaks[0] and leaks[0].pin == 1
    assert "pin 1 (1A)" in leaks[0].sentence and leaks[0].sentence.endswith("likewise pin 9 (3A)")
    assert {"pin 1 takes 0.3 mA when high", "pin 9 takes 0.2 mA when high"} <= set(leaks[0].speaks_for)


def test_probabilities_of_what_is_told_together_add_up_and_stay_below_one():
    made = told(sick(SOUND, takes(1, 0.3), takes(9, 0.2)))
    assert sum(d.probability for d in made) <= 1 + 1e-9
    assert made[0].probability > told(sick(SOUND, takes(1, 0.3)))[0].probability


def test_inputs_that_take_the_very_same_current_beside_wrong_answers_are_outputs_of_another_part():
    wrong = against(3, "logic", "pin 3 (1Y) answers wrongly in 4 of 8 checks")
    same, unlike = (told(sick(SOUND, takes(4, 0.569), takes(9, other), wrong)) for other in (0.567, 0.267))
    assert same[0].kind == Failure.WRONG_PART and "the very same current" in "".join(same[0].speaks_for)
    leak = {d.kind: d.probability for d in unlike}[Failure.LEAKY_INPUT]
    assert leak > 10 * {d.kind: d.probability for d in same}.get(Failure.LEAKY_INPUT, 0.0)


def test_most_inputs_beyond_their_limits_alike_are_another_family():
    every = [against(n, "IIL", f"pin {n} delivers 2.2 mA when low", value=Quantity(-2.2e-3, 1e-5, "A")) for n in INPUTS]
    assert told(sick(SOUND, *every))[0].kind == Failure.WRONG_FAMILY
    assert Failure.WRONG_FAMILY not in [d.kind for d in told(sick(SOUND, *every[:2]))]


def short_of_high(record, volts):
    found = [against(n, "VOH", f"pin {n} sources 0.4 mA only at {v} V", value=paper.volts(v)) for n, v in zip(OUTPUTS, volts, strict=False)]
    return sick(record, *found)


def test_high_levels_that_are_low_alike_are_a_resistance_in_the_supply():
    made = told(short_of_high(SOUND, (2.30, 2.28, 2.31, 2.29)))[0]
    assert (made.kind, made.pin) == (Failure.SERIES, 14) and "in the way of pin 14 (VCC)" in made.sentence
    for volts in ((2.30, 1.80, 2.31, 2.29), (2.30, 2.28)):  # unlike each other; two of the four hold
        assert (Failure.SERIES, 14) not in [(d.kind, d.pin) for d in told(short_of_high(SOUND, volts))]


def test_what_cmos_draws_at_rest_may_be_a_leaking_output_and_what_ttl_draws_not():
    hungry = Finding("ICC", Outcome.BEYOND, "its supply current when quiescent is 0.15 mA", value=Quantity(150e-6, 3e-6, "A"), weight=80)
    part = load_part("74HC00")
    cmos = paper.chip(part, **paper.SPICE["74HC00"])
    kinds = [d.kind for d in told(replace(sick(cmos, hungry), supply=(hungry,)), part)[:2]]
    assert kinds == [Failure.EXCESS_SUPPLY, Failure.LEAKY_OUTPUT]
    assert Failure.LEAKY_OUTPUT not in [d.kind for d in told(replace(sick(SOUND, hungry), supply=(hungry,)))]
