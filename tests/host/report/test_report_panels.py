# SPDX-License-Identifier: MIT
"""DC figures, families, diagnoses and the rule in the reports."""
import io
from dataclasses import replace

import pytest

from host.report import examples
from sagbench.judge.rule import Rule
from sagbench.record import Diagnosis, FamilyGuess, Finding, Measured, Outcome, Quantity
from sagbench.report import panels, view
from sagbench.report.page import to_html
from sagbench.report.terminal import print_record

WEAK = examples.weak_gate()


def terminal(record, **options):
    out = io.StringIO()
    print_record(record, out, width=80, **options)
    return out.getvalue()


def with_inputs(record):
    """The inputs of gate 3 with findings on their figures."""
    pins = list(record.pins)
    for n in (9, 10):
        iil = pins[n - 1].measured[0].value
        judged = Finding("IIL", Outcome.WITHIN, f"pin {n} delivers 1 mA", n, iil, -0.0016, "min", 0.0006, source="DM7400")
        rises = Finding("VT+", Outcome.WITHIN, f"pin {n} switches at 1.41 V", n, pins[n - 1].measured[1].value, 2.0, "max", 0.59)
        pins[n - 1] = replace(pins[n - 1], findings=(judged, rises))
    return replace(record, pins=tuple(pins))


def test_inputs_and_outputs_have_a_table_each_with_units_in_the_head_and_columns_nobody_has_left_out():
    inputs, outputs = panels.panels(with_inputs(WEAK))
    assert inputs.heads == ("IIL, mA", "rising, V") and [r.pin.pin for r in inputs.rows] == [9, 10]
    assert inputs.rows[0].cells == ("-0.980 ± 0.008", "1.410 ± 0.020") and inputs.rows[0].outcome is Outcome.WITHIN
    assert outputs.heads == ("shorted, mA",) and [r.pin.pin for r in outputs.rows] == [3, 6, 8, 11]
    assert outputs.rows[0].outcome is None, "nothing was held against a limit"


def test_a_table_too_wide_for_the_terminal_goes_on_below_with_its_pins_and_cuts_nothing_short():
    figures = (("IOS", "A", -0.0601), ("ROL", "ohm", 1.97), ("ROH", "ohm", 59.5), ("IOL at VIL", "A", 0.0225),
               ("IOH at VIH", "A", -0.0179), ("IOZH", "A", 1.2e-6), ("IOZL", "A", -117e-6))
    measured = tuple(Measured(name, 3, Quantity(value, abs(value) / 20, unit), None, "", "", "") for name, unit, value in figures)
    told = terminal(replace(WEAK, pins=tuple(replace(p, measured=measured) if p.pin in (3, 6) else p for p in WEAK.pins)))
    panel = told.split("Outputs: further figures\n")[1].split("shorted:")[0]
    assert "\u2026" not in told and max(map(len, told.splitlines())) <= 80
    assert panel.count(" 3 1Y") == panel.count(" 6 2Y") == panel.count("pin ") == 2
    for head in ("shorted, mA", "R low, Ω", "R high, Ω", "low up to, mA", "high up to, mA", "off, high, µA", "off, low, µA"):
        assert panel.count(head) == 1


def test_limits_stand_under_the_table_and_pins_with_another_limit_are_named():
    record = with_inputs(WEAK)
    pins = list(record.pins)
    pins[9] = replace(pins[9], findings=(replace(pins[9].findings[0], limit=-0.0032), pins[9].findings[1]))
    told = panels.panels(replace(record, pins=tuple(pins)))[0].notes[-1]
    assert told == "Limits: IIL ≥ -1.6 mA (pin 10: ≥ -3.2 mA); rising ≤ 2 V."
    pins[0] = replace(pins[0], findings=(replace(record.pins[8].findings[0], pin=1),), measured=record.pins[8].measured)
    told = panels.panels(replace(record, pins=tuple(pins)))[0].notes[-1]
    assert told == "Limits: IIL ≥ -1.6 mA (pin 10: ≥ -3.2 mA); rising ≤ 2 V."


def test_a_pin_with_both_bounds_of_a_figure_is_not_said_to_have_the_other_one_instead():
    """VIL and VIH both bound a threshold that was taken one way only."""
    record = with_inputs(WEAK)
    pins = list(record.pins)
    from_below = replace(pins[9].findings[1], limit=0.8, limit_kind="min")
    pins[9] = replace(pins[9], findings=(*pins[9].findings, from_below))
    told = panels.panels(replace(record, pins=tuple(pins)))[0].notes[-1]
    assert told == "Limits: IIL ≥ -1.6 mA; rising ≤ 2 V (pin 10: ≥ 0.8 V and ≤ 2 V)."


def test_what_stands_in_a_table_is_not_told_again_unless_something_is_wrong_with_it():
    record = with_inputs(WEAK)
    assert not [f for _, f in view.other_findings(record) if f.quantity == "IIL"]
    pins = list(record.pins)
    pins[8] = replace(pins[8], findings=(replace(pins[8].findings[0], outcome=Outcome.UNSURE),))
    assert [f.pin for _, f in view.other_findings(replace(record, pins=tuple(pins))) if f.quantity == "IIL"] == [9]


@pytest.mark.parametrize("plain", [False, True])
def test_the_terminal_tells_all_of_it_within_80_columns(plain):
    out = terminal(replace(with_inputs(WEAK), rule=Rule().record()), plain=plain)
    for words in ("What may be wrong, likeliest first", "sink transistor has lost gain, 88 %",
                  "against: it does not rise in a straight line",
                  "What its silicon is like", "plain 74: 93 %", "Inputs", "How figures are held against limits"):
        assert words in out
    assert max(len(line) for line in out.splitlines()) <= 80
    assert ("-0.980+-0.008" in out) is plain and out.isascii() is plain


def test_a_record_without_them_shows_no_empty_headings():
    out = terminal(examples.interrupted())
    for words in ("What may be wrong", "What its silicon", "How figures are held"):
        assert words not in out


def test_the_page_tells_all_of_it_and_lets_nothing_become_markup():
    nasty = "<b>&\x1b[31m"
    record = replace(with_inputs(WEAK), rule=Rule().record(),
                     diagnoses=(Diagnosis(nasty, 8, 0.5, nasty, (nasty,), (nasty,)),),
                     families=(FamilyGuess("LS", 0.9, (nasty,)),),
                     measured=(Measured("NML", 0, Quantity(1.1, 0.02, "V"), state=nasty),))
    page = to_html(record)
    assert "<b>" not in page and "\x1b" not in page and page.count("&lt;b&gt;&amp;") >= 6
    assert "74LS: 90 %" in page and "noise margin, low" in page and "guard band w = U" in page


def test_families_of_no_account_are_left_out_but_never_the_first():
    record = replace(WEAK, families=(FamilyGuess("74", 0.6, ()), FamilyGuess("H", 0.39, ()), FamilyGuess("L", 0.001, ())))
    assert [head for head, _ in panels.families(record)] == ["plain 74: 60 %", "74H: 39 %"]
    assert panels.families(replace(WEAK, families=())) == []


def test_output_resistance_stands_in_one_table_only():
    assert all(row.ohm for row in view.level_rows(WEAK, "VOL"))
    pins = tuple(replace(p, measured=(*p.measured, Measured("ROL", p.pin, Quantity(9.0, 0.3, "ohm")))) if p.loads else p
                 for p in WEAK.pins)
    record = replace(WEAK, pins=pins)
    assert not any(row.ohm for row in view.level_rows(record, "VOL"))
    assert "R out" not in terminal(record) and "R low, Ω" in terminal(record)
