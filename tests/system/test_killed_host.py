"""The program is killed while the chip is powered: power goes at once.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import subprocess
import sys
import time
from pathlib import Path

import rig

from sagbench.wire.frame import Splitter
from sagbench.wire.guard import last_word
from sagbench.wire.messages import Hello

DEMO = rig.ROOT / "tests/virtual_fixture/chips/demo"
KILLS = 5


def test_the_last_word_is_a_whole_frame_whatever_was_cut_off_before_it() -> None:
    *damaged, whole = Splitter().feed(b"\x05half a fra" + last_word())
    assert damaged == [None] and whole is not None and whole.id == Hello.ID


def killed(fixture: rig.VirtualFixture) -> float:
    """Simulated seconds from the kill to no power."""
    words = [sys.executable, "-m", "sagbench", "hold", "74LS00", "--lines", "--port", fixture.port]
    with subprocess.Popen(words, cwd=rig.ROOT, env=rig.ENV, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        while "POWER ON" not in (line := program.stdout.readline()):
            assert line, "the program ended before the chip was powered"
        status = json.loads(fixture.command("status"))
        assert status["powered"]
        program.kill()
    begun, deadline = status["simulated_s"], time.monotonic() + rig.PATIENCE_S
    while (status := json.loads(fixture.command("status")))["powered"]:
        assert time.monotonic() < deadline
        time.sleep(0.002)
    return float(status["simulated_s"] - begun)


def test_power_goes_at_once(tmp_path: Path) -> None:
    """100 ms, and 50 of them without the child that speaks.  On a busy machine it takes time to see it from outside, so the least of
    several kills is held against that (tests/faults looks at each moment), and every one against a second."""
    with rig.virtual_fixture("--chip", str(DEMO / "sound_74ls00.toml"), "--seed", "7", "--fast", "--pace", "real") as fixture:
        took = [killed(fixture) for _ in range(KILLS)]
    assert min(took) < 0.1 and max(took) < 1.0, took
