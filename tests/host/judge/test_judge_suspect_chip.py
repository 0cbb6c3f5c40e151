"""Suspicions about the whole chip one by one: seating, supply current, another function.

Chips on paper (paper.py); what each failure looks like is common practice.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from sagbench.judge.case import Case
from sagbench.judge.failures import Failure
from sagbench.judge.suspect_chip import chip
from sagbench.parts import load_part
from sagbench.record import Contact, Finding, Outcome, PinContact, Verdict

TTL = load_part("7400")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])
OUTPUTS = (3, 6, 8, 11)


def told(record, kind, part=TTL):
    """(sentence, for, against) of the first suspicion of that kind; None if there is none."""
    return next(((s.sentence, s.speaks_for, s.speaks_against) for s in chip(Case(part, record)) if s.kind is kind), None)


def with_findings(record, **findings):
    """p6=(finding, ...): in the place of that pin's."""
    return replace(record, pins=tuple(replace(p, findings=findings.get(f"p{p.pin}", p.findings)) for p in record.pins))


def wrong(pin, words="answers wrongly in 6 of 8 checks"):
    return (Finding("logic", Outcome.BEYOND, words, pin, weight=90),)


@pytest.mark.parametrize(("advice", "because"), [
    ("see that it is seated", []),
    ("its pins conduct in no way as in any seating", ["its pins conduct like those of no seating"]),
    ("there is no contact at ground", ["nothing conducts to ground"]),
])
def test_a_chip_that_is_not_seated_may_have_lost_its_ground(advice, because):
    record = replace(SOUND, partial="not seated: look", verdict=Verdict.INCOMPLETE, advice=advice)
    assert told(record, Failure.SEATING) == ("it is not seated as it must be", [advice], [])
    assert told(record, Failure.OPEN_SUPPLY) == ("the bond wire of pin 7 (GND) is open, or all but open", because, [])


def test_too_much_supply_current_and_what_may_be_its_cause():
    high = tuple(replace(f, outcome=Outcome.BEYOND, sentence=f"too much with {f.state}", typical=f.value.value - 10e-3) for f in SOUND.supply)
    record = replace(SOUND, supply=high)
    plain = told(record, Failure.EXCESS_SUPPLY)
    assert plain == ("something inside draws supply current that it should not",
                     [*(f.sentence for f in high[:2]), "it is about the same in every state"], [])
    shorted = replace(record, contacts=(PinContact(3, Contact.SHORTED, ("ground (GND)",), "pin 3 (1Y) is shorted to ground (GND)"),))
    assert told(shorted, Failure.EXCESS_SUPPLY)[2] == ["a pin is shorted, which may be the cause"]
    opened = replace(record, contacts=(PinContact(3, Contact.OPEN, (), "pin 3 (1Y) makes no contact"),))
    assert told(opened, Failure.EXCESS_SUPPLY)[2] == []
    sick = with_findings(record, p6=wrong(6))
    assert told(sick, Failure.EXCESS_SUPPLY)[2] == ["pin 6 (2Y) is sick besides, which may be the cause"]
    assert told(SOUND, Failure.EXCESS_SUPPLY) is None
    uneven = replace(SOUND, supply=(replace(high[0], typical=high[0].value.value - 30e-3), *high[1:]))
    assert "it is about the same in every state" not in told(uneven, Failure.EXCESS_SUPPLY)[1]


def test_wrong_answers_all_over_are_another_part():
    def record(*pins):
        return with_findings(SOUND, **{f"p{pin}": wrong(pin) for pin in pins})
    assert told(record(3), Failure.WRONG_PART)[1] == []
    assert told(record(3, 6), Failure.WRONG_PART)[1] == ["2 of its 4 outputs answer wrongly"]
    assert told(record(*OUTPUTS), Failure.WRONG_PART)[1] == ["4 of its 4 outputs answer wrongly"]
    two = with_findings(load_two(), p3=wrong(3), p5=wrong(5))
    assert told(two, Failure.WRONG_PART, load_part("74LS20"))[1] == []                     # its outputs are 6 and 8
    two = with_findings(load_two(), p6=wrong(6), p8=wrong(8))
    assert told(two, Failure.WRONG_PART, load_part("74LS20"))[1] == ["2 of its 2 outputs answer wrongly"]


def load_two():
    """A part of two outputs."""
    return paper.chip(load_part("74LS20"), **paper.SPICE["74LS00"])


def test_inputs_that_behave_like_outputs_count_where_answers_are_wrong():
    leaky = {f"p{pin}": (Finding("IIH", Outcome.BEYOND, "takes much", pin, weight=65),) for pin in (1, 2)}
    assert "2 of its inputs behave like outputs of another part" in told(with_findings(SOUND, p3=wrong(3), **leaky), Failure.WRONG_PART)[1]
    assert told(with_findings(SOUND, **leaky), Failure.WRONG_PART)[1] == []
    one = {"p1": leaky["p1"]}
    assert told(with_findings(SOUND, p3=wrong(3), **one), Failure.WRONG_PART)[1] == []
    held = (Finding("input", Outcome.BEYOND, "does not come up", 1, weight=85),)
    assert told(with_findings(SOUND, p1=held), Failure.WRONG_PART)[1] == ["1 of its inputs drive back, as outputs of another part do"]


def test_answers_without_proper_levels_say_little_of_another_part():
    vague = {f"p{pin}": wrong(pin, "gives no proper level: 1.4 V, neither low nor high") for pin in OUTPUTS}
    assert told(with_findings(SOUND, **vague), Failure.WRONG_PART)[2] == ["all of them give no proper levels"]
    assert told(with_findings(SOUND, **{**vague, "p3": wrong(3)}), Failure.WRONG_PART)[2] == ["some of them give no proper levels"]


def test_pins_without_contact_and_wrong_answers():
    record = replace(with_findings(SOUND, p3=wrong(3)), contacts=(
        PinContact(9, Contact.OPEN, (), "pin 9 (3A) makes no contact"), PinContact(10, Contact.OPEN, (), "pin 10 (3B) makes no contact")))
    assert told(record, Failure.WRONG_PART)[1] == ["pin 9 (3A) makes no contact, which does not explain its answers",
                                                   "2 pins have no contact or a short at once"]
    explained = next(s for s in chip(Case(TTL, record), [(9, True)]) if s.kind is Failure.WRONG_PART)
    assert explained.speaks_against == ["pin 9 (3A) without contact explains all its answers"]
