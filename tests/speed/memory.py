"""What a box of chips makes the host hold: one session over so many chips, the log on disk.

Host and fixture (its native build) are one process here, so that what is printed is an upper bound of the host's own.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import resource
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from inprocess import BOOT_S, part
from lot_here import BenchHere, Hand

from sagbench.device import Device
from sagbench.log.database import open_log
from sagbench.lot.presence import Watcher, look
from sagbench.lot.session import Session, Told
from rig import ROOT
from virtual_fixture.inproc import Fixture

DEMO = ROOT / "tests/virtual_fixture/chips/demo"
BOX = [DEMO / f"{name}.toml" for name in ("sound_74ls00", "tired_74ls00", "stuck_low_74ls00", "sound_74ls00", "open_output_7400")]
QUICK_S = 0.6              # a hand quicker than any: what it does meanwhile takes no memory
MARKING, PAGE_BYTES = "74LS00", resource.getpagesize()


@dataclass(frozen=True)
class Held:
    """Resident megabytes after so many chips."""

    chips: int
    mb: float


def resident_mb() -> float:
    """This process's resident memory, now (Linux: /proc/self/statm, second figure, pages)."""
    return int(Path("/proc/self/statm").read_text().split()[1]) * PAGE_BYTES / 1e6


class _Forgetful(Hand):
    """A hand that keeps nothing of what it was told, and notes the memory after each result."""

    def note(self, seen: Callable[[int], None]) -> None:
        self.count, self.seen = 0, seen

    def tell(self, told: Told) -> None:
        super().tell(told)
        self.told.clear()
        self.at.clear()
        if told.kind == "result":
            self.count += 1
            self.seen(self.count)


def held(chips: int, every: int = 50, progress: Callable[[Held], None] = lambda _: None) -> list[Held]:
    """Memory after each `every` of so many chips. Raises what the host raises."""
    found: list[Held] = []

    def seen(count: int) -> None:
        if count % every == 0 or count == chips:
            found.append(Held(count, resident_mb()))
            progress(found[-1])

    with tempfile.TemporaryDirectory() as folder, Fixture(7, variant="pc") as fixture, open_log(Path(folder) / "log.sqlite3") as log:
        fixture.run(BOOT_S)
        hand = _Forgetful(fixture, [BOX[n % len(BOX)] for n in range(chips)], MARKING, hand_s=QUICK_S)
        hand.note(seen)
        with Device(fixture.line) as device:
            Session(BenchHere(device, fixture), Watcher(partial(look, device)), log, log.begin_lot("box", MARKING), part,
                    lambda part: "library", hand.tell, hand.heard, part(MARKING), MARKING).run()
    return found


def kept() -> dict[str, Any]:
    """The long run's result, as it was written by `python -m speed memory`."""
    return dict(json.loads((Path(__file__).parent / "memory.json").read_text()))
