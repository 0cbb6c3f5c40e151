"""Flip-flops, latches, registers.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from .model import OFF, Levels, Part, part


class Pair(Part):
    """Two flip-flops with a register each in `self.q`, and their forced states."""

    preset: ClassVar[str] = "{}PRE/"              # name by half; "" if there is none
    clear: ClassVar[str] = "{}CLR/"
    active: ClassVar[int] = 0                     # level that presets or clears

    def power_up(self) -> None:
        self.q = {h: self.random_bit() for h in "12"}

    @abstractmethod
    def clocked(self, half: str, v: Levels) -> int | None:
        """The next state if this half's clock has its edge now, else None."""

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for h in "12":
            preset, clear = (bool(name) and v[name.format(h)] == self.active
                             for name in (self.preset, self.clear))
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

    def clocked(self, half: str, v: Levels) -> int | None:
        return v[f"{half}D"] if self.rose(f"{half}CLK") else None


@part("109")
class DualJKNot(Pair):
    """J and not-K, positive edge: J = K/ joined make a D flip-flop."""
    pins = "1CLR/ 1J 1K/ 1CLK 1PRE/ 1Q 1Q/ GND 2Q/ 2Q 2PRE/ 2CLK 2K/ 2J 2CLR/ VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.rose(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], 1 - v[f"{half}K/"])


@part("112")
class DualJK(Pair):
    """JK flip-flop, negative edge, preset and clear active low."""
    pins = "1CLK 1K 1J 1PRE/ 1Q 1Q/ 2Q/ GND 2Q 2PRE/ 2J 2K 2CLK 2CLR/ 1CLR/ VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.fell(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], v[f"{half}K"])


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

    outputs, three_state, drive = OCTAL_Q, "*", "latch3"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(8)]

    @abstractmethod
    def takes_data(self, v: Levels) -> bool:
        """The data inputs are stored now."""

    def evaluate(self, v: Levels) -> Levels:
        if self.takes_data(v):
            self.q = [v[f"{k}D"] for k in range(1, 9)]
        return {f"{k}Q": OFF if v["OC/"] else bit for k, bit in enumerate(self.q, 1)}


@part("373")
class OctalLatch(OctalStore):
    """Transparent while C is high."""
    pins = OCTAL.format("C")
    schmitt = {"C": "bus"}

    def takes_data(self, v: Levels) -> bool:
        return v["C"] == 1


@part("374")
class OctalD(OctalStore):
    """Takes data at the positive edge of CLK."""
    pins = OCTAL.format("CLK")
    schmitt = {"CLK": "bus"}

    def takes_data(self, v: Levels) -> bool:
        return self.rose("CLK")


class FallingJK(Pair):
    """JK flip-flop that takes its inputs at the negative edge."""

    outputs = "1Q 1Q/ 2Q 2Q/"

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.fell(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], v[f"{half}K"])


@part("73")
class DualJKClear(FallingJK):
    """Clear only; supply on pins 4 and 11."""
    pins = "1CLK 1CLR/ 1K VCC 2CLK 2CLR/ 2J 2Q/ 2Q 2K GND 1Q 1Q/ 1J"
    preset = ""


@part("76")
class DualJKBoth(FallingJK):
    """Preset and clear; supply on pins 5 and 13."""
    pins = "1CLK 1PRE/ 1CLR/ 1J VCC 2CLK 2PRE/ 2CLR/ 2J 2Q/ 2Q 2K GND 1Q/ 1Q 1K"


@part("107")
class DualJKCorner(FallingJK):
    """Clear only, corner supply."""
    pins = "1J 1Q/ 1Q 1K 2Q 2Q/ GND 2J 2CLK 2CLR/ 2K 1CLK 1CLR/ VCC"
    preset = ""


@part("113")
class DualJKPreset(FallingJK):
    """Preset only."""
    pins = "1CLK 1K 1J 1PRE/ 1Q 1Q/ GND 2Q/ 2Q 2PRE/ 2J 2K 2CLK VCC"
    clear = ""


@part("75")
class QuadLatch(Part):
    """Four transparent latches, an enable for each pair; supply on pins 5 and 12."""
    pins = "1Q/ 1D 2D C34 VCC 3D 4D 4Q/ 4Q 3Q 3Q/ GND C12 2Q/ 2Q 1Q"
    outputs = "1Q 1Q/ 2Q 2Q/ 3Q 3Q/ 4Q 4Q/"

    def power_up(self) -> None:
        self.q = {k: self.random_bit() for k in "1234"}

    def evaluate(self, v: Levels) -> Levels:
        for k in "1234":
            if v["C12" if k in "12" else "C34"]:
                self.q[k] = v[f"{k}D"]
        return ({f"{k}Q": bit for k, bit in self.q.items()}
                | {f"{k}Q/": 1 - bit for k, bit in self.q.items()})


@part("375")
class QuadLatchCorner(QuadLatch):
    """The '75 with corner supply pins."""
    pins = "1D 1Q/ 1Q C12 2Q 2Q/ 2D GND 3D 3Q/ 3Q C34 4Q 4Q/ 4D VCC"


@part("259")
class AddressableLatch(Part):
    """Eight bits: G/ low writes D at the address; CLR/ low clears the others."""
    pins = "S0 S1 S2 Q0 Q1 Q2 Q3 GND Q4 Q5 Q6 Q7 D G/ CLR/ VCC"
    outputs = "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.q = [0] * 8
        if not v["G/"]:
            self.q[v["S0"] + 2 * v["S1"] + 4 * v["S2"]] = v["D"]
        return {f"Q{k}": bit for k, bit in enumerate(self.q)}


@part("273")
class OctalDClear(Register):
    """Eight D flip-flops, common clock and clear."""
    pins = "CLR/ 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND CLK 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"
    outputs = OCTAL_Q
    width = 8


class EnabledRegister(Register):
    """D flip-flops that take data only while EN/ is low."""

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK") and not v["EN/"]:
            self.q = [v[f"{k}D"] for k in range(1, self.width + 1)]
        return {f"{k}Q": bit for k, bit in enumerate(self.q, 1)}


@part("377")
class OctalDEnable(EnabledRegister):
    """Eight D flip-flops with common enable."""
    pins = "EN/ 1Q 1D 2D 2Q 3Q 3D 4D 4Q GND CLK 5Q 5D 6D 6Q 7Q 7D 8D 8Q VCC"
    outputs = OCTAL_Q
    width = 8


@part("378")
class HexDEnable(EnabledRegister):
    """Six D flip-flops with common enable."""
    pins = "EN/ 1Q 1D 2D 2Q 3D 3Q GND CLK 4Q 4D 5Q 5D 6D 6Q VCC"
    outputs = "1Q 2Q 3Q 4Q 5Q 6Q"
    width = 6


@part("279")
class QuadSetReset(Part):
    """Four set-reset latches, active low; set wins the output while both are low."""
    pins = "1R/ 1S1/ 1S2/ 1Q 2R/ 2S/ 2Q GND 3Q 3R/ 3S1/ 3S2/ 4Q 4R/ 4S/ VCC"
    outputs = "1Q 2Q 3Q 4Q"

    def power_up(self) -> None:
        self.q = {k: self.random_bit() for k in "1234"}

    def evaluate(self, v: Levels) -> Levels:
        for k in "1234":
            sets = [v[n] for n in (f"{k}S/", f"{k}S1/", f"{k}S2/") if n in v]
            if not all(sets):
                self.q[k] = 1
            elif not v[f"{k}R/"]:
                self.q[k] = 0
        return {f"{k}Q": bit for k, bit in self.q.items()}


FLOW_THROUGH = "OC/ 1D 2D 3D 4D 5D 6D 7D 8D GND {} 8Q 7Q 6Q 5Q 4Q 3Q 2Q 1Q VCC"


@part("573")
class OctalLatchFlow(OctalLatch):
    """The '373 with inputs on one side."""
    pins = FLOW_THROUGH.format("C")


@part("574")
class OctalDFlow(OctalD):
    """The '374 with inputs on one side."""
    pins = FLOW_THROUGH.format("CLK")


@part("173")
class QuadDThreeState(Part):
    """Four D flip-flops, data enables G1/ G2/, output controls M N, clear active high."""
    pins = "M N 1Q 2Q 3Q 4Q CLK GND G1/ G2/ 4D 3D 2D 1D CLR VCC"
    outputs, three_state, drive = "1Q 2Q 3Q 4Q", "*", "latch3"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(4)]

    def evaluate(self, v: Levels) -> Levels:
        if v["CLR"]:
            self.q = [0] * 4
        elif self.rose("CLK") and not v["G1/"] and not v["G2/"]:
            self.q = [v[f"{k}D"] for k in range(1, 5)]
        off = v["M"] or v["N"]
        return {f"{k}Q": OFF if off else bit for k, bit in enumerate(self.q, 1)}
