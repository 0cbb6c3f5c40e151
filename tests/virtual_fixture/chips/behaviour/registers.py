"""Latches, registers and register files of four to eight bits.  Pinouts and tables: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .flipflops import FLOW_THROUGH, OCTAL, OCTAL_Q, EnabledRegister, OctalD, OctalLatch, QuadLatch
from .model import OFF, Levels, Part, part


@part("77")
class QuadLatchPlain(QuadLatch):
    """The '75 without inverted outputs; supply on pins 4 and 11."""
    families = "TTL LS"
    pins = "1D 2D C34 VCC 3D 4D NC 4Q 3Q NC GND C12 2Q 1Q"
    outputs = "1Q 2Q 3Q 4Q"

    def evaluate(self, v: Levels) -> Levels:
        return {n: level for n, level in super().evaluate(v).items() if not n.endswith("/")}


class DualQuadLatch(Part):
    """Two times four latches."""

    outputs = "1Q1 1Q2 1Q3 1Q4 2Q1 2Q2 2Q3 2Q4"

    def power_up(self) -> None:
        self.q = {f"{h}Q{k}": self.random_bit() for h in "12" for k in "1234"}

    def transparent(self, half: str, v: Levels) -> bool:
        return v[f"{half}C"] == 1

    def cleared(self, half: str, v: Levels) -> bool:
        return False

    def evaluate(self, v: Levels) -> Levels:
        for h in "12":
            if self.cleared(h, v):
                self.q |= {f"{h}Q{k}": 0 for k in "1234"}
            elif self.transparent(h, v):
                self.q |= {f"{h}Q{k}": v[f"{h}D{k}"] for k in "1234"}
        return dict(self.q)


@part("100")
class DualQuadLatchEnable(DualQuadLatch):
    """An enable (high: transparent) for each half; ground on pin 7."""
    families = "TTL"
    pins = ("NC 1D1 1D2 1Q2 1Q1 NC GND 2Q1 2Q2 2D2 2D1 2C "
            "NC NC 2D3 2D4 2Q4 2Q3 1Q3 1Q4 1D4 1D3 1C VCC")


@part("116")
class DualQuadLatchClear(DualQuadLatch):
    """Two enables (both low: transparent) and a clear for each half."""
    families = "TTL"
    pins = ("1CLR/ 1C1/ 1C2/ 1D1 1Q1 1D2 1Q2 1D3 1Q3 1D4 1Q4 GND "
            "2CLR/ 2C1/ 2C2/ 2D1 2Q1 2D2 2Q2 2D3 2Q3 2D4 2Q4 VCC")

    def transparent(self, half: str, v: Levels) -> bool:
        return not v[f"{half}C1/"] and not v[f"{half}C2/"]

    def cleared(self, half: str, v: Levels) -> bool:
        return not v[f"{half}CLR/"]


class RegisterFile(Part):
    """Four words of four bits: GW/ low writes D into the word of WB WA, GR/ low shows the word of RB RA."""

    pins = "D2 D3 D4 RB RA Q4 Q3 GND Q2 Q1 GR/ GW/ WB WA D1 VCC"
    outputs = "Q1 Q2 Q3 Q4"
    unread: ClassVar[int] = OFF

    def power_up(self) -> None:
        self.words = [self.rng.getrandbits(4) for _ in range(4)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["GW/"]:
            self.words[v["WA"] + 2 * v["WB"]] = sum(v[f"D{k}"] << (k - 1) for k in range(1, 5))
        word = self.words[v["RA"] + 2 * v["RB"]]
        return {f"Q{k}": self.unread if v["GR/"] else word >> (k - 1) & 1 for k in range(1, 5)}


@part("170")
class RegisterFileOpen(RegisterFile):
    """Open collectors: high while GR/ is high."""
    families = "TTL LS"
    open_collector, unread = RegisterFile.outputs, 1


@part("670")
class RegisterFileThreeState(RegisterFile):
    """Off while GR/ is high."""
    families = "LS HC HCT"
    three_state, drive = "*", "latch3"


@part("256")
class DualAddressableLatch(Part):
    """E/ low writes both D at the address; CLR/ low clears the others."""
    families = "LS F"
    pins = "A0 A1 DA Q0A Q1A Q2A Q3A GND Q0B Q1B Q2B Q3B DB E/ CLR/ VCC"
    outputs = "Q0A Q1A Q2A Q3A Q0B Q1B Q2B Q3B"

    def power_up(self) -> None:
        self.q = {f"Q{k}{h}": self.random_bit() for h in "AB" for k in range(4)}

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.q = dict.fromkeys(self.q, 0)
        if not v["E/"]:
            self.q |= {f"Q{v['A0'] + 2 * v['A1']}{h}": v[f"D{h}"] for h in "AB"}
        return dict(self.q)


@part("278")
class PriorityRegister(Part):
    """Four latches (G high: transparent), of which the first that is high shows; P0 high holds all outputs low.

    P1 is high when P0 or any latch is.
    """
    families = "TTL"
    pins = "G D3 D4 P0 P1 Y4 GND Y3 Y2 Y1 NC D1 D2 VCC"
    outputs = "Y1 Y2 Y3 Y4 P1"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(4)]

    def evaluate(self, v: Levels) -> Levels:
        if v["G"]:
            self.q = [v[f"D{k}"] for k in range(1, 5)]
        taken, out = v["P0"], {}
        for k, bit in enumerate(self.q, 1):
            out[f"Y{k}"] = bit & (1 - taken)
            taken |= bit
        return out | {"P1": taken}


class StoredSelector(Part):
    """Four bits from word 1 (WS low) or word 2 (WS high), stored by the clock."""

    outputs = "QA QB QC QD"
    both: ClassVar[bool] = False

    def power_up(self) -> None:
        self.q = {n: self.random_bit() for n in "ABCD"}

    def clocked(self) -> bool:
        return self.rose("CLK")

    def evaluate(self, v: Levels) -> Levels:
        if self.clocked():
            self.q = {n: v[f"{n}{1 + v['WS']}"] for n in "ABCD"}
        out = {f"Q{n}": bit for n, bit in self.q.items()}
        return out | {f"Q{n}/": 1 - bit for n, bit in self.q.items()} if self.both else out


@part("298")
class StoredSelectorFalling(StoredSelector):
    """Negative edge."""
    families = "TTL LS AS F HC"
    pins = "B2 A2 A1 B1 C2 D2 D1 GND C1 WS CLK QD QC QB QA VCC"

    def clocked(self) -> bool:
        return self.fell("CLK")


@part("398")
class StoredSelectorBoth(StoredSelector):
    """Positive edge, both outputs."""
    families = "LS F"
    pins = "WS QA QA/ A1 A2 B2 B1 QB/ QB GND CLK QC QC/ C1 C2 D2 D1 QD/ QD VCC"
    outputs = "QA QA/ QB QB/ QC QC/ QD QD/"
    both = True


@part("399")
class StoredSelectorRising(StoredSelector):
    """Positive edge."""
    families = "LS F"
    pins = "WS QA A1 A2 B2 B1 QB GND CLK QC C1 C2 D2 D1 QD VCC"


@part("379")
class QuadDEnable(EnabledRegister):
    """Four D flip-flops with common enable and both outputs."""
    families = "LS F"
    pins = "EN/ 1Q 1Q/ 1D 2D 2Q/ 2Q GND CLK 3Q 3Q/ 3D 4D 4Q/ 4Q VCC"
    outputs = "1Q 1Q/ 2Q 2Q/ 3Q 3Q/ 4Q 4Q/"

    def evaluate(self, v: Levels) -> Levels:
        out = super().evaluate(v)
        return out | {f"{n}/": 1 - bit for n, bit in out.items()}


def inverted(pins: str) -> str:
    """The same pins with all Q outputs named as inverted."""
    return " ".join(f"{n}/" if n[1:] == "Q" else n for n in pins.split())


class Inverting(Part):
    """The outputs are the complements of what is stored: before the class that stores it."""
    outputs = inverted(OCTAL_Q)

    def evaluate(self, v: Levels) -> Levels:
        return {f"{n}/": OFF if bit == OFF else 1 - bit for n, bit in super().evaluate(v).items()}


class OctalLatchInverting(Inverting, OctalLatch):
    """The complements of a latch."""


class OctalDInverting(Inverting, OctalD):
    """The complements of a register."""


@part("533")
class Latch533(OctalLatchInverting):
    """The '373 inverting."""
    families = "LS AS ALS F HC HCT AC ACT"
    pins = inverted(OCTAL.format("C"))


@part("534")
class D534(OctalDInverting):
    """The '374 inverting."""
    families = "LS AS ALS F HC HCT AC ACT"
    pins = inverted(OCTAL.format("CLK"))


@part("563")
class Latch563(OctalLatchInverting):
    """The '573 inverting."""
    families = "LS ALS F HC HCT AC ACT"
    pins = inverted(FLOW_THROUGH.format("C"))


@part("564")
class D564(OctalDInverting):
    """The '574 inverting."""
    families = "LS ALS F HC HCT AC ACT"
    pins = inverted(FLOW_THROUGH.format("CLK"))


@part("576")
class D576(D564):
    """The '564 under the number of the ALS and AS families."""
    families = "AS ALS"


@part("580")
class Latch580(Latch563):
    """The '563 under the number of the ALS and AS families."""
    families = "AS ALS"
