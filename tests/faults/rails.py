"""How long the chip keeps its supply, and the strong lines drive, once something has gone wrong: looked at on the virtual rails.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from dataclasses import dataclass

from virtual_fixture.bench import Bench

VCC, GND = 24, 7              # positions of the chip in this room's sockets
STEP_S = 0.25e-3              # the rails are looked at so often
LIVE_V = 1.0                  # more than two junctions need to be on is a supply, whatever the switches say
QUIET_S = 5e-3                # off for so long is off
OFF, LOW, HIGH = 0, 1, 2      # of a line


@dataclass(frozen=True)
class Off:
    """Milliseconds from a moment until the last look at which it was still on."""

    powered_ms: float
    strong_ms: float


def _supplied(bench: Bench) -> bool:
    return bench.powered or bench.node(VCC) - bench.node(GND) > LIVE_V


def _strong(bench: Bench, supplied: bool) -> bool:
    """A strong line drives: high, or low into a chip that is supplied.  Low without a supply is the discharge."""
    lines = {*bench.drive.strong}
    return HIGH in lines or LOW in lines and supplied


def watch(bench: Bench, since_s: float, limit_s: float) -> Off:
    """Let time pass until both are off for good, for `limit_s` after `since_s` (simulated seconds) at most."""
    powered = strong = 0.0
    while (spent := bench.now_s - since_s) < limit_s:
        supplied = _supplied(bench)
        powered = spent if supplied else powered
        if _strong(bench, supplied):
            strong = spent
        if spent > max(powered, strong) + QUIET_S:
            break
        bench.run(STEP_S)
    return Off(powered * 1e3, strong * 1e3)
