# SPDX-License-Identifier: MIT
"""`sagbench identify` as a command on the virtual fixture: the host's thinking takes real time, in which it must not fall silent."""
from __future__ import annotations

import json
import os
import pty
import subprocess
import sys
from pathlib import Path

from rig import ENV, ROOT, sagbench, virtual_port

DEMO = ROOT / "tests/virtual_fixture/chips/demo"


def test_an_unmarked_transceiver_is_named_with_its_family():
    with virtual_port(DEMO / "sound_74ls245.toml", 7, "--fast") as port:
        done = sagbench("identify", "--port", port, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert "245" in {f["function"] for f in told["answers"][0]["functions"]} and told["families"][0]["family"] == "LS"
    assert told["settled_without_power"] and told["answers"][0]["readings_wrong"] == 0


def test_a_chip_the_wrong_way_round_is_told_and_not_powered():
    with virtual_port(DEMO / "reversed_7400.toml", 7, "--fast") as port:
        done = sagbench("identify", "--port", port)
    assert done.returncode == 4 and " ".join(done.stdout.split()) == (
        "The chip sits the wrong way round: seat it with pin 1 in position 1. It was not powered.")


def test_rails_that_are_not_settled_are_asked_for_at_a_terminal(tmp_path: Path):
    """Pin 13 makes no contact: the chip could have two supplies.  No answer, no power; an answer, and it is powered so."""
    chip = tmp_path / "open.toml"
    chip.write_text('part = "74LS138"\n[[fault]]\nkind = "open"\npin = 13\n')
    with virtual_port(chip, 5, "--fast") as port:
        for answer, code, told in ((b"\n", 4, "It was not powered."), (b"1\n", 0, "ground at pin 8: confirmed by you.")):
            ours, theirs = pty.openpty()
            os.write(ours, answer)
            done = subprocess.run([sys.executable, "-m", "sagbench", "identify", "--no-family", "--port", port], stdin=theirs, cwd=ROOT,
                                  env=ENV, capture_output=True, text=True, timeout=120, check=False)
            os.close(ours)
            os.close(theirs)
            assert "Power it so? Number, or nothing for no:" in done.stdout
            assert done.returncode == code and told in " ".join(done.stdout.split()), done.stdout + done.stderr
