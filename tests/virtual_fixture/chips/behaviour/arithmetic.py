"""Adders, look-ahead carry, parity, arithmetic logic units.

Pinouts and tables: the makers' data books, from memory, but for the carries of '381 and '382: the logic
diagrams of TI's TTL Data Book of 1976 (pages 7-484 to 7-486) and of the later SN74LS381/LS382 sheet as two logic
simulators have them (read), and a read-out of an SN74LS382 (read), which agrees with the latter.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Levels, Part, nand, part


@part("80")
class GatedAdder(Part):
    """One bit.  A = not (A* AC), A* = not (A1 A2), a wired AND that may be pulled low outside; B likewise."""
    pins = "B* BC CN CN1/ S S/ GND A1 A2 A* AC B1 B2 VCC"
    outputs = "<>A* <>B* CN1/ S S/"
    open_collector = "A* B*"
    pull_ups = {"?[*]": "in_ohm"}
    families = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        gated = {f"{x}*": nand(v[f"{x}1"], v[f"{x}2"]) for x in "AB"}
        a, b = (nand(gated[f"{x}*"] & v[f"{x}*"], v[f"{x}C"]) for x in "AB")
        total = a + b + v["CN"]
        return gated | {"S": total & 1, "S/": 1 - (total & 1), "CN1/": 1 - (total >> 1)}


@part("82")
class Adder2(Part):
    """S = A plus B plus C0, two bits; supply on pins 4 and 11."""
    pins = "S1 A1 B1 VCC C0 NC NC NC NC C2 GND S2 B2 A2"
    outputs = "S1 S2 C2"
    families = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        total = v["C0"] + sum((v[f"A{k}"] + v[f"B{k}"]) << (k - 1) for k in (1, 2))
        return {"S1": total & 1, "S2": total >> 1 & 1, "C2": total >> 2}


@part("183")
class DualAdder(Part):
    """Two full adders for one bit each."""
    pins = "1A NC 1B 1CN 1CN1 1S GND 2S NC 2CN1 2CN 2B 2A VCC"
    outputs = "1CN1 1S 2S 2CN1"
    families = "H LS"

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for h in "12":
            total = v[f"{h}A"] + v[f"{h}B"] + v[f"{h}CN"]
            out |= {f"{h}S": total & 1, f"{h}CN1": total >> 1}
        return out


@part("87")
class TrueComplement(Part):
    """B C: both low complement, C true, B high, both low."""
    pins = "C A1 Y1 NC A2 Y2 GND B Y3 A3 NC Y4 A4 VCC"
    outputs = "Y1 Y2 Y3 Y4"
    families = "H"

    def evaluate(self, v: Levels) -> Levels:
        return {f"Y{k}": nand(v[f"A{k}"], 1 - v["B"]) ^ v["C"] for k in range(1, 5)}


@part("180")
class Parity8(Part):
    """Parity of eight inputs, cascaded by EVEN and ODD; these equal: both outputs their complement."""
    pins = "G H EVEN ODD SEVEN SODD GND A B C D E F VCC"
    outputs = "SEVEN SODD"
    families = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        odd = sum(v[n] for n in "ABCDEFGH") & 1
        inputs = v["EVEN"], v["ODD"]
        return {"SEVEN": 1 - inputs[1 - odd], "SODD": 1 - inputs[odd]}


@part("182")
class LookAhead(Part):
    """Carries of four groups from their generate and propagate (active low)."""
    pins = "G1/ P1/ G0/ P0/ G3/ P3/ P/ GND CNZ G/ CNY CNX CN G2/ P2/ VCC"
    outputs = "P/ CNZ G/ CNY CNX"
    families = "TTL S AS F HC"

    def evaluate(self, v: Levels) -> Levels:
        generate, propagate = ([1 - v[f"{x}{k}/"] for k in range(4)] for x in "GP")
        out, carry, group = {}, v["CN"], 0
        for k, name in enumerate(("CNX", "CNY", "CNZ", "")):
            carry = generate[k] | propagate[k] & carry
            group = generate[k] | propagate[k] & group
            if name:
                out[name] = carry
        return out | {"G/": 1 - group, "P/": nand(*propagate)}


class FourBitUnit(Part):
    """S2 S1 S0: clear, B minus A, A minus B, A plus B, A xor B, A or B, A and B, preset.

    Each bit has a propagate term, which is its result but for the carry, and a generate term, which
    is none outside of the arithmetic modes: the carries go on there, though the results do without.
    """

    pins = "A1 B1 A0 B0 S0 S1 S2 F0 F1 GND F2 F3 {} CN B3 A3 B2 A2 VCC"

    def bit(self, mode: int, a: int, b: int) -> tuple[int, int]:
        """Propagate and generate of one bit."""
        if mode in (1, 2, 3):
            a, b = a ^ (mode == 1), b ^ (mode == 2)
            return a ^ b, a & b
        return {0: 0, 4: a ^ b, 5: a | b, 6: a & b, 7: 1}[mode], 0

    def chain(self, v: Levels) -> tuple[Levels, list[int], int, int]:
        """The results; carries from CN to CN+4; group generate and propagate, active high."""
        mode = v["S0"] + 2 * v["S1"] + 4 * v["S2"]
        out, carries, group, through = {}, [v["CN"]], 0, 1
        for k in range(4):
            p, g = self.bit(mode, v[f"A{k}"], v[f"B{k}"])
            out[f"F{k}"] = p ^ (carries[-1] if mode in (1, 2, 3) else 0)
            carries.append(g | p & carries[-1])
            group = g | p & group
            through &= p
        return out, carries, group, through


@part("381")
class FourBitUnitGroup(FourBitUnit):
    """Group generate and propagate, active low.

    Two designs are known, by lot: in that of 1976 a bit that generates a carry passes one on as well,
    and the terms go through its gates in the logic modes too.
    """
    pins = FourBitUnit.pins.format("G/ P/")
    outputs = "F0 F1 F2 F3 G/ P/"
    families = "S LS F"

    def power_up(self) -> None:
        self.first = self.random_bit()

    def first_bit(self, mode: int, a: int, b: int) -> tuple[int, int]:
        """Propagate and generate of one bit in the design of 1976: its two layers of gates."""
        s0, s1, s2 = mode & 1, mode >> 1 & 1, mode >> 2
        u, v, w, x, y = s0 | s1, s1 | s2, s0 | 1 - s1, nand(s0, s1) | s2, s0 & s1 | 1 - s2
        na, nb = 1 - a, 1 - b
        j = 1 - (v & w & na & nb | u & w & x & a & nb | v & x & na & b)
        k = 1 - (u & x & y & na & nb | v & w & (a & nb | na & b) | u & x & a & b)
        return j, j & k

    def evaluate(self, v: Levels) -> Levels:
        out, _, group, through = self.chain(v)
        if self.first:
            mode = v["S0"] + 2 * v["S1"] + 4 * v["S2"]
            group, through = 0, 1
            for k in range(4):
                p, g = self.first_bit(mode, v[f"A{k}"], v[f"B{k}"])
                group, through = g | p & group, through & p
        return out | {"G/": 1 - group, "P/": 1 - through}


@part("382")
class FourBitUnitRipple(FourBitUnit):
    """Carry, and overflow of two's complement: the carries into and out of the highest bit differ."""
    pins = FourBitUnit.pins.format("OVR CN4")
    outputs = "F0 F1 F2 F3 OVR CN4"
    families = "LS F"

    def into_highest(self, v: Levels, carries: list[int]) -> int:
        """The carry of the results' chain, which is none outside of the arithmetic modes."""
        return carries[3] if not v["S2"] and (v["S0"] or v["S1"]) else 0

    def evaluate(self, v: Levels) -> Levels:
        out, carries, _, _ = self.chain(v)
        return out | {"CN4": carries[4], "OVR": self.into_highest(v, carries) ^ carries[4]}


@part("385")
class QuadSerial(Part):
    """Four serial adders: S/A low adds A and B bit by bit, high subtracts B from A.

    CLR/ low clears the sums and puts the carries where the operation begins: low to add, high to
    subtract.
    """
    pins = "CLK 1S 1S/A 1B 1A 2A 2B 2S/A 2S GND CLR/ 3S 3S/A 3B 3A 4A 4B 4S/A 4S VCC"
    outputs = "1S 2S 3S 4S"
    families = "LS"

    def power_up(self) -> None:
        self.sums = {k: self.random_bit() for k in "1234"}
        self.carries = {k: self.random_bit() for k in "1234"}

    def evaluate(self, v: Levels) -> Levels:
        for k in "1234":
            if not v["CLR/"]:
                self.sums[k], self.carries[k] = 0, v[f"{k}S/A"]
            elif self.rose("CLK"):
                total = v[f"{k}A"] + (v[f"{k}B"] ^ v[f"{k}S/A"]) + self.carries[k]
                self.sums[k], self.carries[k] = total & 1, total >> 1
        return {f"{k}S": bit for k, bit in self.sums.items()}
