"""4000-series data selectors.  The makers' CMOS data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import selectors
from .model import OFF, Levels, Part, part, xnor

AND_OR = "4B 3A 3B 2A 2B 1A 1B GND KA 1Y 2Y 3Y 4Y KB 4A VCC"


@part("4019")
class QuadAndOr(Part):
    """Y = A KA + B KB."""
    pins, outputs, families = AND_OR, "1Y 2Y 3Y 4Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": v[f"{k}A"] & v["KA"] | v[f"{k}B"] & v["KB"] for k in "1234"}


@part("4519")
class QuadAndOrXnor(Part):
    """Y = A KA + B KB, but with KA and KB high: not (A exclusive-or B)."""
    pins, outputs, families = AND_OR, "1Y 2Y 3Y 4Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["KA"] and v["KB"]:
            return {f"{k}Y": xnor(v[f"{k}A"], v[f"{k}B"]) for k in "1234"}
        return {f"{k}Y": v[f"{k}A"] & v["KA"] | v[f"{k}B"] & v["KB"] for k in "1234"}


@part("4512")
class Selector8(Part):
    """Z = the selected input; INH high: low; DIS high: off."""
    pins = "D0 D1 D2 D3 D4 D5 D6 GND D7 INH A B C Z DIS VCC"
    outputs, three_state, families = "Z", "*", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["DIS"]:
            return {"Z": OFF}
        return {"Z": 0 if v["INH"] else v[f"D{v['A'] + 2 * v['B'] + 4 * v['C']}"]}


@part("4539")
class DualSelector4(selectors.DualMultiplexer4):
    """The '153."""
    families = "4000"


@part("40257")
class QuadSelector2(selectors.QuadMultiplexer2ThreeState):
    """The '257."""
    drive, families = "", "4000"
