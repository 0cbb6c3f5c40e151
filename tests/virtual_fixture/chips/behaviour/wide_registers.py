"""Registers and latches in 24 pins: eight to ten bits, and twice four.  Pinouts and tables: the makers' data books, from memory.

In the inverting ones of the '82x and '84x the data inputs are complemented: clear makes every Q low, preset every Q high.
In those of the '57x and '87x the outputs are: clear makes them high, preset low.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .model import OFF, Levels, Part, part


def across(width: int, left: str, right: str) -> str:
    """24 pins: `left` before the data with GND last, `right` after GND with VCC last; `{d}` the data, `{q}` the outputs."""
    data = " ".join(f"{k}D" for k in range(1, width + 1))
    outs = " ".join(f"{k}Q" for k in range(width, 0, -1))
    return f"{left} {right}".format(d=data, q=outs)


class Wide(Part):
    """Bits in `self.q` as they stand at the outputs; all enables low: on."""

    three_state, drive = "*", "latch3"
    width: ClassVar[int] = 10
    invert: ClassVar[int] = 0
    enables: ClassVar[str] = "OC/"

    def __init_subclass__(cls) -> None:
        cls.outputs = " ".join(f"{k}Q" for k in range(1, cls.width + 1))

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(self.width)]

    def data(self, v: Levels) -> list[int]:
        return [v[f"{k}D"] ^ self.invert for k in range(1, self.width + 1)]

    def shown(self, v: Levels) -> Levels:
        off = any(v[n] for n in self.enables.split())
        return {f"{k}Q": OFF if off else bit for k, bit in enumerate(self.q, 1)}


class WideD(Wide):
    """Positive edge; clear and clock enable where there are such pins."""

    def evaluate(self, v: Levels) -> Levels:
        if not v.get("CLR/", 1):
            self.q = [0] * self.width
        elif self.rose("CLK") and not v.get("CLKEN/", 0):
            self.q = self.data(v)
        return self.shown(v)


class WideLatch(Wide):
    """Transparent while C is high; preset rules over clear, where there are such pins."""

    def evaluate(self, v: Levels) -> Levels:
        if not v.get("PRE/", 1):
            self.q = [1] * self.width
        elif not v.get("CLR/", 1):
            self.q = [0] * self.width
        elif v["C"]:
            self.q = self.data(v)
        return self.shown(v)


THREE = "OC1/ OC2/ OC3/"


@part("821")
class D821(WideD):
    """Ten bits."""
    families = "AS F AC ACT"
    pins = across(10, "OC/ {d} GND", "CLK {q} VCC")


@part("822")
class D822(D821):
    """Ten bits, data inverted."""
    families, invert = "AS F", 1


@part("823")
class D823(WideD):
    """Nine bits, clear and clock enable."""
    families = "AS F ACT"
    width = 9
    pins = across(9, "OC/ {d} CLR/ GND", "CLK CLKEN/ {q} VCC")


@part("824")
class D824(D823):
    """Nine bits, data inverted."""
    families, invert = "AS F", 1


@part("825")
class D825(WideD):
    """Eight bits, clear and clock enable, three output enables."""
    families = "AS F ACT"
    width, enables = 8, THREE
    pins = across(8, "OC1/ OC2/ {d} CLR/ GND", "CLK CLKEN/ {q} OC3/ VCC")


@part("826")
class D826(D825):
    """Eight bits, data inverted."""
    families, invert = "AS F", 1


@part("841")
class Latch841(WideLatch):
    """Ten bits."""
    families = "AS ALS F AC ACT"
    pins = across(10, "OC/ {d} GND", "C {q} VCC")


@part("842")
class Latch842(Latch841):
    """Ten bits, data inverted."""
    families, invert = "AS ALS F", 1


@part("843")
class Latch843(WideLatch):
    """Nine bits, clear and preset."""
    families = "AS ALS F AC ACT"
    width = 9
    pins = across(9, "OC/ {d} CLR/ GND", "C PRE/ {q} VCC")


@part("844")
class Latch844(Latch843):
    """Nine bits, data inverted."""
    families, invert = "AS ALS F", 1


@part("845")
class Latch845(WideLatch):
    """Eight bits, clear and preset, three output enables."""
    families = "AS ALS F ACT"
    width, enables = 8, THREE
    pins = across(8, "OC1/ OC2/ {d} CLR/ GND", "C PRE/ {q} OC3/ VCC")


@part("846")
class Latch846(Latch845):
    """Eight bits, data inverted."""
    families, invert = "AS ALS F", 1


@part("575")
class D575(Wide):
    """Eight bits, positive edge, clear by the clock."""
    families = "AS ALS"
    width = 8
    pins = across(8, "CLR/ OC/ {d} NC GND", "NC CLK {q} NC VCC")
    complement: ClassVar[int] = 0

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.q = [bit ^ self.complement for bit in (self.data(v) if v["CLR/"] else [0] * 8)]
        return self.shown(v)


@part("577")
class D577(D575):
    """The '575 with outputs inverted."""
    complement = 1


DUAL = ("1{0}/ 1OC/ 1D1 1D2 1D3 1D4 2D1 2D2 2D3 2D4 2OC/ GND "
        "2{0}/ 2{1} 2Q4 2Q3 2Q2 2Q1 1Q4 1Q3 1Q2 1Q1 1{1} VCC")


class DualQuad(Part):
    """Two times four bits; `forced` is the pin that clears (or presets: outputs are inverted) at once or by the clock."""

    outputs = "1Q1 1Q2 1Q3 1Q4 2Q1 2Q2 2Q3 2Q4"
    three_state, drive = "*", "latch3"
    families = "AS ALS"
    forced: ClassVar[str] = "CLR/"
    latch: ClassVar[bool] = False
    by_clock: ClassVar[bool] = False
    complement: ClassVar[int] = 0

    def power_up(self) -> None:
        self.stored = {h: [self.random_bit() for _ in range(4)] for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            takes = v[f"{h}C"] == 1 if self.latch else self.rose(f"{h}CLK")
            if not v[f"{h}{self.forced}"] and (takes or not self.by_clock):
                self.stored[h] = [int(self.forced == "PRE/")] * 4
            elif takes:
                self.stored[h] = [v[f"{h}D{k}"] for k in range(1, 5)]
            out |= {f"{h}Q{k}": OFF if v[f"{h}OC/"] else bit ^ self.complement
                    for k, bit in enumerate(self.stored[h], 1)}
        return out


@part("873")
class DualLatch873(DualQuad):
    """Latches, clear."""
    pins, latch = DUAL.format("CLR", "C"), True


@part("874")
class DualD874(DualQuad):
    """Positive edge, clear."""
    pins = DUAL.format("CLR", "CLK")


@part("876")
class DualD876(DualQuad):
    """Positive edge, outputs inverted, preset (outputs low)."""
    pins, forced, complement = DUAL.format("PRE", "CLK"), "PRE/", 1


@part("878")
class DualD878(DualQuad):
    """Positive edge, clear by the clock."""
    pins, by_clock = DUAL.format("CLR", "CLK"), True


@part("879")
class DualD879(DualQuad):
    """Positive edge, outputs inverted, clear by the clock (outputs high)."""
    pins, by_clock, complement = DUAL.format("CLR", "CLK"), True, 1


@part("880")
class DualLatch880(DualQuad):
    """Latches, outputs inverted, preset (outputs low)."""
    pins, latch, forced, complement = DUAL.format("PRE", "C"), True, "PRE/", 1
