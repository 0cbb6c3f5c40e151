"""Suspicions about inputs one by one: when they arise, and what is said for and against each.

Chips on paper (paper.py); what each failure looks like is common practice.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from sagbench.judge.case import Case
from sagbench.judge.failures import Failure
from sagbench.judge.suspect_inputs import NO_CONTACT, inputs, unmeasured
from sagbench.parts import load_part
from sagbench.record import Contact, Finding, Measured, Outcome, PinContact, Quantity

TTL = load_part("7400")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])
NAME, USUAL = "pin 4 (2A)", "0.96 mA"
INPUTS = (1, 2, 4, 5, 9, 10, 12, 13)


def given(record=SOUND, *findings, **figures):
    """The record with findings at pin 4 and figures of it replaced (None: not measured)."""
    was = record.pins[4 - 1]
    kept = [m for m in was.measured if m.name.replace("+", "") not in figures]
    new = [Measured(n.replace("VT", "VT+"), 4, Quantity(v, 1e-6, "A" if n == "IIL" else "V")) for n, v in figures.items() if v is not None]
    return paper.changed(record, 4, measured=(*kept, *new), findings=(*was.findings, *findings))


def beyond(quantity, sentence="so much is too much", **more):
    return Finding(quantity, more.pop("outcome", Outcome.BEYOND), sentence, 4, weight=60, **more)


def told(record, causes=(), part=TTL, pin=4):
    """Kind -> (sentence, speaks for, speaks against) of the suspicions at the pin."""
    return {s.kind: (s.sentence, s.speaks_for, s.speaks_against) for s in inputs(Case(part, record), causes) if s.pin == pin}


def score(record, kind, causes=(), part=TTL):
    return next(s.score for s in inputs(Case(part, record), causes) if s.kind is kind and s.pin == 4)


def test_a_sound_input_is_under_no_suspicion():
    assert list(inputs(Case(TTL, SOUND), ())) == []


@pytest.mark.parametrize(("findings", "figures", "to", "because"), [
    ((beyond("IIH", "takes 0.3 mA"),), {}, "ground", ["takes 0.3 mA"]),
    ((beyond("IIL", "delivers 3 mA"),), {"IIL": -3e-3}, "supply", ["delivers 3 mA"]),
    ((beyond("IIH", "takes 0.3 mA"), beyond("IIL", "delivers 3 mA")), {"IIL": -3e-3}, "a rail", ["takes 0.3 mA", "delivers 3 mA"]),
    ((beyond("input", "does not come up"),), {}, "a rail", ["does not come up"]),
    ((), {"IIL": -1.5e-3}, "supply", [f"{NAME} delivers 1.5 mA when low, the others {USUAL}"]),
    ((), {"IIL": None}, "supply", [f"what {NAME} delivers when low is off the scale"]),
])
def test_a_leak_and_where_to(findings, figures, to, because):
    sentence, pro, contra = told(given(SOUND, *findings, **figures))[Failure.LEAKY_INPUT]
    assert sentence == f"{NAME} leaks to {to}: punched through, or damaged by static" and (pro, contra) == (because, [])


def test_what_is_undecided_or_within_a_quarter_of_the_others_is_no_leak():
    assert told(given(SOUND, beyond("IIH", outcome=Outcome.UNSURE))) == {}
    assert Failure.LEAKY_INPUT not in told(given(SOUND, IIL=-1.15e-3)) and Failure.LEAKY_INPUT in told(given(SOUND, IIL=-1.25e-3))


def test_what_speaks_against_a_leak_of_one_input():
    as_much = told(given(SOUND, beyond("IIL", "delivers 1 mA"), IIL=-1.05e-3))[Failure.LEAKY_INPUT]
    assert as_much[2] == ["the other inputs deliver as much: rather the family, or a limit that does not hold for this make"]
    all_alike = SOUND
    for pin in INPUTS[:5]:
        leak = replace(beyond("IIH", "takes 0.3 mA", value=Quantity(0.3e-3 * (1 + pin / 10), 1e-6, "A")), pin=pin)
        all_alike = paper.changed(all_alike, pin, findings=(leak,))
    assert any("most other inputs are the same" in text for text in told(all_alike)[Failure.LEAKY_INPUT][2])


def test_an_input_off_the_scale_is_read_high_for_ever_or_costs_supply_current():
    lost = given(SOUND, IIL=None)
    hungry = paper.hungry(lost)
    off, high, more = f"what {NAME} delivers when low is off the scale", f"{NAME} is never read as low", "the supply current is higher than it should be"
    assert told(lost, [(4, True)])[Failure.LEAKY_INPUT][1] == [off, high]
    assert told(lost, [(4, False)])[Failure.LEAKY_INPUT][1] == [off]
    assert told(hungry)[Failure.LEAKY_INPUT][1] == [off, more] and told(hungry, [(4, True)])[Failure.LEAKY_INPUT][1] == [off, high]
    # Where hardly any could be measured nothing is off the scale.
    few = replace(lost, pins=tuple(replace(p, measured=()) if p.pin in INPUTS[3:] else p for p in lost.pins))
    assert unmeasured(Case(TTL, lost), 4) and not unmeasured(Case(TTL, lost), 5) and not unmeasured(Case(TTL, few), 4)


def test_a_threshold_away_from_the_others():
    far, near = (given(SOUND, beyond("VT+", "switches at 2.1 V"), VT=v) for v in (2.1, 1.45))
    shifted = f"the threshold of {NAME} has shifted"
    assert told(far)[Failure.THRESHOLD] == (shifted, ["switches at 2.1 V", "the other inputs switch at 1.41 V"], [])
    assert told(near)[Failure.THRESHOLD] == (shifted, ["switches at 2.1 V"], ["the other inputs switch at 1.41 V too"])
    assert told(given(SOUND, VT=1.8))[Failure.THRESHOLD][1] == ["the other inputs switch at 1.41 V"]
    assert Failure.THRESHOLD not in told(given(SOUND, VT=1.6))
    doubtful = given(SOUND, beyond("VT+", "perhaps", outcome=Outcome.ODD), VT=2.1)
    assert score(far, Failure.THRESHOLD) - score(doubtful, Failure.THRESHOLD) == pytest.approx(4)


def test_a_threshold_that_was_not_found():
    gone = given(SOUND, beyond("VT+", "not found", outcome=Outcome.NOT_MEASURED), VT=None)
    lost = "it was not found within the reach of the level drive, where the others' are"
    assert told(gone)[Failure.THRESHOLD][1:] == ([lost], [])
    silent = given(SOUND, VT=None)
    assert Failure.THRESHOLD not in told(silent)
    assert told(silent, [(4, True)])[Failure.THRESHOLD][1] == [lost]
    none = replace(silent, pins=tuple(replace(p, measured=tuple(m for m in p.measured if m.name != "VT+")) for p in silent.pins))
    assert told(none, [(4, True)])[Failure.THRESHOLD][1] == ["a threshold that no level reaches looks like an input that is stuck"]
    assert Failure.THRESHOLD not in told(none, [(5, True)])
    open_y = replace(silent, contacts=(PinContact(6, Contact.OPEN),))
    assert told(open_y, [(4, True)])[Failure.THRESHOLD][2] == [NO_CONTACT]


def test_hysteresis_counts_only_where_an_input_should_have_it():
    schmitt = load_part("7414")
    record = paper.chip(schmitt, **paper.SPICE["7400"])
    pin = schmitt.inputs[1].number
    little = replace(beyond("VH", "has hardly any hysteresis"), pin=pin)
    assert "has hardly any hysteresis" in told(paper.changed(record, pin, findings=(little,)), part=schmitt, pin=pin)[Failure.THRESHOLD][1]
    assert Failure.THRESHOLD not in told(given(SOUND, beyond("VH", "has hysteresis", outcome=Outcome.ODD)))


@pytest.mark.parametrize(("finding", "arises"), [
    (beyond("VIK", "holds -1.9 V"), True),
    (beyond("VIK", "holds -1.9 V", outcome=Outcome.ODD, state="sisters"), True),
    (beyond("VIK", "holds -1.5 V", outcome=Outcome.UNSURE), False),
])
def test_a_clamp_that_holds_too_much_is_damaged_or_has_a_resistance_before_it(finding, arises):
    made = told(given(SOUND, finding))
    assert (Failure.SERIES in made) is (Failure.CLAMP in made) is arises
    if arises:
        assert made[Failure.SERIES] == (f"there is a resistance between {NAME} and its input transistor: a bond, or the metal",
                                        [finding.sentence], [f"{NAME} delivers as much current when low as the others"])
        assert made[Failure.CLAMP] == (f"the clamp diode of {NAME} is damaged", [finding.sentence], [])


def test_a_resistance_before_an_input_lets_less_current_through_and_is_seen_high():
    weak = given(SOUND, beyond("IIL", "unlike its sisters", outcome=Outcome.ODD, state="sisters"), IIL=-0.5e-3)
    less = f"{NAME} delivers 0.50 mA when low, the others {USUAL}"
    assert told(weak)[Failure.SERIES][1:] == ([less], [])
    assert told(weak, [(4, True)])[Failure.SERIES][1] == [less, f"{NAME} is never read as low"]
    assert told(given(SOUND, IIL=-0.5e-3), [(4, True)])[Failure.SERIES][1] == [less, f"{NAME} is never read as low"]
    assert Failure.SERIES not in told(given(SOUND, IIL=-0.5e-3)) and Failure.SERIES not in told(given(SOUND, IIL=-0.5e-3), [(4, False)])
    assert Failure.SERIES not in told(given(weak, IIL=-0.8e-3))                  # five sixths of the others': no less
    lower = given(weak, VT=1.2)
    assert told(lower)[Failure.SERIES][1] == [less, "its threshold is lower by what the resistance drops"]
    clamped = replace(weak, pins=tuple(
        replace(p, measured=(*p.measured, Measured("VIK", p.pin, Quantity(-0.9, 0.02, "V")))) if p.pin in INPUTS else p for p in weak.pins))
    assert told(clamped)[Failure.SERIES][2] == ["its clamp shows no resistance"]


def test_an_input_without_a_clamp_of_its_own_is_told_by_its_note():
    noted = replace(SOUND, notes=(f"{NAME} has no clamp diode: early TTL had none",))
    assert told(noted)[Failure.CLAMP][1] == [f"{NAME} shows no junction to ground, and delivers its current all the same"]


def test_inputs_that_stuck_inside_explain_everything_share_one_suspicion():
    def wrong(record, *pins, words="answers wrongly"):
        return replace(record, pins=tuple(
            replace(p, findings=(Finding("logic", Outcome.BEYOND, words, p.pin, weight=90),)) if p.pin in pins else p for p in record.pins))
    one = told(wrong(SOUND, 6), [(4, True)])[Failure.STUCK_INPUT]
    assert one == (f"dead inside, or cut off: {NAME} stuck high", [f"all answers, right and wrong, are those of {NAME} stuck high"], [])
    two = told(wrong(SOUND, 6), [(4, True), (5, False)])[Failure.STUCK_INPUT]
    both = f"{NAME} stuck high or pin 5 (2B) stuck low"
    assert two == (f"dead inside, or cut off: {both}", [f"all answers, right and wrong, are those of {both}"], ["several inputs would explain it alike"])
    many = told(wrong(SOUND, 6, 8), [(4, True)])[Failure.STUCK_INPUT]
    assert many[1][1:] == ["one failure explains 2 wrong outputs"]
    follows = told(wrong(SOUND, 6, words="drives nothing"), [(4, True)])[Failure.STUCK_INPUT]
    assert follows[2] == ["the output follows any load, which no stuck input explains"]
    collector = load_part("7403")
    dead = wrong(paper.chip(collector, **paper.SPICE["7400"]), 6)
    assert told(dead, [(4, True)], collector)[Failure.STUCK_INPUT][2] == ["an open collector that is dead would look the same"]
    sick = told(given(wrong(SOUND, 6), beyond("IIH", "takes 0.3 mA")), [(4, True)])[Failure.STUCK_INPUT]
    assert sick[2] == [f"{NAME} is sick outside: see there"]
    unlike = given(wrong(SOUND, 6), beyond("IIL", "unlike", outcome=Outcome.ODD, state="sisters"))
    assert told(unlike, [(4, True)])[Failure.STUCK_INPUT][2] == [f"what {NAME} delivers is unlike the others: see there"]
    off = told(given(wrong(SOUND, 6), IIL=None), [(4, True)])[Failure.STUCK_INPUT]
    assert off[2] == [f"what {NAME} delivers when low is off the scale"]
    assert told(paper.hungry(wrong(SOUND, 6)), [(4, True)])[Failure.STUCK_INPUT][2] == ["that would not raise the supply current"]
    cut = replace(wrong(SOUND, 6), contacts=(PinContact(4, Contact.OPEN),))
    assert told(cut, [(4, True)]) == {}
