"""The 9300 series.  Pinouts and tables: Fairchild's TTL data book, from memory.

Many were made as 74 types later, with the same pins: those are taken from there; the
one that was not is written here with Fairchild's names.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import arithmetic, counters, flipflops, registers, selectors, shifters
from .model import Levels, Part, part

BOTH = "TTL 93L"                   # 93xx and 93Lxx


@part("9300")
class Shift4(shifters.ShiftJK):
    """The '195."""
    families, own = BOTH, "TTL"


@part("9308")
class DualLatch4(registers.DualQuadLatchClear):
    """The '116."""
    families, own = BOTH, "TTL"


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
class AddressableLatch(flipflops.AddressableLatch):
    """The '259."""
    families, own = BOTH, "TTL"


@part("9341")
class Arithmetic(selectors.ArithmeticUnit):
    """The '181."""
    families = own = "TTL"


@part("9342")
class CarryLookahead(arithmetic.LookAhead):
    """The '182."""
    families = own = "TTL"


@part("9360")
class TwoClockDecade(counters.TwoClockDecade):
    """The '192."""
    families, own = BOTH, "TTL"


@part("9366")
class TwoClockBinary(counters.TwoClockBinary):
    """The '193."""
    families, own = BOTH, "TTL"
