"""Edges of single judgements that whole sweeps seldom reach: outputs that are off in a play, two states at rest, a line with a slope
of its own before its limit, other rules for small currents, and words that say which way a limit goes.

Figures of the cases are worked out by hand; limits are those of the data sheets named beside them.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from host.judge.test_judge_diagnosis import HIGH, PLUS_25, SOUND, TTL, WEAK, against, sick
from host.judge.test_judge_evidence import PART, evidence
from host.judge.test_judge_outputs import line
from host.report import examples
from sagbench.judge.case import Case
from sagbench.judge.dc import judge
from sagbench.judge.evidence import assemble
from sagbench.judge.failures import Failure
from sagbench.judge.fingerprint import Match, _evidence, by_supply, guess, mismatch, name_of
from sagbench.judge.logic import answers, is_right
from sagbench.judge.outputs import judge_headroom
from sagbench.judge.rejudge import rejudge
from sagbench.judge.risk import of_chip
from sagbench.judge.rule import Rule
from sagbench.judge.supply import LEAK, judge_leaks, usual
from sagbench.judge.suspect_outputs import outputs
from sagbench.judge.traits import Trait
from sagbench.judge.verdict import conclude
from sagbench.parts import Expect, load_part
from sagbench.plan.recipe import Mark, Reading, Readings
from sagbench.plan.resting import Rest
from sagbench.plan.seat import Seat
from sagbench.record import Finding, Measured, Outcome, Quantity, Verdict


# ------------------------------------------------------------------ answers of a play
def played(part, seat, **levels):
    """Readings of one play: 'label': volts of every output in every step; codes are millivolts."""
    return Readings(tuple(Reading(Mark("position", seat.position(p.number), step=k, label=label.replace("_", " ")), round(volts * 1000))
                          for label, volts in levels.items() for k, _ in enumerate(part.sequence) for p in part.outputs))


def test_an_output_that_should_be_off_is_read_under_both_weak_loads_and_one_that_drives_without():
    part = load_part("74LS125")
    seat = Seat(24, part.pin_count)

    def given(**levels):
        return answers(part, seat, played(part, seat, **levels), lambda reading: reading.code / 1000)
    both = [a for a in given(level=3.4, off_up=4.9, off_down=0.1) if a.expect is Expect.OFF]
    wanted = [(k, p) for k, step in enumerate(part.sequence) for p, want in step.expect.items() if want is Expect.OFF]
    assert [(a.step, a.pin) for a in both] == wanted != []
    assert all((a.volts, a.pulled_low) == (4.9, 0.1) and is_right(part, a) for a in both)
    driving = [a for a in given(level=3.4, off_up=4.9, off_down=0.1) if a.expect is not Expect.OFF]
    assert {(a.volts, a.pulled_low) for a in driving} == {(3.4, None)} and is_right(part, driving[0]) is (driving[0].expect is Expect.HIGH)
    # Pulled one way only it has not shown that it lets go; not read at all it is no answer.
    assert {is_right(part, a) for a in given(level=3.4, off_up=4.9) if a.expect is Expect.OFF} == {None}
    assert [a for a in given(level=3.4, off_down=0.1) if a.expect is Expect.OFF] == []


# ------------------------------------------------------------------ CMOS at rest
def test_two_states_at_rest_are_enough_to_tell_which_output_leaks_and_one_is_not():
    part = load_part("74HC00")
    state, pin = part.supply_states[0], part.outputs[1].number
    low, high = (Rest(replace(state, name=f"quiescent in step {k}"), frozenset({(pin, does), (part.outputs[0].number, Expect.HIGH)}))
                 for k, does in ((1, Expect.LOW), (2, Expect.HIGH)))
    much, little = Quantity(0.3e-3, 1e-6, "A"), Quantity(0.1e-6, 1e-7, "A")
    (told,) = judge_leaks(part, [(low, much), (high, little)])
    assert (told.quantity, told.pin, told.outcome, told.state, told.value) == ("ICC", pin, Outcome.BEYOND, LEAK, much)
    assert told.sentence.startswith(f"pin {pin} (2Y) leaks to supply: the chip draws 0.30 mA more at rest while it is low")
    assert judge_leaks(part, [(low, much)]) == []


# ------------------------------------------------------------------ lines
def test_a_line_that_was_steep_before_has_no_cliff_where_it_is_lost():
    """50 ohm up to the last point that holds, 100 beyond: VIL, 0.8 V, is reached on that straight line at 15.5 mA, where
    the 7400's rating is 16 mA; past a cliff (here 10 ohm before) it would keep its level up to the heavier point."""
    part = load_part("7400")

    def told(points):
        return judge_headroom(part, line(6, points), part.limits[6])
    steep = told({"weak": (1.0, 0.05), "medium": (15.0, 0.75), "strong": (18.0, 1.05)})
    assert "loses its low level at 15.5 mA, less than the 16 mA" in steep.sentence and steep.value.value == pytest.approx(15.5e-3)
    flat = told({"weak": (1.0, 0.61), "medium": (15.0, 0.75), "strong": (18.0, 1.05)})
    assert "loses its low level at 18 mA, hardly more than the 16 mA" in flat.sentence


@pytest.mark.parametrize(("low", "straight"), [(PLUS_25, True), (WEAK, False)])
def test_what_is_in_proportion_to_the_current_speaks_against_lost_gain(low, straight):
    """25 ohm in an output's way (ngspice), and a transistor whose gain is 6: its volts run away instead."""
    lost = against(8, "VOL", "pin 8 (3Y) sinks 16 mA only at 0.6 V")
    record = sick(SOUND, lost, p8=dict(loads=(*paper.sinking(*low), *paper.sourcing(*HIGH))))
    gain = next(s for s in outputs(Case(TTL, record), ()) if s.kind is Failure.LOST_GAIN and s.pin == 8)
    assert ("its excess is in proportion to the current" in gain.speaks_against) is straight


# ------------------------------------------------------------------ other rules
@pytest.mark.parametrize(("value", "limit", "said"), [
    (Quantity(41e-6, 2e-6, "A"), 40e-6, ("41 µA", "40 µA")),
    (Quantity(0.41, 0.02, "V"), 0.4, ("0.41 V", "20 mV", "0.40 V")),
])
def test_by_another_rule_a_figure_is_said_in_its_own_unit(value, limit, said):
    """IIH of a 7400 40 uA, VOL 0.4 V (DM7400)."""
    name = "IIH" if value.unit == "A" else "VOL"
    sound = examples.sound_inverter()
    found = Finding(name, Outcome.UNSURE, "too near to tell", 3, value, limit, margin=limit - value.value)
    record = replace(sound, verdict=Verdict.UNSURE, supply=(), pins=tuple(replace(p, findings=(found,) if p.pin == 3 else ()) for p in sound.pins))
    again = rejudge(record, Rule(0)).pins[2].findings[0]
    assert again.outcome is Outcome.BEYOND and all(words in again.sentence for words in said), again.sentence


# ------------------------------------------------------------------ families
def test_the_finding_that_the_silicon_is_anothers_is_of_its_family_and_no_figure():
    part = load_part("7400")
    record = paper.chip(part, **paper.SPICE["74LS00"])
    found = mismatch(part, record, guess(part, record))
    assert (found.quantity, found.state, found.value, found.limit) == ("family", "wrong family", None, None)


@pytest.mark.parametrize(("family", "name"), [("", "plain 74"), ("74", "plain 74"), ("TTL", "plain TTL"), ("LS", "74LS"), ("HC", "74HC"),
                                              ("4000B", "4000B"), ("93L", "93L"), ("DTL", "DTL")])
def test_a_family_is_called_as_the_trade_calls_its_parts(family, name):
    """74LS00, 74HC00, but 4011B and 93L16, and DTL has no series number in common."""
    assert name_of(family) == name


def test_families_by_supply_current_are_those_that_draw_so_much_the_likeliest_first():
    """A current between what a family's book gives for its states fits it better than one somewhat beyond another's largest."""
    part = load_part("7404")
    spans = {f: sorted(filter(None, map(usual, load_part(f"74{f}04").supply_states))) for f in ("H", "S", "LS", "F", "ALS", "AS", "L")}
    mixed = 0
    for low, high in spans.values():
        fit = by_supply(part, 1.1 * high)
        inside = [f for f in fit if spans[f][0] < 1.1 * high < spans[f][-1]]
        assert fit[:len(inside)] == inside and "74" not in fit
        mixed += 0 < len(inside) < len(fit)
        assert by_supply(part, (low * high) ** 0.5)
    assert mixed >= 2 and by_supply(part, spans["L"][0] / 50) == []


def test_a_trait_two_standard_deviations_away_is_no_longer_for_a_family_and_three_are_against_it():
    """As a rule of thumb 95 and 99.7 of 100 specimens lie within two and three (the normal distribution)."""
    found = {"rol_ohm": Trait(20.0, 0.5, 4)}

    def words(away, *left):
        return _evidence("LS", [Match("rol_ohm", -1.0, away, 12.0)], found, list(left))
    said = [words(away)[0].partition(":")[0] for away in (-1.9, 2.1, -2.9, 3.1)]
    assert said == ["for it", "not against it", "not against it", "against it"]
    assert words(1.0, "LS", "HC", "HCT")[1:] == ("not ruled out by what was measured: 74HC or 74HCT",) and len(words(1.0, "LS")) == 1


# ------------------------------------------------------------------ words that say which way
@pytest.mark.parametrize(("milliamps", "said"), [(5, "it must be at least 18 mA"), (30, "the limit is at least 18 mA"), (130, "it must be at most")])
def test_a_short_circuit_current_is_told_by_its_size(milliamps, said):
    """It flows out of the pin and is written negative; 18 to 55 mA and more (DM7400): -18 mA is the most as a number, the least as a current."""
    found = judge(load_part("7400"), [Measured("IOS", 3, Quantity(-milliamps * 1e-3, 1e-4, "A"), how="measured there")])[3]
    assert any(said in f.sentence for f in found), [f.sentence for f in found]


def test_a_finding_has_the_pin_the_limit_and_where_it_was_measured():
    """VIK of a 7400: -1.5 V at -12 mA (DM7400); the state is part of how a clamp is measured, and tells nothing of a threshold."""
    clamp = Measured("VIK", 1, Quantity(-0.8, 0.02, "V"), Quantity(-12e-3, 1e-4, "A"), how="measured there", state="others high")
    (found,) = judge(load_part("7400"), [clamp])[1]
    assert (found.pin, found.limit, found.limit_kind, found.margin, found.at, found.state) == (1, -1.5, "min", pytest.approx(0.7), clamp.at, "others high")
    threshold = Measured("VT+", 2, Quantity(1.4, 0.02, "V"), how="measured there", state="others high")
    assert {(f.pin, f.state) for f in judge(load_part("7400"), [threshold])[2]} == {(2, "")}


def test_a_record_says_what_was_measured_when_by_which_program_and_on_which_fixture():
    made = assemble(evidence())
    assert (made.part, made.marking, made.pin_count, made.started, made.sagbench, made.fixture) == (
        PART.name, "7400", 14, "2026-11-25T16:40:00+00:00", "0.1", examples.FIXTURE)


def test_a_sweep_that_ended_early_says_why_there_is_no_verdict():
    record = replace(examples.sound_inverter(), partial="the lease ran out")
    assert conclude(record, ()).advice == "No verdict: the lease ran out"
    assert conclude(record, (), "no supply").advice == "No verdict: no supply"


def test_a_threshold_or_a_hysteresis_beyond_its_limit_is_told_with_its_cause_where_there_is_one():
    """0.8 and 2.0 V (DM7400); a 7414's hysteresis is 0.4 V at least (NTE7413, DM7414), and what has less has no one cause."""
    def told(name, *figure):
        return [f.sentence for f in judge(load_part(name), [Measured(figure[0], 1, Quantity(figure[1], 0.02, "V"), how="measured there")])[1]]
    high, low = told("7400", "VT+", 0.6)
    assert low == "pin 1 (1A) switches at 0.60 V rising; it must be at least 0.80 V: its threshold has shifted"
    assert high == "pin 1 (1A) switches at 0.60 V rising; the limit is at most 2.00 V"
    assert told("7414", "VH", 0.1) == ["pin 1 (1A) has a hysteresis of 0.10 V; it must be at least 0.40 V"]


@pytest.mark.parametrize(("record", "what"), [
    (examples.interrupted(), "no verdict was given"), (replace(examples.sound_inverter(), pins=(), supply=()), "that one or more of its figures"),
    (examples.shorted_chip(), "rests on contacts")])
def test_a_verdict_without_a_figure_near_a_limit_says_what_its_risk_would_be_of(record, what):
    risk = of_chip(record)
    assert what in risk.what and risk.least is risk.most is None
