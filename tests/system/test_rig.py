"""The rig fails a test whose fixture was driven beyond its ratings: the watch is armed in every test that uses it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from inprocess import sweep_here
from rig import ENV, PATIENCE_S, ROOT, sagbench, virtual_fixture, virtual_port
from virtual_fixture.inproc import Fixture

CHIP = ROOT / "tests/virtual_fixture/chips/demo/sound_7400.toml"
BRIDGE = "A14+A12=1"        # the M lines of positions 1 and 2: an input of the 7400 each, driven apart by its truth table


def test_a_violation_fails_the_test_that_caused_it() -> None:
    with pytest.raises(AssertionError, match=r"violation: \d+\.\d{6} s: port pin current, PK\d \(-?\d+\.\d mA\)"), \
            virtual_port(CHIP, 7, "--fast", "--defect", BRIDGE) as port:
        sagbench("sweep", "7400", "--port", port)


@pytest.mark.overstresses
def test_so_does_one_in_the_same_process() -> None:
    with pytest.raises(AssertionError, match=r"\d+\.\d{6} s: port pin current, PK\d \(-?\d+\.\d mA\)"), \
            Fixture(7, CHIP, defects=[BRIDGE]) as fixture:
        sweep_here(fixture, "7400")


def test_so_does_one_that_the_test_itself_does_not_look_at(tmp_path: Path) -> None:
    """tests/conftest.py: whatever a test does with its fixtures, what they have seen fails it, with moment, pin and milliamperes."""
    (tmp_path / "test_planted.py").write_text(
        "from inprocess import sweep_here\n"
        "from virtual_fixture.inproc import Fixture\n"
        "def test_planted():\n"
        f"    fixture = Fixture(7, {str(CHIP)!r}, defects=[{BRIDGE!r}])\n"
        "    sweep_here(fixture, '7400')\n"
        "    fixture.close()\n"
        "def test_the_next_is_not_blamed():\n"
        "    pass\n")
    words = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-p", "conftest", "-c", "/dev/null", str(tmp_path / "test_planted.py")]
    done = subprocess.run(words, env=ENV, cwd=tmp_path, text=True, capture_output=True, timeout=PATIENCE_S, check=False)
    assert done.returncode == 1 and "2 passed, 1 error" in done.stdout and "teardown of test_planted" in done.stdout, done.stdout + done.stderr
    assert re.search(r"\d+\.\d{6} s: port pin current, PK\d \(-?\d+\.\d mA\)", done.stdout)


def test_a_command_that_is_refused_fails_the_test() -> None:
    with virtual_fixture("--empty", "--fast") as fixture:
        assert fixture.command("defect R105=open") == "ok"
        with pytest.raises(AssertionError, match="refuses `defect R999=open`"):
            fixture.command("defect R999=open")


def test_a_fixture_that_does_not_start_says_why() -> None:
    with pytest.raises(AssertionError, match="did not start.*R999"), virtual_fixture("--empty", "--defect", "R999=open"):
        pass
