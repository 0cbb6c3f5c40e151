# SPDX-License-Identifier: MIT
"""The `sweep` verb, with a device and a sweep of the test's own: every way it can end, as the user sees it.

What must hold for each: the exit code that --help promises, one sentence on standard
error and no traceback, and the record shown if there is one.
"""
import io
import json
import sys
import types
from dataclasses import replace

import pytest

from host.report import examples
from sagbench import errors
from sagbench.cli.main import main
from sagbench.record import Verdict
from sagbench.report.codec import from_json


class FakeDevice:
    """Stands for sagbench.device.Device: counts what must be balanced."""

    opened = closed = 0
    trouble = None
    info = types.SimpleNamespace(serial=None)       # no calibration can belong to it
    ports: list = []

    @classmethod
    def connect(cls, port=None, *, timeout=None):
        cls.ports.append(port)
        if cls.trouble:
            raise cls.trouble
        cls.opened += 1
        return cls()

    def __enter__(self):
        return self

    def __exit__(self, *why):
        type(self).closed += 1


@pytest.fixture
def bench(monkeypatch):
    """`bench.result`: the record the sweep gives, or the exception it raises; `bench.Device`: who answers."""
    device = type("Device", (FakeDevice,), {"opened": 0, "closed": 0, "ports": []})
    made = types.SimpleNamespace(result=examples.sound_inverter(), Device=device, calls=[])

    def sweep(device, part, *, marking="", progress=None, options=None):
        made.calls.append((part.name, marking, progress))
        if progress:
            progress("contacts", 1, 2)
        if isinstance(made.result, BaseException):
            raise made.result
        return made.result
    monkeypatch.setitem(sys.modules, "sagbench.device", types.SimpleNamespace(Device=device))
    monkeypatch.setitem(sys.modules, "sagbench.sweep", types.SimpleNamespace(sweep=sweep))
    part = types.SimpleNamespace(name="74LS04")
    monkeypatch.setattr("sagbench.parts.load_part", lambda text, user_dirs=(): part)
    return made


def one_sentence(captured):
    """The only line on standard error, which must be ours and no traceback."""
    lines = captured.err.strip().split("\n")
    assert len(lines) == 1 and lines[0].startswith("sagbench: "), captured.err
    return lines[0]


@pytest.mark.parametrize("record, code", [
    (examples.sound_inverter(), 0), (examples.weak_gate(), 1), (examples.shorted_chip(), 1),
    (replace(examples.sound_inverter(), verdict=Verdict.TIRED), 1),
    (replace(examples.sound_inverter(), verdict=Verdict.UNSURE), 4),
    (examples.not_seated(), 4), (examples.interrupted(), 130),
])
def test_the_exit_code_is_the_verdict(bench, capsys, record, code):
    bench.result = record
    assert main(["sweep", "74LS04"]) == code
    captured = capsys.readouterr()
    assert captured.out.startswith(record.part) and captured.err == ""
    assert (bench.Device.opened, bench.Device.closed) == (1, 1)


def test_the_words_of_the_command_reach_the_sweep(bench):
    main(["sweep", "SN74LS04N", "--port", "/dev/ttyACM3"])
    assert bench.calls == [("74LS04", "SN74LS04N", None)] and bench.Device.ports == ["/dev/ttyACM3"]


@pytest.mark.parametrize("error", [
    errors.NoDevice("nothing at /dev/ttyUSB0; plug it in."), errors.NotOurs("something else answers at COM3."),
    errors.WrongApiLevel("the firmware has API level 2."), errors.LinkLost("the link was lost."),
    errors.DeviceError("the supply is 4.5 V, must be 4.75 to 5.25 V."),
])
@pytest.mark.parametrize("when", ["connecting", "sweeping"])
def test_trouble_with_the_fixture_is_a_sentence_and_exit_3(bench, capsys, error, when):
    if when == "connecting":
        bench.Device.trouble = error
    else:
        bench.result = error
    assert main(["sweep", "74LS04"]) == 3
    captured = capsys.readouterr()
    assert one_sentence(captured) == f"sagbench: {error}" and captured.out == ""
    assert bench.Device.opened == bench.Device.closed


def test_too_many_pins_is_a_usage_error(bench, capsys):
    bench.result = errors.TooManyPins("a 28-pin chip does not fit a socket of 24 positions.")
    assert main(["sweep", "74LS04"]) == 2
    assert "28-pin" in one_sentence(capsys.readouterr())


@pytest.mark.parametrize("error, said", [
    (errors.UnknownPart("there is no 74LS99", ("74LS90", "74LS93")), "there is no 74LS99 Nearest: 74LS90, 74LS93."),
    (errors.UnknownPart("there is no 74LS99; nearest names: 74LS90", ("74LS90",)), "there is no 74LS99; nearest names: 74LS90"),
    (errors.NotInFamily("the 25 was only made as 7425."), "the 25 was only made as 7425."),
])
def test_a_part_that_is_none_is_found_before_the_fixture_is_touched(bench, monkeypatch, capsys, error, said):
    def load_part(text, user_dirs=()):
        raise error
    monkeypatch.setattr("sagbench.parts.load_part", load_part)
    assert main(["sweep", "74LS99"]) == 2
    assert one_sentence(capsys.readouterr()) == f"sagbench: {said}"
    assert bench.Device.ports == []


def test_every_mistake_of_a_part_file_is_shown(bench, monkeypatch, capsys):
    def load_part(text, user_dirs=()):
        raise errors.PartFileError(("a.toml:1:2: one", "a.toml:7:1: two"))
    monkeypatch.setattr("sagbench.parts.load_part", load_part)
    assert main(["sweep", "74LS04"]) == 2
    assert capsys.readouterr().err == "sagbench: a.toml:1:2: one\na.toml:7:1: two\n"


def test_a_record_that_the_link_broke_off_is_kept_and_shown(bench, capsys, tmp_path):
    error = errors.LinkLost("the link was lost.")
    error.record = replace(examples.interrupted(), partial="the link was lost")
    bench.result = error
    assert main(["sweep", "74LS04", "--json", str(tmp_path / "r.json")]) == 3
    captured = capsys.readouterr()
    assert "Incomplete: the link was lost." in captured.out and one_sentence(captured) == "sagbench: the link was lost."
    assert from_json((tmp_path / "r.json").read_text()) == error.record


def test_an_interrupted_sweep_is_written_and_marked(bench, capsys, tmp_path):
    bench.result = examples.interrupted()
    file = tmp_path / "r.json"
    assert main(["sweep", "74LS04", "--json", str(file), "--html", str(tmp_path / "r.html")]) == 130
    assert json.loads(file.read_text())["partial"] == "interrupted by the user"
    assert "NOT FINISHED" in (tmp_path / "r.html").read_text() and "NOT FINISHED" in capsys.readouterr().out


def test_an_interrupt_with_nothing_to_show(bench, capsys):
    bench.result = KeyboardInterrupt()
    assert main(["sweep", "74LS04"]) == 130
    assert one_sentence(capsys.readouterr()) == "sagbench: interrupted."
    assert bench.Device.closed == 1


def test_a_mistake_of_our_own_is_kept_in_a_file(bench, capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    bench.result = ZeroDivisionError("division by zero")
    assert main(["sweep", "74LS04", "--quiet"]) == 70
    sentence = one_sentence(capsys.readouterr())
    [account] = tmp_path.glob("sagbench-*.txt")
    assert str(account) in sentence and "ZeroDivisionError: division by zero" in sentence
    assert "Traceback" in account.read_text() and "['sweep', '74LS04', '--quiet']" in account.read_text()


def test_a_mistake_of_our_own_without_a_place_for_its_account(bench, capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    bench.result = ZeroDivisionError("division by zero")
    assert main(["sweep", "74LS04"]) == 70
    assert "no account of it could be written" in one_sentence(capsys.readouterr())


def test_json_and_page_are_written_whole(bench, tmp_path, capsys):
    json_file, page = tmp_path / "r.json", tmp_path / "r.html"
    json_file.write_text("old")
    assert main(["sweep", "74LS04", "--json", str(json_file), "--html", str(page)]) == 0
    assert from_json(json_file.read_text()) == bench.result
    assert page.read_text().startswith("<!DOCTYPE html>")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["r.html", "r.json"]
    assert capsys.readouterr().out.startswith("74LS04")


def test_json_to_standard_output_takes_the_place_of_the_report(bench, capsys):
    assert main(["sweep", "74LS04", "--json", "-"]) == 0
    assert from_json(capsys.readouterr().out) == bench.result


def test_quiet_says_nothing(bench, capsys):
    bench.result = examples.weak_gate()
    assert main(["sweep", "7400", "--quiet"]) == 1
    captured = capsys.readouterr()
    assert captured.out == captured.err == ""


@pytest.mark.parametrize("words, said", [
    (["--json", "{tmp}/no/such/r.json"], "there is no folder {tmp}/no/such"),
    (["--html", "{tmp}"], "{tmp} is a folder"),
    (["--json", "-", "--html", "-"], "only one of --json and --html"),
    (["--json", "{tmp}/x", "--html", "{tmp}/x"], "--json and --html both name {tmp}/x"),
    (["--json", "{tmp}/x", "--html", "{tmp}/../{tmp.name}/./x"], "--json and --html both name {tmp}/x"),
    (["--parts-dir", "{tmp}/none"], "there is no folder {tmp}/none"),
])
def test_what_cannot_be_written_is_said_before_the_sweep(bench, capsys, tmp_path, words, said):
    assert main(["sweep", "74LS04", *(w.format(tmp=tmp_path) for w in words)]) == 2
    assert said.format(tmp=tmp_path) in one_sentence(capsys.readouterr())
    assert bench.Device.ports == []


def test_a_full_disk_loses_neither_report_nor_the_old_file(bench, capsys, tmp_path, monkeypatch):
    file = tmp_path / "r.json"
    file.write_text("old")

    def full(*_):
        raise OSError(28, "No space left on device")
    monkeypatch.setattr("os.replace", full)
    assert main(["sweep", "74LS04", "--json", str(file)]) == 2
    captured = capsys.readouterr()
    assert f"{file} cannot be written: no space left on the device" in one_sentence(captured) and captured.out.startswith("74LS04")
    assert [p.name for p in tmp_path.iterdir()] == ["r.json"] and file.read_text() == "old"


class Terminal(io.StringIO):
    encoding = "utf-8"

    def isatty(self):
        return True


@pytest.mark.parametrize("words, environment, colored", [
    ([], {}, True), (["--no-color"], {}, False), (["--plain"], {}, False), ([], {"NO_COLOR": "1"}, False),
    ([], {"NO_COLOR": ""}, True), ([], {"TERM": "dumb"}, False),
])
def test_colour_is_for_terminals_that_want_it(bench, monkeypatch, words, environment, colored):
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    terminal = Terminal()
    monkeypatch.setattr("sys.stdout", terminal)
    assert main(["sweep", "74LS04", *words]) == 0
    assert ("\x1b[" in terminal.getvalue()) is colored


def test_an_encoding_without_signs_of_measure_gets_ascii(bench, monkeypatch):
    class Old(Terminal):
        encoding = "latin-1"
    old = Old()
    monkeypatch.setattr("sys.stdout", old)
    main(["sweep", "74LS04"])
    assert "+-" in old.getvalue() and old.getvalue().isascii()


@pytest.mark.parametrize("words, shown", [([], True), (["--quiet"], False), (["--plain"], False)])
def test_progress_is_drawn_on_standard_error_of_a_terminal(bench, monkeypatch, capsys, words, shown):
    terminal = Terminal()
    monkeypatch.setenv("TERM", "xterm")                  # whatever the tests themselves run under
    monkeypatch.setattr("sys.stderr", terminal)
    main(["sweep", "74LS04", *words])
    assert (bench.calls[0][2] is not None) is shown
    assert ("contacts" in terminal.getvalue()) is shown
    assert "\x1b" not in capsys.readouterr().out
