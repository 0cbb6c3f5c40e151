"""A box of chips, by simulated time.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from lot_here import lot_here
from rig import ROOT

from sagbench.log.database import open_log
from virtual_fixture.inproc import Fixture

DEMO = ROOT / "tests/virtual_fixture/chips/demo"
BOX = [DEMO / f"{name}.toml" for name in ("sound_74ls00", "tired_74ls00", "sound_74ls00", "sound_74ls00")]


def pace() -> Iterable[tuple[str, float, str]]:
    """Results a minute of a quad gate, the hand's 1.5 s included."""
    with tempfile.TemporaryDirectory() as folder, Fixture(7) as fixture, open_log(Path(folder) / "log.sqlite3") as log:
        at = lot_here(fixture, log, "74LS00", BOX).at
    yield "lot_chips_per_minute", 60 * (len(at) - 1) / (at[-1] - at[0]), "chips/min"
