"""Flip-flops, latches, registers, counters.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, part


class Pair(Part):
    """Two flip-flops with a register each in `self.q`, and their forced states."""

    preset, clear = "{}PRE/", "{}CLR/"

    def power_up(self) -> None:
        self.q = {h: self.random_bit() for h in "12"}

    def clocked(self, half: str, v: Levels) -> int | None:
        """The next state if this half's clock has its edge now, else None."""
        raise NotImplementedError

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for h in "12":
            preset, clear = v[self.preset.format(h)] == 0, v[self.clear.format(h)] == 0
            after = self.clocked(h, v)
            if preset or clear:
                self.q[h] = 1 if preset else 0
            elif after is not None:
                self.q[h] = after
            out[f"{h}Q"], out[f"{h}Q/"] = self.q[h], 1 - self.q[h]
            if preset and clear:      # both outputs high while both are held
                out[f"{h}Q"] = out[f"{h}Q/"] = 1
        return out


def jk(q: int, j: int, k: int) -> int:
    """Next state of a JK flip-flop."""
    return (1 - q if k else 1) if j else (0 if k else q)


@part("74")
class DualD(Pair):
    """D flip-flop, positive edge, preset and clear active low."""
    pins = "1CLR/ 1D 1CLK 1PRE/ 1Q 1Q/ GND 2Q/ 2Q 2PRE/ 2CLK 2D 2CLR/ VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"
    # TTL: IIL 1.6 (D, PRE), 3.2 mA (CLR, CLK); LS: 0.8 (PRE, CLR); S: 4, 6, 4 mA.
    family_loads = {"TTL": {f"{h}{n}": 2 for h in "12" for n in ("CLR/", "CLK")},
                    "LS": {f"{h}{n}": 2 for h in "12" for n in ("CLR/", "PRE/")},
                    "S": {f"{h}{n}": k for h in "12"
                          for n, k in (("CLR/", 3), ("PRE/", 2), ("CLK", 2))}}

    def clocked(self, half: str, v: Levels) -> int | None:
        return v[f"{half}D"] if self.rose(f"{half}CLK") else None


@part("109")
class DualJKNot(Pair):
    """J and not-K, positive edge: J = K/ joined make a D flip-flop."""
    pins = "1CLR/ 1J 1K/ 1CLK 1PRE/ 1Q 1Q/ GND 2Q/ 2Q 2PRE/ 2CLK 2K/ 2J 2CLR/ VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"
    family_loads = {"LS": {f"{h}{n}": 2 for h in "12" for n in ("CLR/", "PRE/")},
                    "F": {f"{h}{n}": 3 for h in "12" for n in ("CLR/", "PRE/")}}

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.rose(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], 1 - v[f"{half}K/"])


@part("112")
class DualJK(Pair):
    """JK flip-flop, negative edge, preset and clear active low."""
    pins = "1CLK 1K 1J 1PRE/ 1Q 1Q/ 2Q/ GND 2Q 2PRE/ 2J 2K 2CLK 2CLR/ 1CLR/ VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"
    # LS: IIL 0.4 mA (J, K), 0.8 mA (clock, preset, clear).
    family_loads = {"LS": {f"{h}{n}": 2 for h in "12" for n in ("CLR/", "PRE/", "CLK")}}

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.fell(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], v[f"{half}K"])


@part("161")
class Counter16(Part):
    """Synchronous 4-bit binary counter, asynchronous clear, synchronous load."""
    pins = "CLR/ CLK A B C D ENP GND LOAD/ ENT QD QC QB QA RCO VCC"
    outputs = "QA QB QC QD RCO"
    family_loads = {"LS": {"LOAD/": 2, "CLK": 2, "ENT": 2}, "TTL": {"CLK": 2, "ENT": 2}}

    def power_up(self) -> None:
        self.count = self.rng.getrandbits(4)

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.count = 0
        elif self.rose("CLK"):
            if not v["LOAD/"]:
                self.count = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
            elif v["ENP"] and v["ENT"]:
                self.count = (self.count + 1) % 16
        out = {f"Q{n}": self.count >> k & 1 for k, n in enumerate("ABCD")}
        out["RCO"] = 1 if self.count == 15 and v["ENT"] else 0
        return out


@part("164")
class ShiftRegister8(Part):
    """Serial in (A and B), parallel out, asynchronous clear, positive edge."""
    pins = "A B QA QB QC QD GND CLK CLR/ QE QF QG QH VCC"
    outputs = "QA QB QC QD QE QF QG QH"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.bits = [0] * 8
        elif self.rose("CLK"):
            self.bits = [v["A"] & v["B"], *self.bits[:7]]
        return {f"Q{n}": bit for n, bit in zip("ABCDEFGH", self.bits, strict=True)}


class Register(Part):
    """D flip-flops with a common clock (positive edge) and clear."""

    width = 4
    inverted = False

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(self.width)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.q = [0] * self.width
        elif self.rose("CLK"):
            self.q = [v[f"{k}D"] for k in range(1, self.width + 1)]
        out = {f"{k}Q": bit for k, bit in enumerate(self.q, 1)}
        if self.inverted:
            out |= {f"{k}Q/": 1 - bit for k, bit in enumerate(self.q, 1)}
        return out


@part("174")
class HexD(Register):
    """Six D flip-flops, common clock and clear."""
    pins = "CLR/ 1Q 1D 2D 2Q 3D 3Q GND CLK 4Q 4D 5Q 5D 6D 6Q VCC"
    outputs = "1Q 2Q 3Q 4Q 5Q 6Q"
    width = 6


@part("175")
class QuadD(Register):
    """Four D flip-flops with both outputs, common clock and clear."""
    pins = "CLR/ 1Q 1Q/ 1D 2D 2Q/ 2Q GND CLK 3Q 3Q/ 3D 4D 4Q/ 4Q VCC"
    outputs = "1Q 1Q/ 2Q 2Q/ 3Q 3Q/ 4Q 4Q/"
    inverted = True


OCTAL = "OC/ 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND {} 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"
OCTAL_Q = "1Q 2Q 3Q 4Q 5Q 6Q 7Q 8Q"


class OctalStore(Part):
    """Eight bits with three-state outputs (OC/ low: on)."""

    outputs, bus = OCTAL_Q, "*"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(8)]

    def takes_data(self, v: Levels) -> bool:
        raise NotImplementedError

    def evaluate(self, v: Levels) -> Levels:
        if self.takes_data(v):
            self.q = [v[f"{k}D"] for k in range(1, 9)]
        return {f"{k}Q": OFF if v["OC/"] else bit for k, bit in enumerate(self.q, 1)}


@part("373")
class OctalLatch(OctalStore):
    """Transparent while C is high."""
    pins = OCTAL.format("C")
    hysteresis = {"C": 0.4}

    def takes_data(self, v: Levels) -> bool:
        return v["C"] == 1


@part("374")
class OctalD(OctalStore):
    """Takes data at the positive edge of CLK."""
    pins = OCTAL.format("CLK")
    hysteresis = {"CLK": 0.4}

    def takes_data(self, v: Levels) -> bool:
        return self.rose("CLK")
