"""BCD to seven-segment decoders.  Pinouts and patterns: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Levels, Part, part

# Segments that are lit; 6 and 9 are without tails in the first designs, with them in those from '246 on.
PLAIN = ("abcdef bc abdeg abcdg bcfg acdfg cdefg abc abcdefg abcfg deg cdg bfg adfg defg -").split()
TAILED = [{6: "acdefg", 9: "abcdfg"}.get(k, lit) for k, lit in enumerate(PLAIN)]
SEGMENTS = "a b c d e f g"
ACTIVE_LOW = {"?": "sink40"}          # the segments' transistors, not that of BI/RBO/


class Segments(Part):
    """BI/RBO/ low, from outside or by ripple blanking: dark; else LT/ low: all lit.

    BI/RBO/ is a wired AND with a resistor inside: an input, and low by itself while the digit is a
    zero to be blanked (RBI/ low, LT/ high).
    """

    pins = "B C LT/ BI/RBO/ RBI/ D A GND e d c b a g f VCC"
    outputs = f"{SEGMENTS} <>BI/RBO/"
    open_collector = f"{SEGMENTS} BI/RBO/"
    pull_ups = {"BI/RBO/": "in_ohm"}
    patterns = PLAIN
    lit = 0                           # level of a lit segment

    def evaluate(self, v: Levels) -> Levels:
        digit = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        ripple = v["LT/"] and not v["RBI/"] and digit == 0
        shown = "" if ripple or not v["BI/RBO/"] else self.patterns[digit] if v["LT/"] else SEGMENTS
        return self.levels(shown) | {"BI/RBO/": int(not ripple)}

    def levels(self, shown: str) -> Levels:
        return {n: self.lit if n in shown else 1 - self.lit for n in SEGMENTS.split()}


@part("46")
class Segments30V(Segments):
    """Open collectors, 30 V."""
    drive, families = ACTIVE_LOW, "TTL"


@part("L46")
class Segments30VLowPower(Segments30V):
    """20 mA: many times what the family's gates sink; the resistor at BI/RBO/ gives 0.1 mA at 2.4 V."""
    pull_ups, drive, families = {"BI/RBO/": 8000.0}, {"?": "lamp"}, "L"


@part("47")
class Segments15V(Segments):
    """Open collectors, 15 V."""
    drive, families = ACTIVE_LOW, "TTL LS"


@part("L47")
class Segments15VLowPower(Segments15V):
    """20 mA."""
    pull_ups, drive, families = Segments30VLowPower.pull_ups, {"?": "lamp"}, "L"


@part("347")
class Segments7V(Segments):
    """The LS47 for 7 V."""
    drive, families = ACTIVE_LOW, "LS"


@part("246")
class Segments30VTailed(Segments):
    """The '46 with tails."""
    patterns, drive, families = TAILED, ACTIVE_LOW, "TTL"


@part("247")
class Segments15VTailed(Segments):
    """The '47 with tails."""
    patterns, drive, families = TAILED, ACTIVE_LOW, "TTL LS"


@part("447")
class Segments7VTailed(Segments):
    """The LS247 for 7 V."""
    patterns, drive, families = TAILED, ACTIVE_LOW, "LS"


@part("48")
class SegmentsPulledUp(Segments):
    """Active high; 2 k inside pull the segments up."""
    lit, families = 1, "TTL LS"
    pull_ups = Segments.pull_ups | {"[a-g]": 2000.0}


@part("248")
class SegmentsPulledUpTailed(SegmentsPulledUp):
    """The '48 with tails."""
    patterns, families = TAILED, "TTL LS"


@part("249")
class SegmentsHighTailed(Segments):
    """Active high, open collectors, with tails."""
    patterns, lit, families = TAILED, 1, "TTL LS"


@part("49")
class SegmentsHigh(Segments):
    """Active high, open collectors; BI/ only, in 14 pins."""
    pins = "B C BI/ D A e GND d c b a g f VCC"
    outputs = open_collector = SEGMENTS
    pull_ups = {}
    lit, families = 1, "TTL LS"

    def evaluate(self, v: Levels) -> Levels:
        digit = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        return self.levels(self.patterns[digit] if v["BI/"] else "")
