"""A box of chips at the virtual fixture: in and out is noticed, each is in the log.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from pathlib import Path

import rig
from lot_here import lot_here

from sagbench.log.database import open_log
from virtual_fixture.inproc import Fixture

DEMO = rig.ROOT / "tests/virtual_fixture/chips/demo"


def test_a_box_of_three(tmp_path: Path) -> None:
    chips = [DEMO / f"{name}.toml" for name in ("sound_74ls00", "tired_74ls00", "sound_74ls00")]
    with Fixture(7) as fixture, open_log(tmp_path / "log.sqlite3") as log:
        hand = lot_here(fixture, log, "74LS00", chips)
        verdicts = [entry.verdict for entry in log.entries()]
        assert verdicts[0] == verdicts[2] == "sound" and verdicts[1] == "not sound"
        assert [told.kind for told in hand.told] == ["insert", "measuring", "result", "remove"] * 3 + ["insert"]
        # A chip is told within 4 s of the last: the hand's 1.5 s, the looks that agree, a sweep of 1.3 s.
        assert all(b - a < 4.0 for a, b in zip(hand.at, hand.at[1:], strict=False))


def test_the_command_goes_on_with_a_paused_box(tmp_path: Path) -> None:
    with rig.virtual_port(DEMO / "tired_74ls00.toml", 7, "--fast") as port:
        first = rig.sagbench("lot", "74LS00", "--name", "attic", "--board", "CPU", "--port", port, "--silent", typed="pause\n", data=tmp_path)
        assert first.returncode == 0 and "sagbench lot --resume 1" in first.stdout, first.stderr
        wrong = rig.sagbench("lot", "--resume", "7", data=tmp_path)
        assert wrong.returncode == 2 and "no lot 7" in wrong.stderr
