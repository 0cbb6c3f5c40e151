"""How long the chip keeps its supply, and the strong lines drive, once something has gone wrong: looked at on the virtual rails.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from virtual_fixture.bench import Bench

VCC, GND = 24, 7              # positions of the chip in this room's sockets
STEP_S = 0.25e-3              # the rails are looked at so often
LIVE_V = 1.0                  # more than a junction needs is a supply, whatever the switches say
QUIET_S = 5e-3                # off for so long is off
LOW, HIGH = 1, 2              # of a line
GIVE_UP_S = 3.0               # what is not off by then stays on
POWERED_MOST_MS, STRONG_MOST_MS = 100.0, 60.0


class OffWatch:
    """Looks at a bench from a moment on, as simulated time passes.

    powered_ms, strong_ms: milliseconds from that moment to the last look at which the chip was supplied, a strong line drove.
    """

    def __init__(self, bench: Bench, since_s: float) -> None:
        self.bench, self.since_s = bench, since_s
        self.powered_ms = self.strong_ms = 0.0
        self.supplied = False
        self._look()

    @property
    def spent_s(self) -> float:
        """Simulated seconds since the moment."""
        return self.bench.now_s - self.since_s

    @property
    def done(self) -> bool:
        """Both have been off for a while."""
        return self.spent_s * 1e3 > max(self.powered_ms, self.strong_ms) + QUIET_S * 1e3

    def _look(self) -> None:
        self.supplied = self.bench.powered or self.bench.node(VCC) - self.bench.node(GND) > LIVE_V
        lines = {*self.bench.drive.strong}
        if self.supplied:
            self.powered_ms = self.spent_s * 1e3
        # Low without a supply is the discharge.
        if HIGH in lines or LOW in lines and self.supplied:
            self.strong_ms = self.spent_s * 1e3

    def run(self, until_s: float) -> None:
        """Let time pass until so many seconds after the moment."""
        while self.spent_s < until_s:
            self.bench.run(min(STEP_S, max(1e-6, until_s - self.spent_s)))
            self._look()

    def until_done(self, limit_s: float) -> None:
        """Let time pass until both are off, not longer than so."""
        while not self.done and self.spent_s < limit_s:
            self.run(self.spent_s + STEP_S)
