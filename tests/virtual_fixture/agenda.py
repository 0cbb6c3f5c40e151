"""What is to happen at which moment of simulated time.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import heapq
from collections.abc import Callable
from itertools import count
from typing import Any


class Agenda:
    """Actions at moments, and actions that wait for the chip to be powered."""

    def __init__(self) -> None:
        self._due: list[tuple[float, int, Callable[[], Any]]] = []
        self._waiting: list[tuple[float, Callable[[], Any]]] = []
        self._number = count()

    def __bool__(self) -> bool:
        return bool(self._due or self._waiting)

    @property
    def waits_for_power(self) -> bool:
        """Something is to happen after the chip is powered next."""
        return bool(self._waiting)

    @property
    def next_s(self) -> float:
        """Moment of the next action, infinity if none is known."""
        return self._due[0][0] if self._due else float("inf")

    def at(self, moment_s: float, action: Callable[[], Any]) -> None:
        """Do this at a moment."""
        heapq.heappush(self._due, (moment_s, next(self._number), action))

    def when_powered(self, delay_s: float, action: Callable[[], Any]) -> None:
        """Do this so long after the chip is powered next."""
        self._waiting.append((delay_s, action))

    def powered(self, moment_s: float) -> None:
        """The chip has been powered."""
        for delay, action in self._waiting:
            self.at(moment_s + delay, action)
        self._waiting = []

    def happen(self, now_s: float) -> None:
        """Do what is due."""
        while self._due and self._due[0][0] <= now_s:
            heapq.heappop(self._due)[2]()
