# SPDX-License-Identifier: MIT
"""A full disk, played by Linux's /dev/full (full(4): "Writes to the /dev/full device fail with an ENOSPC error").

Whatever cannot be written, the user learns the verdict, gets one sentence, and what can be written is written.
"""
import contextlib
import os
import subprocess
import sys
from argparse import Namespace

import pytest

from host.report import examples
from sagbench.cli import output
from sagbench.cli.main import main
from sagbench.errors import UsageError
from sagbench.report.codec import from_json, to_json

SENTENCE = ("cannot be written: no space left on the device; "
            "free some and sweep again, or use `sagbench report` on a kept record.")


def arguments(**given):
    return Namespace(**{"json": None, "html": None, "quiet": False, "plain": True, "no_color": True, **given})


def deliver_to_full_disk(record, given):
    """Deliver with standard output on a full disk; returns the sentence."""
    with open("/dev/full", "w", encoding="utf-8") as stream, contextlib.redirect_stdout(stream):
        with pytest.raises(UsageError) as caught:
            output.deliver(record, given)
    return str(caught.value)


@pytest.mark.parametrize("full_one, other", [("json", "html"), ("html", "json")])
def test_a_file_that_does_not_fit_costs_neither_report_nor_the_other_file(capsys, tmp_path, full_one, other):
    kept = tmp_path / "kept"
    with pytest.raises(UsageError) as caught:
        output.deliver(examples.sound_inverter(), arguments(**{full_one: "/dev/full", other: str(kept)}))
    assert str(caught.value) == f"/dev/full {SENTENCE}"
    assert capsys.readouterr().out.startswith("74LS04") and kept.stat().st_size > 1000


def test_a_report_that_does_not_fit_leaves_verdict_and_record(tmp_path):
    kept = tmp_path / "r.json"
    assert deliver_to_full_disk(examples.weak_gate(), arguments(json=str(kept))) == f'the verdict is "not sound", but standard output {SENTENCE}'
    assert from_json(kept.read_text()) == examples.weak_gate()


@pytest.mark.parametrize("target", ["json", "html"])
def test_a_file_to_a_full_standard_output_leaves_the_verdict(target):
    assert deliver_to_full_disk(examples.weak_gate(), arguments(**{target: "-"})) == f'the verdict is "not sound", but standard output {SENTENCE}'


def test_the_report_comes_before_the_files(monkeypatch, capsys):
    seen = []
    monkeypatch.setattr(output, "write", lambda target, text: seen.append(capsys.readouterr().out[:6]))
    output.deliver(examples.sound_inverter(), arguments(json="r.json"))
    assert seen == ["74LS04"]


def test_an_interrupted_report_does_not_lose_the_files(monkeypatch, tmp_path):
    def interrupted(*_):
        raise KeyboardInterrupt
    monkeypatch.setattr(output, "_show", interrupted)
    kept = tmp_path / "r.json"
    with pytest.raises(KeyboardInterrupt):
        output.deliver(examples.sound_inverter(), arguments(json=str(kept)))
    assert from_json(kept.read_text()) == examples.sound_inverter()


@pytest.mark.parametrize("words, said", [
    (["report", "{record}"], f'the verdict is "sound", but standard output {SENTENCE}'),
    (["parts", "show", "7400"], "the output cannot be written: no space left on the device; free some and try again."),
])
def test_the_program_itself_ends_with_2_and_one_line(tmp_path, words, said):
    record = tmp_path / "r.json"
    record.write_text(to_json(examples.sound_inverter()))
    with open("/dev/full", "w", encoding="utf-8") as stream:
        ended = subprocess.run([sys.executable, "-c", "import sys; from sagbench.cli.main import main; sys.exit(main())",
                                *(word.format(record=record) for word in words)],
                               stdout=stream, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    assert (ended.returncode, ended.stderr) == (2, f"sagbench: {said}\n")


def test_a_pipe_nobody_reads_keeps_the_verdict_as_exit_code(tmp_path):
    record = tmp_path / "r.json"
    record.write_text(to_json(examples.weak_gate()))
    reading, writing = os.pipe()
    os.close(reading)
    ended = subprocess.run([sys.executable, "-c", "import sys; from sagbench.cli.main import main; sys.exit(main())",
                            "report", str(record), "--html", "-"],
                           stdout=writing, stderr=subprocess.PIPE, text=True, timeout=60, check=False)
    os.close(writing)
    assert (ended.returncode, ended.stderr) == (1, "")


def test_another_error_has_the_words_of_the_system(tmp_path, capsys, monkeypatch):
    record = tmp_path / "r.json"
    record.write_text(to_json(examples.sound_inverter()))

    def fails(*_):
        raise OSError(5, "Input/output error")
    monkeypatch.setattr("os.replace", fails)
    assert main(["report", str(record), "--html", str(tmp_path / "r.html")]) == 2
    captured = capsys.readouterr()
    assert captured.out.startswith("74LS04") and "r.html cannot be written: input/output error; " in captured.err
