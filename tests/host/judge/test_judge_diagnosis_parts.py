"""Diagnoses of whole chips: another function, another family, ground, supply; and what one output's failure cannot explain.

Records on paper (paper.py); currents and levels of the families from data books, what each failure looks like is common
practice.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from host.judge import paper
from host.judge.test_judge_diagnosis import SOUND, TTL, WEAK, against, first, sick
from sagbench.judge.bare import is_another_part, without_causes
from sagbench.judge.contact import judge_contact
from sagbench.judge.diagnosis import diagnose
from sagbench.judge.failures import Failure
from sagbench.judge.fingerprint import by_supply, guess, mismatch
from sagbench.judge.identity import Likeness
from sagbench.judge.supply import CUT_OFF
from sagbench.parts import load_part
from sagbench.plan.seat import Seat
from sagbench.record import Contact, Finding, LogicMiss, Outcome, PinContact, Quantity

OUTPUTS = (3, 6, 8, 11)


def wrong(pins, words="answers wrongly in 6 of 8 checks"):
    return [against(n, "logic", f"pin {n} {words}") for n in pins]


def kinds(record, part=TTL, likenesses=()):
    return [d.kind for d in diagnose(part, record, (), likenesses)]


def test_half_of_the_outputs_wrong_at_once_is_rather_another_part():
    record = sick(SOUND, *wrong((3, 8), "drives nothing, it follows any load: open"))
    assert Failure.WRONG_PART in kinds(record)[:2]
    assert Failure.WRONG_PART not in kinds(sick(SOUND, *wrong((3,), "drives nothing, it follows any load: open")))


def test_the_name_of_the_other_part_stands_in_the_diagnosis():
    like = [Likeness("08", "quad 2-input AND gate", 32)]
    made = diagnose(TTL, sick(SOUND, *wrong(OUTPUTS)), (), like)[0]
    assert made.kind == Failure.WRONG_PART and "the 08 (quad 2-input AND gate)" in made.sentence
    assert made.probability > 0.9


def test_inputs_that_drive_back_are_outputs_of_another_part_but_not_all_of_them():
    driven = [against(n, "input", f"pin {n} was forced to the other level") for n in (1, 4)]
    assert kinds(sick(SOUND, *driven))[0] == Failure.WRONG_PART
    inputs = [p.number for p in TTL.inputs]
    every = [against(n, "input", f"pin {n} does not follow when it is driven") for n in inputs]
    assert Failure.WRONG_PART not in kinds(sick(SOUND, *every))


def test_schmitt_inputs_without_hysteresis_are_no_schmitt_inputs():
    part = load_part("74132")
    record = paper.chip(part, **paper.SPICE["7400"])
    pins = [p.number for p in part.inputs]
    flat = [against(n, "VH", f"pin {n} has a hysteresis of 0.02 V") for n in pins]
    assert kinds(sick(record, *flat), part)[0] == Failure.WRONG_PART
    assert Failure.WRONG_PART not in kinds(sick(record, flat[0]), part), "one of eight is a failure of its own"


def test_two_pins_without_contact_and_no_right_answer():
    """A 7420 has nothing at two pins that a 7410 has inputs at."""
    part = load_part("74L10")
    missing = [PinContact(n, Contact.OPEN, (), f"pin {n} makes no contact") for n in (3, 11)]
    outputs = [p.number for p in part.outputs]
    record = sick(paper.chip(part, **paper.SPICE["7400"]), *wrong(outputs), contacts=missing)
    assert Failure.WRONG_PART in kinds(record, part)[:2]


@pytest.mark.parametrize(("marked", "amperes", "families"), [
    ("74HC244", 0.105, {"S"}), ("74HCT163", 0.0705, {"S", "74"}), ("74LS00", 0.024, {"S", "H", "AS"})])
def test_a_current_that_was_cut_off_may_be_usual_in_another_family(marked, amperes, families):
    part = load_part(marked)
    assert families & set(by_supply(part, amperes))
    cut = Finding("ICC", Outcome.BEYOND, "it drew far more than it may", value=Quantity(amperes, 0.01, "A"), state=CUT_OFF, weight=95)
    made = kinds(replace(sick(paper.chip(part, **paper.SPICE["74HC00"]), cut)), part)
    assert set(made[:2]) == {Failure.EXCESS_SUPPLY, Failure.WRONG_FAMILY}


def test_a_current_of_no_family_is_none_and_may_be_another_parts():
    part = load_part("74HC00")
    assert by_supply(part, 0.6) == []
    cut = Finding("ICC", Outcome.BEYOND, "it drew far more than it may", value=Quantity(0.6, 0.01, "A"), state=CUT_OFF, weight=95)
    assert kinds(sick(paper.chip(part, **paper.SPICE["74HC00"]), cut), part)[:2] == [Failure.EXCESS_SUPPLY, Failure.WRONG_PART]


def test_ground_is_no_suspect_while_most_outputs_hold_their_level():
    lost = against(8, "VOL", "pin 8 (3Y) sinks 14.2 mA only at 0.78 V")
    made = diagnose(TTL, sick(SOUND, lost, p8=dict(loads=(*paper.sinking(*WEAK), *paper.sourcing(*paper.SPICE["7400"]["high"])))))
    assert made[0].kind == Failure.LOST_GAIN and not any(d.pin == 7 for d in made[:2])


def test_an_open_collector_that_never_sinks_is_dead():
    part = load_part("7403")
    never = (("trickle", 0.025, 2.4), ("weak", 0.03, 4.73), ("medium", 0.031, 4.93))
    record = paper.chip(part, **paper.SPICE["7400"])
    lost = against(8, "VOL", "pin 8 (3Y) sinks 25 µA only at 2.41 V")
    made = first(sick(record, lost, p8=dict(loads=paper.sinking(*never))), part=part)
    assert (made.kind, made.pin) == (Failure.DEAD_OUTPUT, 8)


def test_what_is_undecided_for_want_of_resolution_is_no_suspicion():
    """Seen with a 74H11: two sound outputs "leaked" beside a dead one, for their IOS could not be told."""
    unsure = Finding("IOS", Outcome.UNSURE, "too near the limit to tell", 6, weight=0.0)
    record = sick(SOUND, *wrong((8,), "drives nothing, it follows any load: open"), unsure)
    assert {d.pin for d in diagnose(TTL, record)} <= {8, None}


def test_many_kilohms_in_a_bond_are_no_contact():
    part, seat = load_part("74LS00"), Seat(24, 14)
    drops = {seat.position(p.number): 0.7 for p in part.pins if p.number != 7} | {seat.position(14): 4.7}
    report = judge_contact(part, seat, drops, {})
    supply = next(p for p in report.pins if p.pin == 14)
    assert supply.contact is Contact.OPEN and "kilohms" in supply.sentence and report.problem.startswith("No contact at pin 14")


@pytest.mark.parametrize(("vt", "told"), [(1.38, True), (1.75, False), (2.3, False)])
def test_hct_marked_hc_is_told_by_its_thresholds_alone(vt, told):
    """All else of the two families is the same; HC switches at half of the supply, give or take a quarter of a volt."""
    part = load_part("74HC00")
    record = paper.chip(part, **(paper.SPICE["74HC00"] | {"vt": vt}))
    found = mismatch(part, record, guess(part, record))
    assert (found is not None) is told
    if found:
        assert "74HCT" in found.sentence


def test_an_input_that_delivers_as_much_as_its_like_does_not_leak():
    """Seen with an F74 marked AS74: all inputs a few per cent beyond the limit of the other family."""
    alike = paper.chip(TTL, **(paper.SPICE["7400"] | {"iil": -1.65e-3}))
    over = [against(n, "IIL", f"pin {n} delivers 1.65 mA when low; the limit is 1.6 mA") for n in (1, 2)]
    assert Failure.LEAKY_INPUT not in kinds(sick(alike, *over))
    alone = against(1, "IIL", "pin 1 (1A) delivers 3 mA when low; the limit is 1.6 mA")
    from_one = paper.Measured("IIL", 1, paper.amperes(-3e-3), paper.volts(0.4))
    assert kinds(sick(SOUND, alone, p1=dict(measured=(from_one,))))[0] == Failure.LEAKY_INPUT


def test_a_schmitt_trigger_marked_as_a_gate_is_another_part():
    odd = against(1, "VH", "pin 1 (1A) has a hysteresis of 0.80 V; it must be at most 0.30 V")
    assert kinds(sick(SOUND, odd))[0] == Failure.WRONG_PART


def test_a_resistance_before_a_cmos_input_shows_at_its_clamp():
    """2.2 kohm and half a milliampere: a volt more than its sisters; nothing else of it shows at rest."""
    unlike = Finding("VIK", Outcome.ODD, "pin 4 is unlike its sister inputs: it holds -5 V", 4, state="sisters", weight=28)
    assert Failure.SERIES in kinds(sick(paper.chip(load_part("74HC00"), **paper.SPICE["74HC00"]), unlike), load_part("74HC00"))[:2]


def test_outputs_that_drive_nothing_are_inputs_of_another_part_where_all_do_and_no_lifted_ground():
    """A free bipolar input stands at two junctions, some 1.6 V (common practice): no level that an output drives."""
    record = sick(SOUND, *wrong(OUTPUTS, "drives nothing, it follows any load"))
    miss = [LogicMiss(1, n, "L", 1.67, "open") for n in OUTPUTS]
    record = replace(record, logic=(replace(record.logic[0], misses=tuple(miss)),))
    found = diagnose(TTL, record)
    assert found[0].kind == Failure.WRONG_PART and not any(d.kind == Failure.SERIES for d in found)


def test_reasons_name_no_cause_where_it_is_rather_another_part():
    leaky = against(1, "IIH", "pin 1 (1A) takes 0.55 mA when high; the limit is 40 µA: a leaky input")
    gives_way = against(3, "logic", "pin 3 (1Y) is right without load but gives way: 3.62 V where it should be low")
    seen = (leaky, gives_way, *wrong(OUTPUTS))
    record = replace(sick(SOUND, *seen), diagnoses=diagnose(TTL, sick(SOUND, *wrong(OUTPUTS)), (), [Likeness("08", "", 32)]))
    assert is_another_part(record)
    record = replace(record, advice=f"Do not use this 7400: {leaky.sentence}.")
    assert without_causes(record).advice.endswith("the limit is 40 µA.")
    told = [f.sentence for f in without_causes(record).reasons]
    assert "pin 1 (1A) takes 0.55 mA when high; the limit is 40 µA" in told and gives_way.sentence in told
    assert not is_another_part(replace(record, diagnoses=()))
