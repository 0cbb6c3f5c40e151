"""What a log loses when its program is killed, its disk fills up or fails, its bytes change: a sample of `make logtrials`.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

from log_trials import damage, disk, kills

KILLS, DAMAGES = 40, 10


def losses() -> Iterable[tuple[str, float, str]]:
    """Lost in so many trials; the long runs are in tests/log_trials/RESULTS.md."""
    with tempfile.TemporaryDirectory() as folder:
        spoilt = Path(folder) / "damage"
        spoilt.mkdir()
        killed = [lost for lost in kills.run(0, KILLS, Path(folder) / "kills") if lost]
        unseen = [wrong for _, wrong in (damage.trial(number, spoilt) for number in range(DAMAGES)) if wrong]
    full = disk.run()
    yield "log_kills", KILLS, "kills"
    yield "log_chips_lost_after_kill", len(killed), "chips"
    yield "log_losses", len(killed) + len(unseen) + full["lost"], "losses"
