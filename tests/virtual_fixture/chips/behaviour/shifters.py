"""Shift registers.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Levels, Part, part


class Shifter(Part):
    """Bits from the serial end (A) to the far end in `self.bits`."""

    width = 4

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(self.width)]

    def parallel(self, v: Levels) -> list[int]:
        return [v[n] for n in "ABCDEFGH"[:self.width]]

    def shift(self, bit: int) -> None:
        self.bits = [bit, *self.bits[:-1]]

    def shown(self) -> Levels:
        return {f"Q{n}": bit for n, bit in zip("ABCDEFGH", self.bits, strict=False)}


@part("95")
class Shift4(Shifter):
    """Mode low: CLK1 (negative edge) shifts right; mode high: CLK2 loads."""
    pins = "SER A B C D MODE GND CLK2 CLK1 QD QC QB QA VCC"
    outputs = "QA QB QC QD"

    def evaluate(self, v: Levels) -> Levels:
        if v["MODE"] and self.fell("CLK2"):
            self.bits = self.parallel(v)
        elif not v["MODE"] and self.fell("CLK1"):
            self.shift(v["SER"])
        return self.shown()


@part("165")
class ParallelIn8(Shifter):
    """Asynchronous load (SH/LD low); shifts at a positive edge of CLK or CLKINH."""
    pins = "SH/LD CLK E F G H QH/ GND QH SER A B C D CLKINH VCC"
    outputs = "QH QH/"
    width = 8

    def evaluate(self, v: Levels) -> Levels:
        clocked = (self.rose("CLK") and not v["CLKINH"]
                   or self.rose("CLKINH") and not v["CLK"])
        if not v["SH/LD"]:
            self.bits = self.parallel(v)
        elif clocked:
            self.shift(v["SER"])
        return {"QH": self.bits[7], "QH/": 1 - self.bits[7]}


@part("166")
class ParallelIn8Synchronous(Shifter):
    """Synchronous load (SH/LD low), clear, clock inhibit."""
    pins = "SER A B C D CLKINH CLK GND CLR/ E F G QH H SH/LD VCC"
    outputs = "QH"
    width = 8

    def evaluate(self, v: Levels) -> Levels:
        clocked = (self.rose("CLK") and not v["CLKINH"]
                   or self.rose("CLKINH") and not v["CLK"])
        if not v["CLR/"]:
            self.bits = [0] * 8
        elif clocked and not v["SH/LD"]:
            self.bits = self.parallel(v)
        elif clocked:
            self.shift(v["SER"])
        return {"QH": self.bits[7]}


@part("194")
class ShiftBothWays(Shifter):
    """S1 S0: hold, right, left, load; asynchronous clear."""
    pins = "CLR/ SR A B C D SL GND S0 S1 CLK QD QC QB QA VCC"
    outputs = "QA QB QC QD"

    def evaluate(self, v: Levels) -> Levels:
        mode = v["S0"] + 2 * v["S1"]
        if not v["CLR/"]:
            self.bits = [0] * 4
        elif self.rose("CLK") and mode == 3:
            self.bits = self.parallel(v)
        elif self.rose("CLK") and mode == 1:
            self.shift(v["SR"])
        elif self.rose("CLK") and mode == 2:
            self.bits = [*self.bits[1:], v["SL"]]
        return self.shown()


@part("195")
class ShiftJK(Shifter):
    """Serial input by J and K/; synchronous load, asynchronous clear."""
    pins = "CLR/ J K/ A B C D GND SH/LD CLK QD/ QD QC QB QA VCC"
    outputs = "QA QB QC QD QD/"

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.bits = [0] * 4
        elif self.rose("CLK") and not v["SH/LD"]:
            self.bits = self.parallel(v)
        elif self.rose("CLK"):
            first = self.bits[0]
            self.shift(v["J"] if not first else v["K/"])
        return self.shown() | {"QD/": 1 - self.bits[3]}
