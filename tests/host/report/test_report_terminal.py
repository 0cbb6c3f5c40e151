# SPDX-License-Identifier: MIT
"""The report on a terminal: what it must say, that it fits, and that nothing from outside gets through to the terminal."""
import io
import re
from dataclasses import replace

import pytest

from host.report import examples
from sagbench.record import Contact, Finding, LogicMiss, LogicRecord, Outcome, PinContact, Quantity, Verdict
from sagbench.report.codec import from_json, to_json
from sagbench.report.terminal import MISSES_SHOWN, REASONS_SHOWN, print_record


def report(record, **options):
    stream = io.StringIO()
    print_record(record, stream, **{"width": 80, **options})
    return stream.getvalue()


def squeezed(text):
    return re.sub(r"\s+", " ", text).rstrip()


@pytest.mark.parametrize("name", examples.ALL)
@pytest.mark.parametrize("plain", [False, True])
def test_every_example_fits_80_columns_without_escape_sequences(name, plain):
    text = report(examples.ALL[name](), plain=plain)
    assert max(map(len, text.splitlines())) <= 80
    assert "\x1b" not in text
    assert text.isascii() or not plain
    assert not any(line.endswith(" ") for line in text.splitlines())


@pytest.mark.parametrize("name", examples.ALL)
def test_no_figure_is_cut_short_on_a_narrow_terminal(name):
    assert "…" not in report(examples.ALL[name](), width=40)


@pytest.mark.parametrize("name, headline", [
    ("sound_inverter", "VERDICT: SOUND"), ("weak_gate", "VERDICT: NOT SOUND"), ("interrupted", "VERDICT: NOT FINISHED")])
def test_the_verdict_stands_before_every_table(name, headline):
    text = report(examples.ALL[name]())
    assert headline in text
    assert text.index(headline) < text.index("Outputs low")


def test_every_verdict_has_its_own_headline():
    headlines = {report(replace(examples.sound_inverter(), verdict=v)).split("VERDICT: ")[1].split("\n")[0] for v in Verdict}
    assert headlines == {"SOUND", "ABOUT TO GO", "NOT SOUND", "CANNOT TELL", "NOT FINISHED"}


def test_reasons_are_numbered_in_the_order_of_the_record():
    text = report(examples.weak_gate())
    places = [text.index(f" {n}. ") for n in (1, 2, 3)]
    assert places == sorted(places)
    assert "1. pin 8 (3Y) sinks only at 0.67 V at 16 mA; the limit is 0.40 V" in text


def test_a_level_row_has_value_uncertainty_limit_margin_resistance_and_word():
    row = next(line for line in report(examples.weak_gate()).splitlines() if line.startswith(" 8 3Y") and "16 mA" in line)
    assert squeezed(row).split("Ω")[0] == " 8 3Y 16 mA 0.670 V ± 0.013 V ≤ 0.4 V -0.270 V 40.5 "
    assert row.endswith("beyond")


def test_plain_spells_the_signs_of_measure():
    row = next(line for line in report(examples.weak_gate(), plain=True).splitlines() if line.startswith(" 8 3Y"))
    assert squeezed(row) == " 8 3Y 16 mA 0.670 V +- 0.013 V <= 0.4 V -0.270 V 40.5 ohm beyond"


def test_colour_adds_only_escape_sequences():
    record = examples.weak_gate()
    coloured = report(record, color=True)
    assert "\x1b[" in coloured
    bare = [squeezed(line) for line in re.sub(r"\x1b\[[0-9;]*m", "", coloured).splitlines()]
    plain = [squeezed(line) for line in report(record).splitlines() if not re.fullmatch("-+", line)]
    assert bare == plain


def test_the_package_has_pin_1_at_the_top_left_and_the_last_pin_opposite():
    lines = report(examples.sound_inverter()).splitlines()
    first = next(i for i, line in enumerate(lines) if r"\_/" in line) + 1
    assert re.fullmatch(r"\s*1A\s+1\|\s+\|14 VCC", lines[first])
    assert re.fullmatch(r"\s*GND\s+7\|\s+\|8\s+4Y\s+within", lines[first + 6])


def test_a_bad_contact_stands_beside_its_pin():
    text = report(examples.shorted_chip())
    assert re.search(r"shorted\s+2Y\s+6\|", text)
    assert "- pin 6 (2Y) is shorted to GND" in text


def test_an_output_without_levels_is_named():
    text = squeezed(report(examples.interrupted()))
    assert "No levels were measured at pins 2 (1Y), 4 (2Y), 6 (3Y), 8 (4Y), 10 (5Y), 12 (6Y)." in text
    assert "Incomplete: interrupted by the user." in text


def test_contacts_that_were_not_looked_at_are_not_counted_as_good():
    record = examples.sound_inverter()
    contacts = (PinContact(1, Contact.NOT_MEASURED),) + record.contacts[1:]
    text = report(replace(record, contacts=contacts))
    assert "13 of 14 as they must be, 1 not looked at" in text and "- not looked at: pin 1 (1A)" in text
    unseen = tuple(replace(c, contact=Contact.NOT_MEASURED) for c in record.contacts)
    for contacts in ((), unseen):
        text = report(replace(record, contacts=contacts))
        assert "contacts     not looked at" in text and "as they must be" not in text


def with_findings(*findings):
    """The sound inverter with these findings instead of its own at pin 2."""
    record = examples.sound_inverter()
    return replace(record, pins=(record.pins[0], replace(record.pins[1], findings=findings), *record.pins[2:]))


def test_a_level_that_was_not_measured_stands_in_the_table_as_that():
    finding = Finding("VOL", Outcome.NOT_MEASURED, "pin 2 (1Y): VOL at 64 mA was not measured", 2, limit=0.55)
    row = next(line for line in report(with_findings(finding)).splitlines() if line.startswith(" 2 1Y"))
    assert squeezed(row) == " 2 1Y not measured ≤ 0.55 V 14.0 Ω not measured"


def test_a_limit_against_a_supply_that_was_not_measured_is_given_against_it():
    finding = Finding("VOH", Outcome.NOT_MEASURED, "pin 2 (1Y): not measured", 2, limit=-2.0, limit_kind="min")
    assert "≥ supply -2 V" in report(with_findings(finding))


def test_what_is_no_rated_level_stands_apart_and_is_told_once():
    headroom = Finding("VOL", Outcome.ODD, "pin 2 (1Y) loses its low level at 9 mA", 2, Quantity(0.009, 0, "A"), 0.008,
                       "min", 0.001, state="headroom")
    record = with_findings(headroom)
    text = report(record)
    assert text.count("loses its low level") == 1
    assert text.index("Other findings") < text.index("loses its low level")
    text = report(replace(record, reasons=(headroom,)))
    assert text.count("loses its low level") == 1 and "Other findings" not in text


def test_a_supply_current_that_was_not_measured_keeps_its_limit():
    finding = Finding("ICC", Outcome.NOT_MEASURED, "not measured", limit=0.0066, state="outputs low")
    assert "outputs low not measured ≤ 6.6 mA not measured" in squeezed(report(replace(examples.sound_inverter(),
                                                                                      supply=(finding,))))


def test_an_input_that_makes_contact_is_not_called_within_limits():
    record = examples.sound_inverter()
    pins = (replace(record.pins[0], outcome=Outcome.WITHIN, sentence="pin 1 (1A) makes contact"), *record.pins[1:])
    assert re.search(r"^ +1A +1\|", report(replace(record, pins=pins)), re.M)


def test_a_logic_test_without_a_check_is_not_called_right():
    text = report(replace(examples.sound_inverter(), logic=(LogicRecord("open", 3, 0),)))
    assert "unloaded: nothing was measured" in text and "right" not in text


def test_a_miss_is_told_with_its_inputs():
    assert "step 4: pin 8 (3Y) must be low with 3A high, 3B high, but is at 0.93 V" in report(examples.weak_gate())


def test_a_gate_is_told_with_its_own_inputs_and_any_other_output_with_all():
    inputs = {1: True, 3: False, 5: True}                       # 1A, 2A, 3A

    def told(record, pin):
        logic = (LogicRecord("open", 1, 1, (LogicMiss(0, pin, "H", 0.1, "open", inputs),)),)
        return report(replace(record, logic=logic))
    record = examples.sound_inverter()
    assert "pin 4 (2Y) must be high with 2A low, but" in told(record, 4)
    pins = tuple(replace(p, name="Q") if p.pin == 4 else p for p in record.pins)
    assert "pin 4 (Q) must be high with 1A high, 2A low, 3A high, but" in told(replace(record, pins=pins), 4)


def test_many_reasons_are_counted_not_listed():
    record = examples.weak_gate()
    text = report(replace(record, reasons=record.reasons[:1] * 20))
    assert f" {REASONS_SHOWN}. pin 8" in text and f" {REASONS_SHOWN + 1}. pin 8" not in text
    assert f"and {20 - REASONS_SHOWN} more, see below" in text


def test_the_same_gap_at_several_pins_is_one_line():
    gaps = ("pin 2 (1Y): not loaded", "all else", "pin 4 (2Y): not loaded", "pin 6 (3Y): VOL")
    text = report(replace(examples.sound_inverter(), not_measured=gaps))
    assert text.split("Not measured\n------------\n")[1].split("\n\n")[0].splitlines() == [
        "- pins 2 (1Y), 4 (2Y): not loaded", "- all else", "- pin 6 (3Y): VOL"]


def test_what_was_measured_and_not_decided_has_a_list_of_its_own_before_what_was_not_measured():
    near = "pin 2 (1Y) delivers 18.7 mA when shorted to ground; that is too near the limit of 18 mA to tell"
    record = replace(examples.sound_inverter(), undecided=(near,), not_measured=("all else",))
    text = report(record)
    assert text.split("Measured, but not decided\n-------------------------\n")[1].split("\n\n")[0].replace("\n  ", " ") == f"- {near}"
    assert text.index("Measured, but not decided") < text.index("Not measured\n") and "Measured, but" not in report(examples.sound_inverter())
    assert record == from_json(to_json(record)), "and it is kept"


def test_the_longest_verdict_word_fits_its_line():
    value, at = Quantity(5.094, 0.035, "V"), Quantity(-50.9e-6, 1e-6, "A")
    finding = Finding("VOH", Outcome.ODD, "so so", 2, value, 5.074, "min", 0.02, at)
    row = next(line for line in report(with_findings(finding)).splitlines() if line.startswith(" 2 1Y"))
    assert squeezed(row) == " 2 1Y 50.9 µA 5.094 V ± 0.035 V ≥ 5.074 V +0.020 V 92.0 Ω out of character"


def test_hundreds_of_misses_are_counted_not_listed():
    misses = tuple(LogicMiss(i, 2, "H", 0.1, "open") for i in range(300))
    text = report(replace(examples.sound_inverter(), logic=(LogicRecord("open", 300, 300, misses),)))
    assert text.count("pin 2 (1Y) must be high") == MISSES_SHOWN
    assert f"and {300 - MISSES_SHOWN} more\n" in text


def test_names_from_outside_reach_no_terminal_as_commands():
    for color in (False, True):
        text = report(examples.hostile(), color=color)
        assert "\x1b[31mLS04" not in text and "\u202e" not in text
        assert "[red]<U+001B>[31m<U+202E>LS04" in text                  # nor are they taken for rich's markup


def test_the_not_measured_outcome_is_never_in_the_colour_of_a_pass():
    from sagbench.report.terminal import STYLES
    assert len(set(STYLES.values())) == len(Outcome) == len(STYLES)
