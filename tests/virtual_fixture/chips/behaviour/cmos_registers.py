"""4000-series latches, flip-flops and shift registers that cmos.py has not.  The makers' CMOS data books, from memory;
4006: Intersil CD4006BMS (pinout read); 4031: National CD4031B (description read); 4095, 4096: Intersil CD4096BMS (pinout read),
SGS-Thomson HCF4095B (truth tables read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import flipflops, shifters
from .flipflops import AddressableLatch, QuadDThreeState, jk
from .model import OFF, Levels, Part, part
from .shifters import Shifter


# ---------------------------------------------------------------------- shift registers
@part("4006")
class Shift18(Part):
    """Sections of 4, 5 (a tap at 4), 4 and 5 (a tap at 4) stages, shifted where CLK falls.

    1Q4L is 1Q4 half a clock later: it takes it where CLK rises.
    """
    pins = "1D 1Q4L CLK 2D 3D 4D GND 4Q4 4Q5 3Q4 2Q4 2Q5 1Q4 VCC"
    outputs, families = "1Q4 1Q4L 2Q4 2Q5 3Q4 4Q4 4Q5", "4000"

    def power_up(self) -> None:
        self.bits = {h: [self.random_bit() for _ in range(5)] for h in "1234"}
        self.late = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if self.fell("CLK"):
            self.bits = {h: [v[f"{h}D"], *row[:4]] for h, row in self.bits.items()}
        if self.rose("CLK"):
            self.late = self.bits["1"][3]
        return ({f"{h}Q4": self.bits[h][3] for h in "1234"} | {f"{h}Q5": self.bits[h][4] for h in "24"}
                | {"1Q4L": self.late})


@part("4014")
class ParallelIn8(Shifter):
    """P/S high: loads by the clock; low: shifts.  Outputs of the last three stages."""
    pins = "P8 Q6 Q8 P4 P3 P2 P1 GND P/S CLK SER Q7 P5 P6 P7 VCC"
    outputs, width, families = "Q6 Q7 Q8", 8, "4000"
    at_once = False

    def parallel(self, v: Levels) -> list[int]:
        return [v[f"P{k}"] for k in range(1, 9)]

    def evaluate(self, v: Levels) -> Levels:
        if v["P/S"] and (self.at_once or self.rose("CLK")):
            self.bits = self.parallel(v)
        elif not v["P/S"] and self.rose("CLK"):
            self.shift(v["SER"])
        return {f"Q{k}": self.bits[k - 1] for k in (6, 7, 8)}


@part("4021")
class ParallelIn8AtOnce(ParallelIn8):
    """The '4014 that loads at once."""
    at_once = True


@part("4015")
class DualShift4(Part):
    """Two registers of four stages, CLK rising, RST high clears."""
    pins = "2CLK 2Q4 1Q3 1Q2 1Q1 1RST 1D GND 1CLK 1Q4 2Q3 2Q2 2Q1 2RST 2D VCC"
    outputs, families = "1Q1 1Q2 1Q3 1Q4 2Q1 2Q2 2Q3 2Q4", "4000"

    def power_up(self) -> None:
        self.bits = {h: [self.random_bit() for _ in range(4)] for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        for h in "12":
            if v[f"{h}RST"]:
                self.bits[h] = [0] * 4
            elif self.rose(f"{h}CLK"):
                self.bits[h] = [v[f"{h}D"], *self.bits[h][:3]]
        return {f"{h}Q{k}": bit for h in "12" for k, bit in enumerate(self.bits[h], 1)}


@part("4031")
class Shift64(Part):
    """MODE low: data from D, high: from REC; CLK rising.  CLKD is the clock, delayed for a next package.

    RCA has on pin 5 what Q was half a clock ago (QL takes Q where CLK falls); National leaves it free.
    """
    pins = "REC CLK NC NC QL Q Q/ GND CLKD MODE NC NC NC NC D VCC"
    outputs, families = "Q Q/ QL CLKD", "4000"

    def power_up(self) -> None:
        self.bits = self.rng.getrandbits(64)                  # bit 63 is the last stage
        self.late = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.bits = (self.bits << 1 | v["REC" if v["MODE"] else "D"]) & (1 << 64) - 1
        if self.fell("CLK"):
            self.late = self.bits >> 63
        q = self.bits >> 63
        return {"Q": q, "Q/": 1 - q, "QL": self.late, "CLKD": v["CLK"]}


@part("4035")
class ShiftJK(Shifter):
    """P/S high: loads by the clock; low: shifts, J and K/ at the first stage.  T/C low: outputs inverted.  RST clears."""
    pins = "Q1 T/C K/ J RST CLK P/S GND P1 P2 P3 P4 Q4 Q3 Q2 VCC"
    outputs, families = "Q1 Q2 Q3 Q4", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["RST"]:
            self.bits = [0] * 4
        elif self.rose("CLK") and v["P/S"]:
            self.bits = [v[f"P{k}"] for k in range(1, 5)]
        elif self.rose("CLK"):
            self.shift(jk(self.bits[0], v["J"], 1 - v["K/"]))
        return {f"Q{k}": bit ^ 1 - v["T/C"] for k, bit in enumerate(self.bits, 1)}


@part("4094")
class ShiftStore8(Part):
    """CLK rising shifts; latches behind it, open while STR is high; OE low: their outputs off.

    QS is the last stage; QSL takes it where CLK falls.
    """
    pins = "STR D CLK Q1 Q2 Q3 Q4 GND QS QSL Q8 Q7 Q6 Q5 OE VCC"
    outputs = "Q1 Q2 Q3 Q4 Q5 Q6 Q7 Q8 QS QSL"
    three_state, families = "Q1 Q2 Q3 Q4 Q5 Q6 Q7 Q8", "HC HCT 4000"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]
        self.store = [self.random_bit() for _ in range(8)]
        self.late = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.bits = [v["D"], *self.bits[:7]]
        if self.fell("CLK"):
            self.late = self.bits[7]
        if v["STR"]:
            self.store = list(self.bits)
        out = {f"Q{k}": bit if v["OE"] else OFF for k, bit in enumerate(self.store, 1)}
        return out | {"QS": self.bits[7], "QSL": self.late}


@part("40104")
class ShiftBothWaysThreeState(Shifter):
    """S1 S0 at the clock: clear, right, left, load; OE low: outputs off."""
    pins = "OE SR A B C D SL GND S0 S1 CLK QD QC QB QA VCC"
    outputs, three_state, families = "QA QB QC QD", "*", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            ways = ([0] * 4, [v["SR"], *self.bits[:3]], [*self.bits[1:], v["SL"]], self.parallel(v))
            self.bits = ways[v["S0"] + 2 * v["S1"]]
        return {n: bit if v["OE"] else OFF for n, bit in self.shown().items()}


@part("40194")
class ShiftBothWays(shifters.ShiftBothWays):
    """The '194."""
    families = "4000"


@part("40195")
class ShiftJKClear(shifters.ShiftJK):
    """The '195."""
    families = "4000"


# ---------------------------------------------------------------------- latches
@part("4042")
class QuadLatch(Part):
    """Open while CLK and POL are at the same level."""
    pins = "4Q 1Q 1Q/ 1D CLK POL 2D GND 2Q/ 2Q 3Q 3Q/ 3D 4D 4Q/ VCC"
    outputs, families = "1Q 1Q/ 2Q 2Q/ 3Q 3Q/ 4Q 4Q/", "4000"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(4)]

    def evaluate(self, v: Levels) -> Levels:
        if v["CLK"] == v["POL"]:
            self.q = [v[f"{k}D"] for k in "1234"]
        out = {f"{k}Q": bit for k, bit in enumerate(self.q, 1)}
        return out | {f"{k}Q/": 1 - bit for k, bit in enumerate(self.q, 1)}


class QuadSetReset(Part):
    """Set-reset latches; EN low: outputs off."""
    outputs, three_state, families = "1Q 2Q 3Q 4Q", "*", "4000"
    active = 1                   # level that sets or resets
    wins = 1                     # what both at once give

    def power_up(self) -> None:
        self.q = {k: self.random_bit() for k in "1234"}

    def evaluate(self, v: Levels) -> Levels:
        for k in "1234":
            sets, resets = (v[f"{k}{n}"] == self.active for n in "SR")
            if sets or resets:
                self.q[k] = self.wins if sets and resets else int(sets)
        return {f"{k}Q": bit if v["EN"] else OFF for k, bit in self.q.items()}


@part("4043")
class QuadSetResetNor(QuadSetReset):
    """Active high; set wins."""
    pins = "4Q 1Q 1R 1S EN 2S 2R GND 2Q 3Q 3R 3S NC 4S 4R VCC"


@part("4044")
class QuadSetResetNand(QuadSetReset):
    """Active low; reset wins."""
    pins = "4Q NC 1S 1R EN 2R 2S GND 2Q 3Q 3S 3R 1Q 4R 4S VCC"
    active, wins = 0, 0


@part("4099")
class AddressableLatch8(Part):
    """WD low: the addressed bit follows D, and RST clears the others; WD high: RST clears all."""
    pins = "Q7 RST D WD A0 A1 A2 GND Q0 Q1 Q2 Q3 Q4 Q5 Q6 VCC"
    outputs, families = "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7", "4000"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        if v["RST"]:
            self.q = [0] * 8
        if not v["WD"]:
            self.q[v["A0"] + 2 * v["A1"] + 4 * v["A2"]] = v["D"]
        return {f"Q{k}": bit for k, bit in enumerate(self.q)}


@part("4724")
class AddressableLatch8Other(AddressableLatch8):
    """The '4099 with the pins of the '259, RST active high."""
    pins = AddressableLatch.pins.replace("S0 S1 S2", "A0 A1 A2").replace("G/ CLR/", "WD RST")


@part("4723")
class DualAddressableLatch4(Part):
    """Two times four bits with a common address, otherwise as the '4724."""
    pins = "A0 A1 1D 1Q0 1Q1 1Q2 1Q3 GND 2Q0 2Q1 2Q2 2Q3 2D WD RST VCC"
    outputs, families = "1Q0 1Q1 1Q2 1Q3 2Q0 2Q1 2Q2 2Q3", "4000"

    def power_up(self) -> None:
        self.q = {h: [self.random_bit() for _ in range(4)] for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        for h in "12":
            if v["RST"]:
                self.q[h] = [0] * 4
            if not v["WD"]:
                self.q[h][v["A0"] + 2 * v["A1"]] = v[f"{h}D"]
        return {f"{h}Q{k}": bit for h in "12" for k, bit in enumerate(self.q[h])}


@part("4508")
class DualLatch4(Part):
    """Two times four latches: open while ST is high, RST clears, DIS high: outputs off."""
    pins = ("1RST 1ST 1DIS 1D0 1Q0 1D1 1Q1 1D2 1Q2 1D3 1Q3 GND "
            "2RST 2ST 2DIS 2D0 2Q0 2D1 2Q1 2D2 2Q2 2D3 2Q3 VCC")
    outputs, three_state, families = "1Q0 1Q1 1Q2 1Q3 2Q0 2Q1 2Q2 2Q3", "*", "4000"

    def power_up(self) -> None:
        self.q = {h: [self.random_bit() for _ in range(4)] for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        for h in "12":
            if v[f"{h}RST"]:
                self.q[h] = [0] * 4
            elif v[f"{h}ST"]:
                self.q[h] = [v[f"{h}D{k}"] for k in range(4)]
        return {f"{h}Q{k}": OFF if v[f"{h}DIS"] else bit for h in "12" for k, bit in enumerate(self.q[h])}


# ---------------------------------------------------------------------- flip-flops
@part("4076")
class QuadD(QuadDThreeState):
    """The '173."""
    drive, families = "", "4000"


@part("4095")
class GatedJK(Part):
    """CLK rising, three J and three K inputs (all of them), S and R active high.

    S and R at once: both outputs low; the last to go decides.
    """
    pins = "NC R J1 J2 J3 Q/ GND Q K3 K2 K1 CLK S VCC"
    outputs, families = "Q Q/", "4000"
    third = ""                   # mark of inverted third inputs

    def power_up(self) -> None:
        self.q = self.random_bit()

    def gate(self, n: str, v: Levels) -> int:
        third = v[f"{n}3{self.third}"] ^ bool(self.third)
        return v[f"{n}1"] & v[f"{n}2"] & third

    def evaluate(self, v: Levels) -> Levels:
        if v["S"] and v["R"]:
            return {"Q": 0, "Q/": 0}
        if v["S"] or v["R"]:
            self.q = v["S"]
        elif self.rose("CLK"):
            self.q = jk(self.q, self.gate("J", v), self.gate("K", v))
        return {"Q": self.q, "Q/": 1 - self.q}


@part("4096")
class GatedJKInverted(GatedJK):
    """The '4095 with the third J and K inverted."""
    pins = "NC R J1 J2 J3/ Q/ GND Q K3/ K2 K1 CLK S VCC"
    third = "/"


@part("40174")
class HexD(flipflops.HexD):
    """The '174."""
    families = "4000"


@part("40175")
class QuadDBoth(flipflops.QuadD):
    """The '175."""
    families = "4000"


@part("40373")
class OctalLatch(flipflops.OctalLatch):
    """The '373 in 4000-series CMOS: no Schmitt input."""
    schmitt, families = {}, "4000"


@part("40374")
class OctalD(flipflops.OctalD):
    """The '374 in 4000-series CMOS: no Schmitt input."""
    schmitt, families = {}, "4000"
