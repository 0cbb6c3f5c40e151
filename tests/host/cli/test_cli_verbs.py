# SPDX-License-Identifier: MIT
"""The command as a process, and its smaller verbs.

Outside references: exit code 70 is EX_SOFTWARE of BSD's sysexits.h (from memory);
NO_COLOR as at https://no-color.org (from memory).
"""
import argparse
import io
import json
import os
import resource
import subprocess
import sys
import types

import pytest

from host.report import examples
from sagbench import errors
from sagbench.cli import completion
from sagbench.cli import main as entry
from sagbench.cli.main import main
from sagbench.report.codec import to_json


@pytest.fixture(autouse=True)
def no_parts_of_ones_own(monkeypatch):
    monkeypatch.setenv("SAGBENCH_PARTS", "")
    monkeypatch.delenv("COLUMNS", raising=False)


def run(*words, **options):
    return subprocess.run([sys.executable, "-m", "sagbench", *words], capture_output=True, text=True, timeout=60, **options)


def test_help_comes_at_once_and_names_every_exit_code():
    times = []
    for _ in range(5):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        done = run("--help")
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        # Its own processor time: what the clock on the wall shows on a machine with nothing else to do.
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    assert done.returncode == 0 and done.stderr == ""
    assert min(times) < 0.15, times
    listed = {int(line.split()[0]) for line in done.stdout.split("exit codes:")[1].split("\n\n")[0].strip().splitlines()}
    assert listed == {errors.EXIT_SOUND, errors.EXIT_NOT_SOUND, errors.EXIT_USAGE, errors.EXIT_FIXTURE,
                      errors.EXIT_NO_VERDICT, errors.EXIT_INTERRUPTED, entry.EXIT_INTERNAL}


def test_help_needs_nothing_but_argparse():
    program = "import sys; import sagbench.cli.main as m; m.build_parser(); print('rich' in sys.modules, 'sagbench.record' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


def parsers(parser):
    """The parser and those of all verbs below it."""
    yield parser
    for action in parser._actions:
        for below in action.choices.values() if isinstance(action, argparse._SubParsersAction) else ():
            yield from parsers(below)


def test_every_help_reads_at_80_columns_and_lists_keep_their_second_column(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    told = {parser.prog: parser.format_help() for parser in parsers(completion.whole())}
    assert len(told) > 25
    assert not [(prog, line) for prog, text in told.items() for line in text.splitlines() if len(line) > 80]
    assert "(after cleaning its\n                legs)\n" in told["sagbench lot"]


def test_cautions_are_shown_where_the_chip_is_handled():
    assert "do not insert or remove it while the lamp" in run("sweep", "--help").stdout


@pytest.mark.parametrize("words", [(), ("sweep",), ("dance",), ("fixture",), ("sweep", "74LS04", "--colour")])
def test_a_command_that_is_none_ends_with_2(words):
    done = run(*words)
    assert done.returncode == 2 and "Traceback" not in done.stderr


def test_version():
    assert run("--version").stdout.startswith("sagbench 0.")


def test_a_reader_who_leaves_early_changes_nothing(tmp_path):
    file = tmp_path / "weak.json"
    file.write_text(to_json(examples.weak_gate()))
    read, write = os.pipe()
    os.close(read)
    done = subprocess.run([sys.executable, "-m", "sagbench", "report", str(file)], stdout=write, stderr=subprocess.PIPE,
                          text=True, timeout=60)
    os.close(write)
    assert (done.returncode, done.stderr) == (1, "")


@pytest.mark.parametrize("name", examples.ALL)
def test_a_kept_record_is_reported_with_the_exit_code_it_had(name, tmp_path, capsys):
    from sagbench.cli.output import exit_code
    record = examples.ALL[name]()
    file = tmp_path / "r.json"
    file.write_text(to_json(record))
    assert main(["report", str(file)]) == exit_code(record)
    assert capsys.readouterr().out.startswith(record.part)


@pytest.mark.parametrize("content, said", [
    (None, "cannot be read: No such file or directory"), (b"\xff\xfe", "is not text"), (b"{}", "is not a sweep record")])
def test_a_record_that_is_none_is_a_usage_error(tmp_path, capsys, content, said):
    file = tmp_path / "r.json"
    if content is not None:
        file.write_bytes(content)
    assert main(["report", str(file)]) == 2
    error = capsys.readouterr().err
    assert error.startswith(f"sagbench: {file}") and said in error and error.count("\n") == 1


def test_parts_are_found_by_every_word(capsys):
    assert main(["parts", "inverter", "74ls"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert any(line.startswith("04 ") and "hex inverter: 74 H" in line and " LS " in line for line in lines)
    assert all("inverter" in line.lower() for line in lines)
    assert main(["parts", "74ls04"]) == 0
    assert [line.split()[0] for line in capsys.readouterr().out.splitlines()] == ["04"]


def test_no_part_with_these_words_is_a_usage_error(capsys):
    assert main(["parts", "flux", "capacitor"]) == 2
    assert capsys.readouterr().err == ("sagbench: no part has 'flux' and 'capacitor'; "
                                       "`sagbench parts` without words lists all.\n")


def test_a_message_cannot_command_the_terminal(capsys):
    assert main(["sweep", "74\x1b[2J"]) == 2
    assert "\x1b" not in capsys.readouterr().err


def test_fixture_info_tells_who_answers(monkeypatch, capsys):
    from sagbench.device import Info
    from sagbench.wire.messages import State
    from sagbench.wire.numbers import Fault

    class Device:
        info = Info("/dev/ttyUSB0", 1, 0xC4840F6B, "bench24", None, "1.2", 5, 24)

        @classmethod
        def connect(cls, port=None):
            return cls()

        def __enter__(self):
            return self

        def __exit__(self, *why):
            pass

        def state(self):
            return State(Fault.SILENCE | Fault.OVER_CURRENT, 0, 0, 1, 0, 0, 3, 512, 61500)
    monkeypatch.setattr("sagbench.device.Device", Device)
    assert main(["fixture", "info"]) == 0
    out = capsys.readouterr().out
    for said in ("/dev/ttyUSB0", "bench24 (C4840F6B)", "none set", "1.2, API level 1", "24 positions, not powered",
                 "over current, silence", "3 damaged frames", "512 bytes", "61.5 s since power-on and a supply too low"):
        assert said in out, said
    assert main(["fixture", "info", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["port"] == "/dev/ttyUSB0" and told["faults"] == "over current, silence"


def test_fixture_info_without_a_fixture(monkeypatch, capsys):
    def connect(port=None):
        raise errors.NoDevice("nothing there; plug it in.")
    monkeypatch.setattr("sagbench.device.Device", types.SimpleNamespace(connect=connect))
    assert main(["fixture", "info"]) == 3
    assert capsys.readouterr().err == "sagbench: nothing there; plug it in.\n"


def test_progress_in_a_pipe_is_a_line_now_and_then():
    """For who waits minutes for a part that is learnt: words, and how far of at most how much."""
    from sagbench.cli import progress

    clock, out = [0.0], io.StringIO()
    with progress.said(out, now=lambda: clock[0]) as told:
        for looks in range(0, 6000, 200):
            clock[0] += 0.5
            told("state bits, looks:", looks, 64000)
        clock[0] += progress.EVERY_S
        told("contacts", 0, 0)
    lines = out.getvalue().splitlines()
    assert lines[0] == "sagbench: state bits, looks: 1800 of 64000 at most" and lines[-1] == "sagbench: contacts"
    assert len(lines) == 4 and all(len(line) <= 80 for line in lines)
    with progress.said(out, quiet=True) as told:
        assert told is None
