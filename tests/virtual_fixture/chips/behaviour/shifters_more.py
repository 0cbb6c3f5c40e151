"""More shift registers, and a shifter without a register.  Pinouts and tables: the makers' data books, from memory unless noted.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .model import OFF, Levels, Part, part
from .shifters import Shifter


@part("91")
class SerialOnly8(Shifter):
    """Serial in (A and B) and out, positive edge; supply on pins 5 and 10."""
    families = "TTL L LS"
    pins = "NC NC NC NC VCC NC NC NC CLK GND B A QH QH/"
    outputs = "QH QH/"
    width = 8

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.shift(v["A"] & v["B"])
        return {"QH": self.bits[7], "QH/": 1 - self.bits[7]}


class PresetShifter(Shifter):
    """Positive edge; presets only set bits, at once; what holds if clear is active too the tables do not say: drawn."""

    def power_up(self) -> None:
        super().power_up()
        self.set_wins = self.random_bit()

    def force(self, clear: bool, sets: list[int]) -> None:
        if clear:
            self.bits = [0] * self.width
        if self.set_wins or not clear:
            self.bits = [bit | s for bit, s in zip(self.bits, sets, strict=True)]


@part("94")
class TwoPresets4(PresetShifter):
    """Two sets of presets with an enable each, clear high; supply on pins 5 and 12."""
    families = "TTL"
    loads: ClassVar = {"PE?": 4}
    pins = "P1A P1B P1C P1D VCC PE1 SER CLK QD CLR P2D GND P2C P2B PE2 P2A"
    outputs = "QD"

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.shift(v["SER"])
        self.force(v["CLR"] == 1, [v[f"P1{n}"] & v["PE1"] | v[f"P2{n}"] & v["PE2"] for n in "ABCD"])
        return {"QD": self.bits[3]}


@part("96")
class Presets5(PresetShifter):
    """Presets with an enable, clear low, five outputs; supply on pins 5 and 12."""
    families = "TTL L LS"
    pins = "CLK A B C VCC D E PE SER QE QD GND QC QB QA CLR/"
    outputs = "QA QB QC QD QE"
    width = 5

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.shift(v["SER"])
        self.force(not v["CLR/"], [bit & v["PE"] for bit in self.parallel(v)])
        return self.shown()


@part("178")
class HoldShifter(Shifter):
    """Negative edge: SHIFT high shifts, else LOAD high loads, else it holds."""
    families = "TTL"
    pins = "B A SER QA CLK QB GND QC LOAD QD SHIFT D C VCC"
    outputs = "QA QB QC QD"

    def evaluate(self, v: Levels) -> Levels:
        if self.fell("CLK") and v["SHIFT"]:
            self.shift(v["SER"])
        elif self.fell("CLK") and v["LOAD"]:
            self.bits = self.parallel(v)
        return self.shown()


@part("179")
class HoldShifterClear(HoldShifter):
    """The '178 with clear and QD/."""
    pins = "CLR/ B A SER QA CLK QB GND QC LOAD QD QD/ SHIFT D C VCC"
    outputs = "QA QB QC QD QD/"

    def evaluate(self, v: Levels) -> Levels:
        super().evaluate(v)
        if not v["CLR/"]:
            self.bits = [0] * 4
        return self.shown() | {"QD/": 1 - self.bits[3]}


@part("198")
class BothWays8(Shifter):
    """S1 S0: hold, right, left, load; asynchronous clear.

    The mode may change only while CLK is high: hold gates the clock, and if it comes while CLK is low some clock once more.
    """
    families = "TTL"
    pins = ("S0 SR A QA B QB C QC D QD CLK GND "
            "CLR/ QE E QF F QG G QH H SL S1 VCC")
    outputs = "QA QB QC QD QE QF QG QH"
    width = 8

    def power_up(self) -> None:
        super().power_up()
        self.touchy = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        mode = v["S0"] + 2 * v["S1"]
        last = self.before["S0"] + 2 * self.before["S1"]
        gated = self.touchy and last and not mode and not v["CLK"]
        step = last if gated else mode if self.rose("CLK") else 0
        if not v["CLR/"]:
            self.bits = [0] * 8
        elif step == 3:
            self.bits = self.parallel(v)
        elif step == 1:
            self.shift(v["SR"])
        elif step == 2:
            self.bits = [*self.bits[1:], v["SL"]]
        return self.shown()


@part("199")
class JK8(Shifter):
    """Serial input by J and K/; SH/LD low loads by the clock; CLK and CLKINH are one gate; clear at once."""
    families = "TTL"
    pins = ("K/ J A QA B QB C QC D QD CLKINH GND "
            "CLK CLR/ QE E QF F QG G QH H SH/LD VCC")
    outputs = "QA QB QC QD QE QF QG QH"
    width = 8

    def evaluate(self, v: Levels) -> Levels:
        clocked = (v["CLK"] | v["CLKINH"]) > (self.before["CLK"] | self.before["CLKINH"])
        if not v["CLR/"]:
            self.bits = [0] * 8
        elif clocked and not v["SH/LD"]:
            self.bits = self.parallel(v)
        elif clocked:
            self.shift(v["K/"] if self.bits[0] else v["J"])
        return self.shown()


class FallingShifter(Shifter):
    """Negative edge: LD/SH high loads, low shifts."""

    def step(self, v: Levels) -> None:
        if self.fell("CLK") and v["LD/SH"]:
            self.bits = self.parallel(v)
        elif self.fell("CLK"):
            self.shift(v["SER"])


@part("295")
class ThreeState295(FallingShifter):
    """Outputs on while OC is high."""
    families = "LS"
    pins = "SER A B C D LD/SH GND OC CLK QD QC QB QA VCC"
    outputs = "QA QB QC QD"
    three_state, drive = "*", "latch3"

    def evaluate(self, v: Levels) -> Levels:
        self.step(v)
        return {n: bit if v["OC"] else OFF for n, bit in self.shown().items()}


@part("395")
class ThreeState395(FallingShifter):
    """Outputs on while OC/ is low, QD' always; asynchronous clear."""
    families = "LS"
    pins = "CLR/ SER A B C D LD/SH GND OC/ CLK QD' QD QC QB QA VCC"
    outputs = "QA QB QC QD QD'"
    three_state = "QA QB QC QD"
    drive: ClassVar = dict.fromkeys(three_state.split(), "latch3")

    def evaluate(self, v: Levels) -> Levels:
        self.step(v)
        if not v["CLR/"]:
            self.bits = [0] * 4
        return {n: OFF if v["OC/"] else bit for n, bit in self.shown().items()} | {"QD'": self.bits[3]}


BUS8 = "A/QA B/QB C/QC D/QD E/QE F/QF G/QG H/QH"


class BusShifter(Shifter):
    """Eight pins for data in and out."""

    width = 8
    three_state = BUS8
    drive: ClassVar = dict.fromkeys(BUS8.split(), "latch3")

    def parallel(self, v: Levels) -> list[int]:
        return [v[n] for n in BUS8.split()]

    def bus(self, off: bool) -> Levels:
        return {n: OFF if off else bit for n, bit in zip(BUS8.split(), self.bits, strict=True)}


BOTH_ENDS = " ".join(f"<>{n}" for n in BUS8.split()) + " QA' QH'"


@part("299")
class BusShifter299(BusShifter):
    """S1 S0: hold, right, left, load (pins off); asynchronous clear."""
    families = "S LS ALS F HC HCT AC ACT"
    pins = ("S0 G1/ G2/ G/QG E/QE C/QC A/QA QA' CLR/ GND "
            "SR CLK B/QB D/QD F/QF H/QH QH' SL S1 VCC")
    outputs = BOTH_ENDS
    clear_at_once: ClassVar[bool] = True

    def evaluate(self, v: Levels) -> Levels:
        mode = v["S0"] + 2 * v["S1"]
        edge = self.rose("CLK")
        if not v["CLR/"]:
            if edge or self.clear_at_once:
                self.bits = [0] * 8
        elif edge and mode == 3:
            self.bits = self.parallel(v)
        elif edge and mode == 1:
            self.shift(v["SR"])
        elif edge and mode == 2:
            self.bits = [*self.bits[1:], v["SL"]]
        off = bool(v["G1/"] or v["G2/"] or mode == 3)
        return self.bus(off) | {"QA'": self.bits[0], "QH'": self.bits[7]}


@part("323")
class BusShifter323(BusShifter299):
    """The '299 with clear by the clock."""
    families = "LS ALS F AC ACT"
    clear_at_once = False


@part("322")
class SignExtend(BusShifter):
    """G/ low: S/P low loads (pins off), high shifts from D0 or D1 (DS low, high), or repeats the sign (SE/ low)."""
    families = "LS F"
    pins = ("G/ S/P D0 A/QA C/QC E/QE G/QG OE/ CLR/ GND "
            "CLK QH' H/QH F/QF D/QD B/QB D1 SE/ DS VCC")
    outputs = " ".join(f"<>{n}" for n in BUS8.split()) + " QH'"

    def evaluate(self, v: Levels) -> Levels:
        loads = not v["G/"] and not v["S/P"]
        if not v["CLR/"]:
            self.bits = [0] * 8
        elif self.rose("CLK") and loads:
            self.bits = self.parallel(v)
        elif self.rose("CLK") and not v["G/"]:
            self.shift((v["D1"] if v["DS"] else v["D0"]) if v["SE/"] else self.bits[0])
        return self.bus(bool(v["OE/"] or loads)) | {"QH'": self.bits[7]}


@part("350")
class Shifter4(Part):
    """O0..O3 are four of seven neighbours, S1 S0 places down.  Fairchild and Philips 74F350 (read)."""
    families = "F"
    pins = "I-3 I-2 I-1 I0 I1 I2 I3 GND S1 S0 O3 O2 OE/ O1 O0 VCC"
    outputs = "O0 O1 O2 O3"
    three_state, drive = "*", "latch3"

    def evaluate(self, v: Levels) -> Levels:
        places = v["S0"] + 2 * v["S1"]
        return {f"O{k}": OFF if v["OE/"] else v[f"I{k - places}"] for k in range(4)}
