"""Suspicions about outputs one by one: when they arise, and what is said for and against each.

Chips on paper (paper.py); what each failure looks like is common practice.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from sagbench.judge.case import Case
from sagbench.judge.failures import Failure
from sagbench.judge.supply import LEAK
from sagbench.judge.suspect_outputs import COMMON, most_lost, outputs
from sagbench.parts import load_part
from sagbench.record import Contact, Finding, Outcome, PinContact

TTL = load_part("7400")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])
NAME = "pin 8 (3Y)"
LOW, HIGH = (paper.SPICE["7400"][way] for way in ("low", "high"))


def given(*findings, record=SOUND, low=LOW, high=HIGH, bare=(None, None), pin=8):
    """The record with findings in the place of those at the pin, and its lines; bare: levels without load."""
    loads = (*(paper.sinking(*low) if low else ()), *(paper.sourcing(*high) if high else ()))
    levels = {k: None if v is None else paper.volts(v) for k, v in zip(("low", "high"), bare, strict=True)}
    return paper.changed(record, pin, findings=findings, loads=loads, **levels)


def found(quantity, sentence, **more):
    return Finding(quantity, more.pop("outcome", Outcome.BEYOND), sentence, 8, weight=80, **more)


def told(record, causes=(), part=TTL, pin=8):
    """Kind -> (sentence, speaks for, speaks against) of the suspicions at the pin."""
    return {s.kind: (s.sentence, s.speaks_for, s.speaks_against) for s in outputs(Case(part, record), causes) if s.pin == pin}


def test_sound_outputs_and_those_without_contact_are_under_no_suspicion():
    assert list(outputs(Case(TTL, SOUND), ())) == []
    cut = replace(given(found("logic", "drives nothing")), contacts=(PinContact(8, Contact.OPEN),))
    assert list(outputs(Case(TTL, cut), ())) == []


def test_an_output_that_follows_any_load_is_dead_or_cut_off():
    follows, whole = f"{NAME} follows any load, up or down", f"{NAME} shows its junction to ground: its bond wire is whole"
    assert told(given(found("logic", f"{NAME} drives nothing"))) == {
        Failure.DEAD_OUTPUT: (f"the output stage of {NAME} is dead: it drives neither way", [follows, whole], []),
        Failure.OPEN_OUTPUT: (f"the way from the output stage to {NAME} is open", [follows], [whole])}
    # Where an input may be behind it: several outputs wrong that one stuck input explains, or an input without contact.
    no_contact = replace(given(found("logic", f"{NAME} drives nothing")), contacts=(PinContact(9, Contact.OPEN),))
    assert told(no_contact)[Failure.DEAD_OUTPUT][2] == [COMMON]
    two = given(Finding("logic", Outcome.BEYOND, "is wrong", 6, weight=90), record=given(found("logic", f"{NAME} drives nothing")), pin=6)
    assert told(two, [(9, True)])[Failure.DEAD_OUTPUT][2] == [COMMON] and told(two)[Failure.DEAD_OUTPUT][2] == []


def test_loads_that_pull_it_up_show_that_it_never_sinks():
    floating = (("weak", 0.05, 4.6), ("medium", 0.06, 4.9))
    dead = told(given(found("VOL", "does not sink"), low=floating))
    assert Failure.DEAD_OUTPUT in dead and dead[Failure.DEAD_OUTPUT][2] == []
    silent = told(given(found("VOH", "does not source"), low=(), high=(("weak", 0.02, 0.2), ("medium", 0.03, 0.3))))
    assert silent[Failure.DEAD_OUTPUT][2] == ["its low side could not be loaded"]
    collector = load_part("7403")
    record = paper.chip(collector, **paper.SPICE["7400"])
    off = told(given(found("VOL", "does not sink"), low=floating, high=(), record=record), part=collector)
    assert off[Failure.STUCK_OUTPUT] == (f"{NAME} is stuck off: it never sinks", [f"{NAME} never goes low under any load"], [])
    assert "an open collector has but one way to drive" in off[Failure.DEAD_OUTPUT][2]


@pytest.mark.parametrize(("words", "level", "because"), [
    ("is stuck low: it never goes high", "low", f"{NAME} is low in every step"),
    ("is stuck high: it never goes low", "high", f"{NAME} is high in every step"),
    ("does not let go: it should be off, and drives low", "low", f"{NAME} drives low when it should be off"),
    ("does not let go: it should be off, and drives high", "high", f"{NAME} drives high when it should be off"),
    ("gives no proper level: 1.40 V, neither low nor high", "high", f"{NAME} gives no proper level"),
])
def test_an_output_at_one_level_for_good(words, level, because):
    made = told(given(found("logic", f"{NAME} {words}")))[Failure.STUCK_OUTPUT]
    assert made == (f"{NAME} is stuck {level}", [because], [])
    more = told(paper.hungry(given(found("logic", f"{NAME} {words}"), found("IOZ", "leaks"))))[Failure.STUCK_OUTPUT]
    assert more[1] == [because, f"{NAME} leaks when it is off", "the supply current is higher than it should be"]
    assert Failure.STUCK_OUTPUT not in told(given(found("logic", f"{NAME} answers wrongly in 2 of 8 checks")))
    assert Failure.STUCK_OUTPUT not in told(given(found("logic", f"{NAME} {words}", state="strong")))    # under load only


def test_a_weak_pull_up():
    weak = (("weak", 0.43, 3.2), ("medium", 5.4, 2.5))
    sentence, pro, contra = told(given(found("VOH", "too low"), high=weak))[Failure.WEAK_PULL_UP]
    assert sentence == f"what pulls {NAME} high has become weak" and contra == []
    assert pro == [f"{NAME} is 0.66 V lower than its like at 5.4 mA", "its low side is as it should be"]
    short = told(given(found("IOS", "its pull-up has become weak")))[Failure.WEAK_PULL_UP]
    assert short[1] == ["shorted it delivers too little", "its low side is as it should be"]
    assert Failure.WEAK_PULL_UP not in told(given(found("IOS", "too much")))
    assert Failure.WEAK_PULL_UP not in told(given(found("ICC", "of no matter"), high=weak))
    both = told(given(found("VOH", "too low"), low=paper.plus(LOW, 80), high=paper.plus(HIGH, -80)))
    assert both[Failure.WEAK_PULL_UP][2] == ["its low side shows a resistance too", "its low side is bad too"]
    assert any(text.startswith("the high side has about 80 ohm more too") for text in both[Failure.SERIES][1])


def test_a_leak_keeps_a_level_away_without_any_load():
    raised = tuple((p, i, v + 0.3) for p, i, v in LOW)
    record = SOUND
    for pin, low in ((3, 0.02), (6, 0.02), (11, 0.02)):
        record = given(record=record, bare=(low, 3.9), pin=pin)
    up = told(given(found("VOL", "too high"), low=raised, bare=(0.32, 3.9), record=record))[Failure.LEAKY_OUTPUT]
    assert up == (f"{NAME} leaks to supply", ["its low level is 0.30 V too high without load, and hardly more under load"], [])
    pulled = tuple((p, i, v - 0.5) for p, i, v in HIGH)
    down = told(given(found("VOH", "too low"), high=pulled, bare=(0.02, 3.4), record=record))[Failure.LEAKY_OUTPUT]
    assert down == (f"{NAME} leaks to ground", ["its high level is 0.50 V too low without load, and hardly more under load"], [])
    both = told(given(found("VOL", "too high"), low=raised, high=pulled, bare=(0.32, 3.4), record=record))[Failure.LEAKY_OUTPUT]
    assert both[0] == f"{NAME} leaks to a rail" and len(both[1]) == 2
    assert Failure.LEAKY_OUTPUT not in told(given(found("VOL", "too high"), bare=(0.03, 3.9), record=record))


def test_a_leak_is_told_by_what_flows_when_it_is_off_and_at_rest():
    assert told(given(found("IOZ", "0.3 mA when off")))[Failure.LEAKY_OUTPUT] == (f"{NAME} leaks to a rail", ["0.3 mA when off"], [])
    holds = told(given(found("logic", "does not let go: it drives low")))[Failure.LEAKY_OUTPUT]
    assert holds[1] == [f"{NAME} does not let go when it should be off"]
    vague = told(given(found("logic", "gives no proper level, neither low nor high")))[Failure.LEAKY_OUTPUT]
    assert vague[1] == [f"{NAME} gives no proper level"]
    stuck = told(paper.hungry(given(found("logic", "is stuck low"), found("IOZ", "leaks"))))[Failure.LEAKY_OUTPUT]
    assert stuck[1:] == (["leaks", "the supply current is higher than it should be"], [f"{NAME} is at one level for good"])
    for words, to in (("leaks to supply", "supply"), ("leaks to ground", "ground"), ("and pin 11 (4Y) leak to each other", "another output")):
        made = told(given(found("ICC", f"{NAME} {words}: so much more", state=LEAK)))[Failure.LEAKY_OUTPUT]
        assert made == (f"{NAME} leaks to {to}", [f"{NAME} {words}: so much more"], [])


def test_most_outputs_without_their_low_level_have_something_in_common():
    record = SOUND
    for count, pin in enumerate((3, 6, 8, 11), 1):
        lost = Finding("VOL", Outcome.BEYOND, "too high", pin, weight=70)
        record = paper.changed(record, pin, findings=(lost,))
        assert most_lost(Case(TTL, record)) is (count >= 3)
