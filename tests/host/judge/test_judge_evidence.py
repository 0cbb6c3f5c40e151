"""What is put together from a sweep: contradictions between its stages, and what could not be measured.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from host.report import examples
from sagbench.judge.contact import ContactReport
from sagbench.judge.evidence import Evidence, assemble
from sagbench.judge.logic import Answer
from sagbench.judge.rejudge import rejudge
from sagbench.judge.rule import Rule
from sagbench.measure.line import How, Line, Point
from sagbench.measure.uncertain import uncertain
from sagbench.parts import Expect, load_part
from sagbench.plan.seat import Seat
from sagbench.record import Contact, Measured, Outcome, PinContact, Quantity, Verdict

PART = load_part("7400")
VOLTS = {Expect.LOW: 0.2, Expect.HIGH: 3.5}


def answers(load):
    """Every answer right."""
    return load, tuple(Answer(i, p, want, VOLTS[want]) for i, s in enumerate(PART.sequence) for p, want in s.expect.items())


def line(pin, up, *points):
    made = tuple(Point(n, uncertain(v, 0.002), uncertain(ma / 1e3, 0.002 * ma / 1e3)) for n, ma, v in points)
    return Line(pin, up, made, uncertain(0.04 if up else 3.8, 0.002))


def evidence(**changes):
    """A 7400 that is sound in everything a sweep sees."""
    lines = [line(p, True, ("weak", 0.56, 0.05), ("medium", 8.3, 0.14), ("strong", 16.2, 0.22)) for p in (3, 6, 8, 11)]
    lines += [line(p, False, ("weak", 0.42, 3.5), ("medium", 5.3, 3.1)) for p in (3, 6, 8, 11)]
    contacts = ContactReport(tuple(PinContact(p.number, Contact.CONNECTED) for p in PART.pins))
    inputs = [p.number for p in PART.inputs]
    made = Evidence(
        PART, Seat(24, 14), "7400", "2026-11-25T16:40:00+00:00", "0.1", examples.FIXTURE, contacts,
        supply_volts=uncertain(5.0, 0.01), plays=[answers(x) for x in ("open", "weak", "medium", "strong")],
        icc={"outputs high": Quantity(0.004, 1e-4, "A"), "outputs low": Quantity(0.012, 2e-4, "A")},
        high_in={p: Quantity(1e-6, 1e-6, "A") for p in inputs}, low_in={p: Quantity(-1e-3, 1e-5, "A") for p in inputs},
        lines=lines)
    return replace(made, **changes)


def test_the_paper_chip_is_sound():
    record = assemble(evidence())
    assert record.verdict is Verdict.SOUND, record.reasons
    assert record.families[0].family == "74" and record.diagnoses == () and record.rule.guard == 1


def test_a_figure_that_was_measured_is_never_among_what_was_not():
    """A 7400's IOS is 18 to 55 mA (DM7400); prolonged from lighter loads, 18.7 mA is too near to tell, and keeps no verdict back."""
    near = Measured("IOS", 6, Quantity(-18.7e-3, 2e-3, "A"), how=How.BEYOND)
    plain = assemble(evidence())
    record = assemble(evidence(measured=[near]))
    told = "pin 6 (2Y) delivers 18.7 mA when shorted to ground; that is too near the limit of 18 mA to tell"
    assert record.verdict is Verdict.SOUND and record.not_measured == plain.not_measured and plain.undecided == ()
    assert len(record.undecided) == 1 and record.undecided[0].startswith(told)
    assert f"Not decided: {told}." in record.advice and "Not measured: pin 6" not in record.advice
    surely = rejudge(record, Rule(0.0))  # without a guard band it is decided
    assert surely.undecided == () and "Not decided" not in surely.advice


def test_a_line_that_contradicts_the_logic_test_under_the_same_load_is_no_figure_and_no_proof():
    made = evidence()
    astray = line(6, True, ("weak", 0.0, 4.9), ("medium", 0.001, 4.95), ("strong", 0.001, 4.97))
    figure = Measured("VOL", 6, Quantity(4.97, 0.02, "V"))
    made.lines = [astray if (x.pin, x.up) == (6, True) else x for x in made.lines]
    made.measured = [figure]
    record = assemble(made)
    assert record.verdict is Verdict.UNSURE and not any(f.outcome is Outcome.BEYOND for f in record.reasons)
    assert any("contradicts its answers" in line for line in record.not_measured)
    assert record.pins[5].loads and all(r.direction == "source" for r in record.pins[5].loads)
    assert not record.pins[5].measured


def test_an_output_that_gives_way_in_both_is_proof_all_the_same():
    made = evidence()
    weak = line(6, True, ("weak", 0.5, 0.9), ("medium", 3.0, 3.3))
    made.lines = [weak if (x.pin, x.up) == (6, True) else x for x in made.lines]
    load, given = made.plays[2]
    made.plays[2] = load, tuple(replace(a, volts=3.2) if a.pin == 6 and a.expect is Expect.LOW else a for a in given)
    assert assemble(made).verdict is Verdict.FAILED


def test_an_input_off_the_scale_is_no_pass_unless_the_fixture_itself_cannot_hold_it():
    low = {p: q for p, q in evidence().low_in.items() if p != 1}
    record = assemble(evidence(low_in=low))
    assert record.verdict is Verdict.UNSURE
    assert any("pin 1 (1A): its current when low was not measured" in line for line in record.not_measured)
    contact = replace(evidence().contact, stuck={1: True})
    assert assemble(evidence(low_in=low, contact=contact)).verdict is Verdict.SOUND


@pytest.mark.parametrize("name, figures, pin, said", [
    ("IIL", {1: -1.5e-3}, 1, "delivers 1.5 mA, the others 0.89 mA"), ("VT+", {4: 1.85}, 4, "switches at 1.85 V, the others 1.41 V"),
])
def test_an_input_unlike_its_sisters_is_out_of_character(name, figures, pin, said):
    usual, unit, u = {"IIL": (-0.9e-3, "A", 1e-5), "VT+": (1.40, "V", 0.02)}[name]
    measured = [Measured(name, p.number, Quantity(figures.get(p.number, usual + 0.01 * p.number * abs(usual) * 0.1), u, unit))
                for p in PART.inputs]
    record = assemble(evidence(measured=measured))
    assert record.verdict is Verdict.TIRED and said in record.reasons[0].sentence and record.reasons[0].pin == pin
    assert assemble(evidence(measured=[m for m in measured if m.pin != pin])).verdict is Verdict.SOUND


def test_a_threshold_out_of_reach_where_the_sisters_have_one_is_no_pass():
    measured = [Measured(n, p.number, Quantity(v, u, unit)) for p in PART.inputs
                for n, v, u, unit in (("IIH", 1e-6, 1e-6, "A"), ("VT+", 1.4, 0.02, "V")) if not (n == "VT+" and p.number == 2)]
    record = assemble(evidence(measured=measured))
    assert record.verdict is Verdict.UNSURE
    assert any("pin 2 (1B): its threshold was not found" in line for line in record.not_measured)
    none = [m for m in measured if m.name == "IIH"]
    assert assemble(evidence(measured=none)).verdict is Verdict.SOUND, "nobody's threshold was measured: the fixture's reach"


def test_an_open_collector_that_never_sinks_may_be_an_input_stuck_high():
    part = load_part("7407")
    low = {p.number: Quantity(-1e-3, 1e-5, "A") for p in part.inputs}

    def given(load, stuck):
        return load, tuple(Answer(i, p, want, (0.1 if load == "open" else 4.9) if want is Expect.LOW and p == stuck else
                                  (0.2 if want is Expect.LOW else 4.9), 0.0 if want is Expect.OFF else None)
                           for i, s in enumerate(part.sequence) for p, want in s.expect.items())
    contacts = ContactReport(tuple(PinContact(p.number, Contact.CONNECTED) for p in part.pins))
    made = evidence(part=part, contact=contacts, plays=[given("open", 2), given("weak", 2)], low_in=low,
                    high_in={p: Quantity(1e-6, 1e-6, "A") for p in low}, icc={}, lines=[])
    record = assemble(made)
    assert "stuck input" in [d.kind for d in record.diagnoses], record.diagnoses


def test_outputs_that_are_never_on_are_explained_by_their_enable():
    part = load_part("74LS244")
    gone = {p.number for p in part.outputs if p.name.startswith("1Y")}

    def given(load):
        floats = {Expect.LOW: 4.9, Expect.HIGH: 0.0} if load == "weak" else {Expect.LOW: 2.1, Expect.HIGH: 0.2}
        right = {Expect.LOW: 0.2, Expect.HIGH: 3.5, Expect.OFF: 4.9}
        return load, tuple(Answer(i, p, want, floats.get(want, 4.9) if p in gone else right[want], 0.0 if want is Expect.OFF else None)
                           for i, s in enumerate(part.sequence) for p, want in s.expect.items())
    contacts = ContactReport(tuple(PinContact(p.number, Contact.CONNECTED) for p in part.pins))
    record = assemble(evidence(part=part, seat=Seat(24, 20), contact=contacts, plays=[given("open"), given("weak")],
                               high_in={}, low_in={}, icc={}, lines=[]))
    assert record.diagnoses[0].kind == "stuck input" and "pin 1 (1G) stuck high" in record.diagnoses[0].sentence


def test_figures_of_the_whole_chip_are_kept():
    margin = Measured("NML", 0, Quantity(1.1, 0.02, "V"))
    assert assemble(evidence(measured=[margin])).measured == (margin,)


def test_silicon_of_another_family_is_the_first_reason_and_no_output_is_called_weak():
    """An LS00 (textbook model in ngspice) in the place of a 7400."""
    lines = [line(p, True, ("weak", 0.56, 0.317), ("medium", 7.9, 0.39), ("strong", 15.3, 0.447), ("both", 18.3, 1.384))
             for p in (3, 6, 8, 11)]
    lines += [line(p, False, ("weak", 0.42, 3.5), ("medium", 5.3, 3.1)) for p in (3, 6, 8, 11)]
    low_in = {p.number: Quantity(-0.21e-3, 4e-6, "A") for p in PART.inputs}
    icc = {"outputs high": Quantity(0.9e-3, 1e-5, "A"), "outputs low": Quantity(2.8e-3, 3e-5, "A")}
    record = assemble(evidence(lines=lines, low_in=low_in, icc=icc))
    assert record.verdict is Verdict.FAILED and record.reasons[0].state == "wrong family"
    assert record.diagnoses[0].kind == "wrong part: another family"
    assert not any("has become weak" in f.sentence for f in record.reasons)
    assert record.advice.endswith("a remarked or wrong part.")


def test_a_limit_of_voh_lowered_for_a_low_supply_is_said():
    """By hand: 4.70 V at the pins of one loaded output, 4.75 V in the data sheet (DM7400): 2.4 V becomes 2.35 V."""
    lines = [replace(x, supply=uncertain(4.70, 0.001)) if (x.pin, x.up) == (6, False) else x for x in evidence().lines]
    record = assemble(evidence(lines=lines))
    (note,) = [n for n in record.notes if "VOH" in n]
    assert "only 4.700 V" in note and "4.75 V" in note
    assert {p.pin: f.limit for p in record.pins for f in p.findings if f.quantity == "VOH"} == {
        3: 2.4, 6: pytest.approx(2.35), 8: 2.4, 11: 2.4}
    assert not [n for n in assemble(evidence()).notes if "VOH" in n]
