"""Findings together: verdict, reasons, advice.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from sagbench.judge.logic import Answer, give_way, is_right, judge_pin, record, without_consequences, wrong_part
from sagbench.judge.verdict import (
    CONTACT_WEIGHT,
    GAP_WEIGHT,
    advice,
    contact_findings,
    pin_sentence,
    reasons,
    verdict,
    weigh_gaps,
)
from sagbench.parts import Expect, load_part
from sagbench.record import Contact, Finding, Outcome, PinContact, Verdict

PART = load_part("7400")
BEYOND = Finding("VOL", Outcome.BEYOND, "too high", 6, weight=70)
ODD = Finding("VOL", Outcome.ODD, "unlike its sisters", 8, weight=30)
UNSURE = Finding("ICC", Outcome.UNSURE, "too near", weight=15)
FINE = Finding("ICC", Outcome.UNSURE, "too fine for this fixture", weight=0)
GOOD = Finding("VOL", Outcome.WITHIN, "good", 3)
GAP = Finding("VOH", Outcome.NOT_MEASURED, "not measured", 3, weight=5)
REACH = Finding("VOL", Outcome.NOT_MEASURED, "the load points do not reach it", 3, out_of_reach=True)


@pytest.mark.parametrize(
    ("findings", "expected"),
    [
        ([GOOD], Verdict.SOUND),
        ([GOOD, BEYOND, ODD], Verdict.FAILED),
        ([GOOD, ODD, UNSURE], Verdict.TIRED),
        ([GOOD, UNSURE], Verdict.UNSURE),
        ([GOOD, GAP], Verdict.UNSURE),
        ([GOOD, REACH], Verdict.SOUND),
        ([GOOD, FINE], Verdict.SOUND),
    ],
)
def test_the_verdict_follows_the_worst_that_is_sure(findings, expected):
    assert verdict(findings, problem="", partial="") is expected


def test_interrupted_or_not_seated_is_no_verdict_whatever_was_found():
    assert verdict([BEYOND], problem="", partial="interrupted") is Verdict.INCOMPLETE
    assert verdict([GOOD], problem="supply pin open", partial="") is Verdict.INCOMPLETE


def test_a_chip_that_may_draw_more_than_the_fixture_gives_is_not_condemned_and_not_unfinished():
    trip = Finding("ICC", Outcome.UNSURE, "it draws more than the fixture can give", weight=15)
    assert verdict([trip], problem=trip.sentence, partial="") is Verdict.UNSURE
    assert verdict([UNSURE], problem="the supply pin is open", partial="") is Verdict.INCOMPLETE


def test_a_chip_that_cannot_be_powered_for_a_fault_of_its_own_has_failed():
    assert verdict([BEYOND], problem="supply and ground shorted", partial="") is Verdict.FAILED


def test_reasons_come_heaviest_first_and_what_is_sure_before_what_is_odd():
    heavy_odd = Finding("ICC", Outcome.ODD, "odd", weight=90)
    assert [f.sentence for f in reasons([GOOD, heavy_odd, ODD, BEYOND])] == ["too high", "odd", "unlike its sisters"]


def test_advice_is_one_sentence_with_the_first_reason():
    assert (
        advice(PART.name, Verdict.FAILED, [BEYOND], problem="", partial="", missing=()) == "Do not use this 7400: too high."
    )
    sound = [advice(PART.name, Verdict.SOUND, [], problem="", partial="", missing=["VOL at 64 mA", "IOS"][:n]) for n in (1, 2)]
    assert all("as far as it was measured" in text and "VOL at 64 mA" in text for text in sound)
    assert "and 1 more" in sound[1] and "more" not in sound[0]
    assert "as far as" not in advice(PART.name, Verdict.SOUND, [], problem="", partial="", missing=[])


def test_a_short_is_told_once_and_by_the_signal_pin():
    def short(pin, to, sentence):
        return PinContact(pin, Contact.SHORTED, (to,), sentence)

    pins = [
        short(6, "ground (GND)", "pin 6 (2Y) is shorted to ground (GND)"),
        short(7, "pin 6 (2Y)", "pin 7 (GND) is shorted to pin 6 (2Y)"),
    ]
    assert [f.pin for f in contact_findings(PART, pins)] == [6]
    pair = [
        short(3, "pin 6 (2Y)", "pin 3 (1Y) is shorted to pin 6 (2Y)"),
        short(6, "pin 3 (1Y)", "pin 6 (2Y) is shorted to pin 3 (1Y)"),
    ]
    assert [f.pin for f in contact_findings(PART, pair)] == [3]


# ------------------------------------------------------------------ logic in words
def seen(pin, *levels):
    """Answers of one pin: (expected, volts)."""
    return [Answer(i, pin, Expect(e), v) for i, (e, v) in enumerate(levels)]


def test_levels_are_read_by_vil_and_vih():
    for expect, volts, right in (
        ("L", 0.79, True),
        ("L", 0.81, False),
        ("H", 2.01, True),
        ("H", 1.99, False),
        ("L", None, None),
    ):
        assert is_right(PART, Answer(0, 3, Expect(expect), volts)) is right


@pytest.mark.parametrize(
    ("levels", "words"),
    [
        ((("L", 0.1), ("H", 0.1)), "stuck low"),
        ((("L", 3.5), ("H", 3.5)), "stuck high"),
        ((("L", 1.4), ("H", 3.5)), "neither low nor high"),
        ((("L", 0.1), ("H", 0.1), ("H", 3.5)), "answers wrongly in 1 of 3 checks"),
    ],
)
def test_wrong_answers_are_put_in_words(levels, words):
    finding = judge_pin(PART, 3, seen(3, *levels))
    assert finding.outcome is Outcome.BEYOND and words in finding.sentence and "pin 3 (1Y)" in finding.sentence


def test_an_output_that_follows_any_load_drives_nothing():
    right_by_chance = seen(3, ("L", 0.1), ("H", 3.5))
    weakly = seen(3, ("L", 4.9), ("H", 0.0))
    assert "drives nothing" in judge_pin(PART, 3, right_by_chance, weakly).sentence
    assert judge_pin(PART, 3, right_by_chance, seen(3, ("L", 0.1), ("H", 3.5))).outcome is Outcome.WITHIN


def test_not_looked_at_is_not_measured():
    assert judge_pin(PART, 3, ()).outcome is Outcome.NOT_MEASURED
    assert judge_pin(PART, 3, seen(3, ("L", 0.1), ("H", None))).outcome is Outcome.NOT_MEASURED


def test_an_off_output_must_follow_both_ways():
    part = load_part("74LS125")
    off = Answer(0, 3, Expect.OFF, 4.9, 0.05)
    holds_low, holds_high = Answer(0, 3, Expect.OFF, 0.3, 0.0), Answer(0, 3, Expect.OFF, 4.9, 3.4)
    assert is_right(part, off) and is_right(part, holds_low) is False and is_right(part, holds_high) is False
    assert (
        "does not let go"
        in judge_pin(part, 3, [holds_low, Answer(1, 3, Expect.LOW, 0.2), Answer(2, 3, Expect.HIGH, 3.4)]).sentence
    )


def test_giving_way_under_load_is_a_finding_only_where_the_unloaded_answer_was_right():
    loaded = seen(3, ("L", 1.2), ("H", 3.0))
    assert (
        "gives way under the strong load" in give_way(PART, 3, "strong", loaded, {(0, 3): True, (1, 3): True}).sentence
    )
    assert give_way(PART, 3, "strong", loaded, {(0, 3): False, (1, 3): True}) is None


def test_no_output_right_is_more_likely_the_wrong_part():
    bad = [Finding("logic", Outcome.BEYOND, "wrong", p, weight=90) for p in (3, 6, 8, 11)]
    assert "see that it is one" in wrong_part(PART, bad).sentence
    assert wrong_part(PART, [*bad[:3], Finding("logic", Outcome.WITHIN, "right", 11)]) is None
    vague = [judge_pin(PART, p, seen(p, ("L", 0.9), ("H", 3.4))) for p in (3, 6, 8, 11)]  # as through a bad ground
    assert all("no proper level" in f.sentence for f in vague) and wrong_part(PART, vague) is None


def test_a_wrong_answer_that_a_shorted_input_explains_does_not_count_and_a_right_one_does():
    low_steps = [i for i, s in enumerate(PART.sequence) if s.expect.get(3) is Expect.LOW]  # needs 1A and 1B high
    given = [
        Answer(low_steps[0], 3, Expect.LOW, 3.5),
        Answer(low_steps[0], 6, PART.sequence[low_steps[0]].expect[6], 0.1),
    ]
    kept = without_consequences(PART, given, {1: False})
    assert given[0] not in kept
    assert given[0] in without_consequences(PART, given, {1: True})


def test_what_is_undecided_says_why_and_what_may_settle_it():
    near = Finding("VOL", Outcome.UNSURE, "pin 3 (1Y) sinks 4 mA at 0.39 V; that is too near the limit of 0.40 V to tell", 3, weight=15)
    said = [advice(PART.name, Verdict.UNSURE, [near], problem="", partial="", missing=(), calibrated=done) for done in (False, True)]
    assert said[0].endswith("A calibrated fixture may tell: `sagbench fixture calibrate`.") and said[1].endswith("0.40 V to tell.")
    assert "calibrate" not in advice(PART.name, Verdict.UNSURE, [UNSURE], problem="", partial="", missing=(), calibrated=False)
    gap = advice(PART.name, Verdict.UNSURE, [], problem="", partial="", missing=("pin 17 (G): VOL at 20 mA was not measured",))
    assert gap.endswith("neither cleared nor condemned: pin 17 (G): VOL at 20 mA was not measured.")


# ------------------------------------------------------------------ one pin, and what is made of gaps
OPEN = PinContact(3, Contact.OPEN, (), "pin 3 (1Y) makes no contact")
TOUCHES = PinContact(3, Contact.CONNECTED)
HEAVIER = Finding("IOS", Outcome.BEYOND, "far too much", 3, weight=99)


@pytest.mark.parametrize(("findings", "contact", "expected"), [
    ([GOOD], OPEN, (Outcome.BEYOND, OPEN.sentence)),
    ([], PinContact(3, Contact.SHORTED, (), "pin 3 (1Y) is shorted"), (Outcome.BEYOND, "pin 3 (1Y) is shorted")),
    ([GOOD, BEYOND, HEAVIER], TOUCHES, (Outcome.BEYOND, "far too much")),
    ([GOOD, UNSURE], TOUCHES, (Outcome.UNSURE, "too near")),
    ([GOOD, FINE], TOUCHES, (Outcome.WITHIN, "pin 3 (1Y) is within its limits")),
    ([GAP], TOUCHES, (Outcome.NOT_MEASURED, "not measured")),
    ([GOOD, GAP], TOUCHES, (Outcome.NOT_MEASURED, "not measured")),
    ([REACH], TOUCHES, (Outcome.NOT_MEASURED, "the load points do not reach it")),
    ([GOOD, REACH], None, (Outcome.WITHIN, "pin 3 (1Y) is within its limits")),
    ([], TOUCHES, (Outcome.WITHIN, "pin 3 (1Y) makes contact")),
    ([], PinContact(3, Contact.NOT_EXPECTED), (Outcome.NOT_MEASURED, "pin 3 (1Y) was not measured")),
    ([], None, (Outcome.NOT_MEASURED, "pin 3 (1Y) was not measured")),
])
def test_a_pin_is_as_good_as_the_heaviest_that_is_known_of_it(findings, contact, expected):
    assert pin_sentence("pin 3 (1Y)", findings, contact) == expected


def test_only_gaps_that_a_fixture_could_fill_count_against_a_verdict():
    bare = Finding("VOH", Outcome.NOT_MEASURED, "not loaded", 3)
    weighed = weigh_gaps([GOOD, bare, REACH, BEYOND])
    assert [f.weight for f in weighed] == [0, GAP_WEIGHT, 0, 70] and weighed[1] == replace(bare, weight=GAP_WEIGHT)
    assert verdict(weigh_gaps([GOOD, bare]), problem="", partial="") is Verdict.UNSURE


def test_reasons_of_one_weight_come_by_pin_and_what_has_no_weight_is_none():
    two = [Finding("VOL", Outcome.BEYOND, f"pin {pin}", pin, weight=70) for pin in (11, None, 4)]
    assert [f.sentence for f in reasons([*two, FINE, GAP, REACH, GOOD])] == ["pin None", "pin 4", "pin 11"]


def test_advice_for_each_verdict():
    def said(what, why=(), **more):
        return advice("7400", what, why, **{"problem": "", "partial": "", "missing": ()} | more)
    evident = Finding("logic", Outcome.BEYOND, "pin 3 (1Y) is stuck low (evidence: 8 of 8)", 3, weight=90)
    assert said(Verdict.FAILED, [evident, BEYOND]) == "Do not use this 7400: pin 3 (1Y) is stuck low."
    assert said(Verdict.TIRED, [ODD]) == "This 7400 still meets its limits, but do not rely on it: unlike its sisters."
    assert said(Verdict.INCOMPLETE, problem="no supply", partial="stopped") == "No verdict: no supply"
    assert said(Verdict.INCOMPLETE, partial="stopped") == "No verdict: stopped"
    assert said(Verdict.UNSURE) == "This 7400 is neither cleared nor condemned: not everything could be measured."
    assert said(Verdict.SOUND) == "This 7400 can be used: every figure is within its limit and in character."
    left = said(Verdict.SOUND, missing=["VOL at 64 mA was not measured: too heavy", "IOS; too hot", "VIK"])
    assert left.endswith("Not measured: VOL at 64 mA, and 2 more (see the list).")
    assert said(Verdict.SOUND, missing=["IOS; too hot"]).endswith("Not measured: IOS.")
    near = "pin 3 (1Y) delivers 25.3 mA when shorted to ground; that is too near the limit of 18 mA to tell, extrapolated as it is"
    undecided = said(Verdict.SOUND, open_=[near, "VIK"])
    assert undecided.endswith("Not decided: pin 3 (1Y) delivers 25.3 mA when shorted to ground; that is too near the limit of 18 mA to tell, "
                              "and 1 more (see the list).") and "Not measured" not in undecided
    assert said(Verdict.SOUND, open_=[near], missing=["VIK"]).endswith(" to tell. Not measured: VIK.")


def test_contacts_are_told_signals_first_and_opens_weigh_a_little_less():
    pins = [PinContact(14, Contact.SHORTED, ("pin 2 (1B)",), "pin 14 (VCC) is shorted to pin 2 (1B)"),
            PinContact(2, Contact.SHORTED, ("supply (VCC)",), "pin 2 (1B) is shorted to supply (VCC)"),
            PinContact(9, Contact.OPEN, (), "pin 9 (3A) makes no contact"), PinContact(1, Contact.CONNECTED)]
    assert [(f.pin, f.outcome, f.weight) for f in contact_findings(PART, pins)] == [
        (2, Outcome.BEYOND, CONTACT_WEIGHT), (9, Outcome.BEYOND, CONTACT_WEIGHT - 2)]


def test_a_play_of_the_test_is_recorded_with_its_checks_and_what_missed():
    made = record(PART, "open", 8, [*seen(3, ("L", 0.1), ("H", 3.5), ("H", 0.12345)), Answer(3, 6, Expect.LOW, None), Answer(4, 6, Expect.LOW, 3.5)])
    assert (made.load, made.steps, made.checks) == ("open", 8, 4)                 # what was not looked at is no check
    assert [(m.step, m.pin, m.expected, m.volts, m.load) for m in made.misses] == [(2, 3, "H", 0.1235, "open"), (4, 6, "L", 3.5, "open")]


def test_the_worst_of_what_gives_way_is_told_and_the_first_of_what_is_wrong():
    right = {(step, 3): True for step in range(4)}
    low = give_way(PART, 3, "strong", seen(3, ("L", 1.2), ("L", 1.9), ("H", 3.4)), right)
    assert low.sentence == "pin 3 (1Y) is right without load but gives way under the strong load: 1.90 V where it should be low"
    high = give_way(PART, 3, "medium", seen(3, ("L", 0.2), ("H", 1.7), ("H", 1.1)), right)
    assert high.sentence == "pin 3 (1Y) is right without load but gives way under the medium load: 1.10 V where it should be high"
    assert (high.state, high.weight, high.pin, high.outcome) == ("medium", 75, 3, Outcome.BEYOND)
    assert give_way(PART, 6, "medium", seen(3, ("H", 1.1)), right) is None
    first = judge_pin(PART, 3, seen(3, ("L", 0.1), ("H", 0.12), ("H", 3.5))).sentence
    assert "answers wrongly in 1 of 3 checks, first in step 2: 0.12 V where it should be high" in first
