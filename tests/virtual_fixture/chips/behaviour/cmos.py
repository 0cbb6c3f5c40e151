"""4000-series parts.  Pinouts and tables: the makers' CMOS data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .flipflops import Pair, jk
from .gates import HEX, HEX_GATES, QUAD_GATES
from .model import Gates, Levels, Part, and_, nand, nor, or_, part, xnor, xor

QUAD = "1A 1B 1Y 2Y 2A 2B GND 3A 3B 3Y 4Y 4A 4B VCC"
DUAL4 = "1Y 1A 1B 1C 1D NC GND NC 2A 2B 2C 2D 2Y VCC"
DUAL4_GATES = "1A 1B 1C 1D > 1Y, 2A 2B 2C 2D > 2Y"
TRIPLE = "1A 1B 2A 2B 2C 2Y GND 1C 1Y 3Y 3A 3B 3C VCC"
TRIPLE_GATES = "1A 1B 1C > 1Y, 2A 2B 2C > 2Y, 3A 3B 3C > 3Y"
BUFFERS = "VCC 1Y 1A 2Y 2A 3Y 3A GND 4A 4Y 5A 5Y NC 6A 6Y NC"


@part("4001")
class QuadNor(Gates):
    """Y = not (A + B)."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(nor)


@part("4002")
class DualNor(Gates):
    """Y = not (A + B + C + D)."""
    pins, gates = DUAL4, DUAL4_GATES
    function = staticmethod(nor)


@part("4011")
class QuadNand(Gates):
    """Y = not (A B)."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(nand)


@part("4012")
class DualNand(Gates):
    """Y = not (A B C D)."""
    pins, gates = DUAL4, DUAL4_GATES
    function = staticmethod(nand)


@part("4013")
class DualD(Pair):
    """D flip-flop, positive edge, set and reset active high."""
    pins = "1Q 1Q/ 1CLK 1R 1D 1S GND 2S 2D 2R 2CLK 2Q/ 2Q VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"
    preset, clear, active = "{}S", "{}R", 1

    def clocked(self, half: str, v: Levels) -> int | None:
        return v[f"{half}D"] if self.rose(f"{half}CLK") else None


@part("4017")
class JohnsonCounter(Part):
    """Decade counter with ten decoded outputs; carry high for counts 0..4."""
    pins = "Q5 Q1 Q0 Q2 Q6 Q7 Q3 GND Q8 Q4 Q9 CO INH CLK RST VCC"
    outputs = "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7 Q8 Q9 CO"

    def power_up(self) -> None:
        self.count = self.rng.randrange(10)

    def evaluate(self, v: Levels) -> Levels:
        clocked = self.rose("CLK") and not v["INH"] or self.fell("INH") and v["CLK"]
        if v["RST"]:
            self.count = 0
        elif clocked:
            self.count = (self.count + 1) % 10
        return {f"Q{k}": int(k == self.count) for k in range(10)} | {"CO": int(self.count < 5)}


@part("4023")
class TripleNand(Gates):
    """Y = not (A B C)."""
    pins, gates = TRIPLE, TRIPLE_GATES
    function = staticmethod(nand)


class RippleCounter(Part):
    """Binary counter, negative edge, reset active high."""

    stages: int

    def power_up(self) -> None:
        self.count = self.rng.getrandbits(self.stages)

    def evaluate(self, v: Levels) -> Levels:
        if v["RST"]:
            self.count = 0
        elif self.fell("CLK"):
            self.count = (self.count + 1) % (1 << self.stages)
        return {f"Q{k + 1}": self.count >> k & 1 for k in range(self.stages)}


@part("4024")
class Counter7(RippleCounter):
    """Seven stages."""
    pins = "CLK RST Q7 Q6 Q5 Q4 GND NC Q3 NC Q2 Q1 NC VCC"
    outputs = "Q1 Q2 Q3 Q4 Q5 Q6 Q7"
    stages = 7


@part("4025")
class TripleNor(Gates):
    """Y = not (A + B + C)."""
    pins, gates = TRIPLE, TRIPLE_GATES
    function = staticmethod(nor)


@part("4027")
class DualJK(Pair):
    """JK flip-flop, positive edge, set and reset active high."""
    pins = "2Q 2Q/ 2CLK 2R 2K 2J 2S GND 1S 1J 1K 1R 1CLK 1Q/ 1Q VCC"
    outputs = "1Q 1Q/ 2Q 2Q/"
    preset, clear, active = "{}S", "{}R", 1

    def clocked(self, half: str, v: Levels) -> int | None:
        if not self.rose(f"{half}CLK"):
            return None
        return jk(self.q[half], v[f"{half}J"], v[f"{half}K"])


@part("4040")
class Counter12(RippleCounter):
    """Twelve stages."""
    pins = "Q12 Q6 Q5 Q7 Q4 Q3 Q2 GND Q1 CLK RST Q9 Q8 Q10 Q11 VCC"
    outputs = " ".join(f"Q{k}" for k in range(1, 13))
    stages = 12


@part("4049")
class HexInverterBuffer(Gates):
    """Y = not A; inputs may rise above VCC, supply on pin 1."""
    pins, gates, drive, upper_clamps = BUFFERS, HEX_GATES, "cmos_buffer", False
    function = staticmethod(nand)


@part("4050")
class HexBuffer(Gates):
    """Y = A; inputs may rise above VCC, supply on pin 1."""
    pins, gates, drive, upper_clamps = BUFFERS, HEX_GATES, "cmos_buffer", False
    function = staticmethod(and_)


@part("4069")
class HexInverter(Gates):
    """Y = not A."""
    pins, gates = HEX, HEX_GATES
    function = staticmethod(nand)


@part("4070")
class QuadXor(Gates):
    """Y = A exclusive-or B."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(xor)


@part("4071")
class QuadOr(Gates):
    """Y = A + B."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(or_)


@part("4072")
class DualOr(Gates):
    """Y = A + B + C + D."""
    pins, gates = DUAL4, DUAL4_GATES
    function = staticmethod(or_)


@part("4073")
class TripleAnd(Gates):
    """Y = A B C."""
    pins, gates = TRIPLE, TRIPLE_GATES
    function = staticmethod(and_)


@part("4075")
class TripleOr(Gates):
    """Y = A + B + C."""
    pins, gates = TRIPLE, TRIPLE_GATES
    function = staticmethod(or_)


@part("4077")
class QuadXnor(Gates):
    """Y = not (A exclusive-or B)."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(xnor)


@part("4081")
class QuadAnd(Gates):
    """Y = A B."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(and_)


@part("4082")
class DualAnd(Gates):
    """Y = A B C D."""
    pins, gates = DUAL4, DUAL4_GATES
    function = staticmethod(and_)


@part("4093")
class QuadNandSchmitt(Gates):
    """Y = not (A B), Schmitt inputs."""
    pins, gates = QUAD, QUAD_GATES
    schmitt = {"*": "gate"}
    function = staticmethod(nand)
