"""Boxes of chips: the one unlike the others, and the chip that changed.

SPDX-License-Identifier: MIT
"""

import csv
import io
import json
import random
from dataclasses import replace

import pytest
from host.report import examples

from sagbench.cli.log_verbs import line
from sagbench.cli.main import main
from sagbench.judge import character
from sagbench.log import export, history
from sagbench.log.database import Entry, Facts, open_log
from sagbench.record import Measured, Outcome, Quantity

INVERTER = examples.sound_inverter()
OUTPUTS = [pin.pin for pin in INVERTER.pins if pin.loads]


def chip(draw, pin=None, ohm=0.0):
    """A sound inverter whose outputs have 10 ohm, give or take; one of them so many more."""
    pins = []
    for p in INVERTER.pins:
        if p.pin in OUTPUTS:
            value = draw.gauss(10, 0.3) + (ohm if p.pin == pin else 0)
            p = replace(p, measured=(Measured("ROL", p.pin, Quantity(value, 0.4, "ohm"), Quantity(0.016, 1e-4, "A")),), findings=())
        pins.append(p)
    return replace(INVERTER, pins=tuple(pins))


@pytest.fixture
def box(tmp_path, monkeypatch):
    """Twelve chips, the ninth with 6 ohm too much at one output; then the first again, with 3 ohm more than it had."""
    monkeypatch.setenv("SAGBENCH_DATA", str(tmp_path))
    draw = random.Random(5)
    with open_log() as log:
        lot = log.begin_lot("attic", INVERTER.part)
        for n in range(1, 13):
            log.add(chip(draw, OUTPUTS[2], 6.0 if n == 9 else 0), Facts(chip=f"no. {n}", board="=cmd", position=f"U{n}"), lot=lot)
        log.add(chip(random.Random(5), OUTPUTS[0], 3.0), Facts(chip="no. 1"))
    return lot


def test_the_odd_one_of_a_box(box):
    with open_log() as log:
        found = history.outliers(log, log.entries(history.Query(lot=box)))
        assert [(o.entry, o.key[:2]) for o in found] == [(9, ("ROL", OUTPUTS[2]))]
        assert found[0].norm.middle == pytest.approx(10, abs=0.5) and found[0].norm.count == 12


def with_threshold(volts, amperes):
    """The inverter whose first pin switches there."""
    measured = (Measured("VT+", INVERTER.pins[0].pin, Quantity(volts, 0.01, "V"), Quantity(amperes, 1e-6, "A")),)
    return replace(INVERTER, pins=(replace(INVERTER.pins[0], measured=measured, findings=()), *INVERTER.pins[1:]))


def test_a_figure_is_known_again_though_the_fixture_found_it_elsewhere(tmp_path):
    """A threshold is read where its ramp crosses, at 78 uA today and 81 uA tomorrow: one figure all the same."""
    with open_log(tmp_path / "log.sqlite3") as log:
        first, last = (log.entry(log.add(with_threshold(*pair))) for pair in ((1.0, -7.8e-5), (1.1, -8.1e-5)))
        assert [(c.key, c.after.value) for c in history.drift(log, first, last) if c.key[0] == "VT+"] == [(("VT+", INVERTER.pins[0].pin, ""), 1.1)]


@pytest.mark.parametrize("by_log", [True, False])
def test_a_figure_that_the_fixture_found_elsewhere_is_held_against_the_others_all_the_same(tmp_path, by_log):
    earlier = [with_threshold(1.0 + 0.001 * n, -7e-5 - 2e-6 * n) for n in range(6)]
    with open_log(tmp_path / "log.sqlite3") as log:
        for one in earlier:
            log.add(one)
        known = history.spread(log, log.entries()) if by_log else character.norms(earlier)
    compared = character.compare(with_threshold(1.6, -9.5e-5), known)
    assert [f.quantity for f in compared.pins[0].findings if f.outcome is Outcome.ODD] == ["VT+"]


def test_a_line_of_the_list_says_who_made_the_chip_and_when():
    with_facts = Entry(1, "2026-11-26T06:00:00+00:00", None, "74LS00", "74LS00", "sound", "", Facts("TI", "8142", "CPU", "U1"), 1, "", "", "0.1.0", None, None)
    assert line(with_facts).endswith("CPU U1 (TI 8142)") and line(replace(with_facts, facts=Facts(date_code="8142"))).endswith("  (8142)")


def test_a_figure_is_named_as_one_writes_it():
    assert history.in_words(("VOL", 3, "0.016 A")) == "VOL, pin 3, 16 mA"
    assert history.in_words(("IIL", 1, "0.4 V")) == "IIL, pin 1, 0.4 V" and history.in_words(("ICC", 0, "outputs low")) == "ICC, outputs low"


def test_a_fixture_without_a_number_has_none_in_an_export(tmp_path):
    with open_log(tmp_path / "log.sqlite3") as log:
        log.add(replace(INVERTER, fixture=replace(INVERTER.fixture, serial=0xFFFFFFFF)))
        log.add(replace(INVERTER, fixture=replace(INVERTER.fixture, serial=7)))
        assert [row["fixture"] for row in csv.DictReader(io.StringIO(export.to_csv(log.entries())))] == ["", "7"]


def test_a_chip_that_changed(box):
    with open_log() as log:
        both = history.same_chip(log, log.entry(13))
        assert [e.id for e in both] == [1, 13]
        changes = history.drift(log, *both)
        assert [c.key[:2] for c in changes] == [("ROL", OUTPUTS[0])]
        assert changes[0].after.value - changes[0].before.value == pytest.approx(3)


def test_a_chip_measured_often_counts_once_among_sound_ones(box):
    with open_log() as log:
        found = history.sound_ones(log, INVERTER.part)
        assert len(found) == 12 and 1 not in {e.id for e in found}
        assert 13 not in {e.id for e in history.sound_ones(log, INVERTER.part, before=13)}


def test_csv_is_read_back_by_the_standard_reader_and_holds_no_formula(box):
    with open_log() as log:
        rows = list(csv.DictReader(io.StringIO(export.to_csv(log.entries()))))
    assert len(rows) == 13 and tuple(rows[0]) == export.COLUMNS
    assert rows[0]["board"] == "'=cmd" and rows[8]["position"] == "U9"


def test_a_page_holds_no_markup_of_the_users(box, tmp_path):
    with open_log() as log:
        log.describe(1, note="<script>alert(1)</script>")
    assert main(["log", "export", "--html", str(tmp_path / "log.html"), "--json", str(tmp_path / "log.json")]) == 0
    page = (tmp_path / "log.html").read_text()
    assert "<script" not in page and "&lt;script&gt;" in page
    entries = json.loads((tmp_path / "log.json").read_text())["entries"]
    assert len(entries) == 13 and entries[0]["figures"]


@pytest.mark.parametrize(("words", "told"), [
    (["list", "--chip", "no. 3"], "74LS04"),
    (["outliers", "--lot", "1"], "entry 9: ROL"),
    (["drift", "13"], "ROL"),
    (["lots"], "attic: 12 sound"),
    (["check"], "is whole: 13 entries"),
])  # fmt: skip
def test_verbs(box, capsys, words, told):
    assert main(["log", *words]) == 0
    out = capsys.readouterr().out
    assert told.replace("74LS04", INVERTER.part) in out
    assert words == ["check"] or max(map(len, out.splitlines())) <= 80  # that one names a path


def test_a_log_without_lots_says_so(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SAGBENCH_DATA", str(tmp_path))
    with open_log():
        pass
    assert main(["log", "lots"]) == 0 and "No lot is in the log" in capsys.readouterr().out
    assert main(["log", "list"]) == 0 and "Nothing is in the log yet." in capsys.readouterr().out
    assert main(["log", "list", "--part", "7400"]) == 0 and "No such entry." in capsys.readouterr().out


def test_of_a_log_that_is_none_any_more_nobody_knows_how_many_it_had(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SAGBENCH_DATA", str(tmp_path))
    (tmp_path / "log.sqlite3").write_bytes(random.Random(1).randbytes(9000))
    assert main(["log", "rescue"]) == 0
    assert "0 entries are in the new log, how many there were cannot be told; the old log is kept as" in capsys.readouterr().err


def test_verbs_that_write(box, capsys):
    assert main(["log", "undo"]) == 0 and "taken back" in capsys.readouterr().out
    assert main(["log", "list", "--json"]) == 0
    assert len(json.loads(capsys.readouterr().out)) == 12
    assert main(["log", "redo", "13"]) == 0
    assert main(["log", "describe", "13", "--maker", "Texas Instruments"]) == 0
    capsys.readouterr()
    assert main(["log", "show", "13", "--plain"]) == 0
    assert "maker: Texas Instruments" in capsys.readouterr().out


@pytest.mark.parametrize(("words", "told"), [
    (["show", "99"], "no entry 99; its numbers go from 1 to 13"),
    (["drift", "2"], "the first of its chip"),
    (["describe", "2"], "nothing to say"),
    (["export"], "nothing to write"),
    (["outliers", "--part", "7400"], "No such entry"),
])  # fmt: skip
def test_mistakes_are_told_in_a_sentence(box, capsys, words, told):
    assert main(["log", *words]) == 2
    err = capsys.readouterr().err
    assert told in err and err.startswith("sagbench: ") and "Traceback" not in err


def test_a_chip_is_compared_with_the_newest_of_many(box, monkeypatch):
    monkeypatch.setattr(history, "MOST", 3)
    with open_log(write=False) as log:
        assert [entry.id for entry in history.sound_ones(log, INVERTER.part, before=13)] == [10, 11, 12]


def test_a_verdict_that_there_is_not_is_told_with_those_that_there_are(box, capsys):
    assert main(["log", "list", "--verdict", "sond"]) == 2 and "not sound, " in capsys.readouterr().err
    assert main(["log", "list", "--verdict", "Sound"]) == 0 and capsys.readouterr().out.count("\n") == 13
