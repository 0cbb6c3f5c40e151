"""The 9300 series.  Pinouts and tables: Fairchild's TTL data book, from memory.

Many were made as 74 types later, with the same pins: those are taken from there, the
others are written here with Fairchild's names.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import counters, selectors
from .model import Levels, Part, part

BOTH = "TTL 93L"                   # 93xx and 93Lxx


@part("9300")
class Shift4(Part):
    """PE/ low: load at the clock; high: shift, Q0 from J and K/ (00 low, 11 high, 01 hold, 10 toggle).  MR/ at once."""
    pins = "MR/ J K/ P0 P1 P2 P3 GND PE/ CP Q3/ Q3 Q2 Q1 Q0 VCC"
    outputs = "Q0 Q1 Q2 Q3 Q3/"
    families, own = BOTH, "TTL"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(4)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["MR/"]:
            self.bits = [0] * 4
        elif self.rose("CP") and not v["PE/"]:
            self.bits = [v[f"P{k}"] for k in range(4)]
        elif self.rose("CP"):
            first = v["K/"] if self.bits[0] else v["J"]
            self.bits = [first, *self.bits[:3]]
        return {f"Q{k}": bit for k, bit in enumerate(self.bits)} | {"Q3/": 1 - self.bits[3]}


@part("9308")
class DualLatch4(Part):
    """Each half: open while both E/ are low; MR/ low clears, whatever E/ says."""
    pins = ("1MR/ 1E0/ 1E1/ 1D0 1Q0 1D1 1Q1 1D2 1Q2 1D3 1Q3 GND "
            "2MR/ 2E0/ 2E1/ 2D0 2Q0 2D1 2Q1 2D2 2Q2 2D3 2Q3 VCC")
    outputs = "1Q0 1Q1 1Q2 1Q3 2Q0 2Q1 2Q2 2Q3"
    families, own = BOTH, "TTL"

    def power_up(self) -> None:
        self.held = {name: self.random_bit() for name in self.output_names()}

    def evaluate(self, v: Levels) -> Levels:
        for name in self.held:
            half, bit = name[0], name[-1]
            if not v[f"{half}MR/"]:
                self.held[name] = 0
            elif not v[f"{half}E0/"] and not v[f"{half}E1/"]:
                self.held[name] = v[f"{half}D{bit}"]
        return dict(self.held)


@part("9310")
class Decade(counters.Decade):
    """The '160."""
    families, own = BOTH, "TTL"


@part("9316")
class Binary(counters.Binary):
    """The '161."""
    families, own = BOTH, "TTL"


@part("9311")
class Decoder16(selectors.Decoder4to16):
    """The '154."""
    families, own = BOTH, "TTL"


@part("9312")
class Selector8(Part):
    """Z = the selected input, Z/ its complement; E/ high: Z low."""
    pins = "I0 I1 I2 I3 I4 I5 I6 GND I7 E/ S0 S1 S2 Z/ Z VCC"
    outputs = "Z Z/"
    families, own = BOTH, "TTL"

    def evaluate(self, v: Levels) -> Levels:
        z = 0 if v["E/"] else v[f"I{v['S0'] + 2 * v['S1'] + 4 * v['S2']}"]
        return {"Z": z, "Z/": 1 - z}


@part("9318")
class Priority8(selectors.PriorityOctal):
    """The '148."""
    families, own = BOTH, "TTL"


@part("9321")
class DualDecoder4(selectors.DualDecoder2to4):
    """The '139."""
    families, own = BOTH, "TTL"


@part("9322")
class QuadSelector2(selectors.QuadMultiplexer2):
    """The '157."""
    families, own = BOTH, "TTL"


@part("9334")
class AddressableLatch(Part):
    """E/ low: the addressed bit follows D, and with C/ low the others are cleared.  E/ high: hold, or with C/ low clear."""
    pins = "A0 A1 A2 Q0 Q1 Q2 Q3 GND Q4 Q5 Q6 Q7 D E/ C/ VCC"
    outputs = "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7"
    families, own = BOTH, "TTL"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        if not v["C/"]:
            self.bits = [0] * 8
        if not v["E/"]:
            self.bits[v["A0"] + 2 * v["A1"] + 4 * v["A2"]] = v["D"]
        return {f"Q{k}": bit for k, bit in enumerate(self.bits)}


@part("9341")
class Arithmetic(selectors.ArithmeticUnit):
    """The '181."""
    families = own = "TTL"


@part("9342")
class CarryLookahead(Part):
    """Carries of four groups from their P/ and G/ (low: the group passes a carry, makes one)."""
    pins = "G1/ P1/ G0/ P0/ G3/ P3/ P/ GND CN+Z G/ CN+Y CN+X CN G2/ P2/ VCC"
    outputs = "P/ G/ CN+X CN+Y CN+Z"
    families = own = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        carry, made, out = v["CN"], 0, {}
        for k, name in enumerate(("CN+X", "CN+Y", "CN+Z", "")):
            generates, passes = 1 - v[f"G{k}/"], 1 - v[f"P{k}/"]
            carry, made = generates | passes & carry, generates | passes & made
            if name:
                out[name] = carry
        return out | {"G/": 1 - made, "P/": int(any(v[f"P{k}/"] for k in range(4)))}


@part("9360")
class TwoClockDecade(counters.TwoClockDecade):
    """The '192."""
    families, own = BOTH, "TTL"


@part("9366")
class TwoClockBinary(counters.TwoClockBinary):
    """The '193."""
    families, own = BOTH, "TTL"
