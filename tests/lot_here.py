"""A box of chips at an in-process virtual fixture, with a hand that inserts and removes.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

from inprocess import BOOT_S, part as part_named

from sagbench.device import Device
from sagbench.log.database import Log
from sagbench.lot.presence import Watcher, look
from sagbench.lot.session import Command, Session, Told, Verb
from sagbench.record import SweepRecord
from sagbench.sweep import sweep
from virtual_fixture.inproc import Fixture

HAND_S = 1.5        # from "take it out" to the next chip with the lever down: a practised hand (common practice)
WIGGLE_S = 0.3      # meanwhile the last chip still touches


@dataclass
class Hand:
    """Puts each chip in after the last is out; ends the box after the last."""

    fixture: Fixture
    chips: list[Any]
    marking: str
    told: list[Told] = field(default_factory=list)
    at: list[float] = field(default_factory=list)           # simulated second of each result
    hand_s: float = HAND_S
    _due: float | None = None
    _next: Any = None

    def tell(self, told: Told) -> None:
        self.told.append(told)
        if told.kind == "result":
            self.at.append(self.fixture.now_s)
        if told.kind == "insert" and self.chips:
            self._due, self._next = self.fixture.now_s + self.hand_s - WIGGLE_S, self.chips.pop(0)
        elif told.kind == "insert":
            self._due, self._next = self.fixture.now_s, "end"
        elif told.kind == "remove":
            self._due, self._next = self.fixture.now_s + WIGGLE_S, None

    def heard(self) -> Command | None:
        if self._due is None or self.fixture.now_s < self._due:
            return None
        self._due = None
        if self._next == "end":
            return Command(Verb.END)
        self.fixture.insert(self._next)
        return None


@dataclass
class BenchHere:
    device: Device
    fixture: Fixture

    def measure(self, part: Any, marking: str) -> SweepRecord:
        return sweep(self.device, part, marking=marking)

    def pause(self, seconds: float) -> None:
        self.fixture.run(seconds)


def lot_here(fixture: Fixture, log: Log, marking: str, chips: Sequence[Path]) -> Hand:
    """Measure these chip files as a box.  Raises what the host raises."""
    fixture.run(BOOT_S)
    hand = Hand(fixture, list(chips), marking)
    with Device(fixture.line) as device:
        Session(BenchHere(device, fixture), Watcher(partial(look, device)), log, log.begin_lot("box", marking), part_named,
                lambda part: "library", hand.tell, hand.heard, part_named(marking), marking).run()
    return hand
