"""Line drivers and receivers.  Pinouts and tables: data books of Motorola, National, AMD and TI, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod

from .model import OFF, Levels, Part, part


@part("1489")
class LineReceiver(Part):
    """Y = not A; a resistor of some 2k as pull-up.  What hangs on a response pin shifts the threshold; in the socket nothing does."""
    pins = "1A 1R 1Y 2A 2R 2Y GND 3Y 3R 3A 4Y 4R 4A VCC"
    outputs = open_collector = "1Y 2Y 3Y 4Y"
    analog = "1R 2R 3R 4R"
    schmitt = {"?A": "receiver"}
    pull_ups, pull_downs = {"?Y": 1700.0}, {"?A": 4400.0}
    families = own = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": 1 - v[f"{k}A"] for k in "1234"}


class QuadDriver(Part):
    """Y = A and Z = not A of each pair, or both off."""
    outputs = "1Y 1Z 2Y 2Z 3Y 3Z 4Y 4Z"
    three_state, drive = "*", "line422"

    @abstractmethod
    def on(self, v: Levels, k: str) -> int:
        """Pair k drives."""

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for k in "1234":
            on = self.on(v, k)
            out |= {f"{k}Y": v[f"{k}A"] if on else OFF, f"{k}Z": 1 - v[f"{k}A"] if on else OFF}
        return out


@part("26LS31")
class QuadDriverCommon(QuadDriver):
    """On while G is high or G/ is low."""
    pins = "1A 1Y 1Z G 2Z 2Y 2A GND 3A 3Y 3Z G/ 4Z 4Y 4A VCC"
    families = own = "LS"

    def on(self, v: Levels, k: str) -> int:
        return v["G"] | 1 - v["G/"]


@part("3487")
class QuadDriverPairs(QuadDriver):
    """12EN for the first two, 34EN for the others (high: on)."""
    pins = "1A 1Y 1Z 12EN 2Z 2Y 2A GND 3A 3Y 3Z 34EN 4Z 4Y 4A VCC"
    families = own = "LS"

    def on(self, v: Levels, k: str) -> int:
        return v["12EN" if k in "12" else "34EN"]


@part("75183")
class DualDriver(Part):
    """Y = A B C D, Z its complement."""
    pins = "1A 1B 1C 1D 1Y 1Z GND 2Z 2Y 2A 2B 2C 2D VCC"
    outputs = "1Y 1Z 2Y 2Z"
    shared = "1A 1B 1C 1D, 2A 2B 2C 2D"
    drive = "line"
    families = own = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            all_high = int(all(v[h + n] for n in "ABCD"))
            out |= {f"{h}Y": all_high, f"{h}Z": 1 - all_high}
        return out


@part("8830")
class DualDriver8830(DualDriver):
    """The 75183."""
