"""Gates.  Pinouts and function tables: the makers' TTL data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import Gates, Levels, Part, and_, nand, nor, or_, part, xnor, xor

QUAD = "1A 1B 1Y 2A 2B 2Y GND 3Y 3A 3B 4Y 4A 4B VCC"
QUAD_GATES = "1A 1B > 1Y, 2A 2B > 2Y, 3A 3B > 3Y, 4A 4B > 4Y"
QUAD_SHARED = "1A 1B, 2A 2B, 3A 3B, 4A 4B"
HEX = "1A 1Y 2A 2Y 3A 3Y GND 4Y 4A 5Y 5A 6Y 6A VCC"
HEX_GATES = "1A > 1Y, 2A > 2Y, 3A > 3Y, 4A > 4Y, 5A > 5Y, 6A > 6Y"
TRIPLE = "1A 1B 2A 2B 2C 2Y GND 3Y 3A 3B 3C 1Y 1C VCC"
TRIPLE_GATES = "1A 1B 1C > 1Y, 2A 2B 2C > 2Y, 3A 3B 3C > 3Y"
TRIPLE_SHARED = "1A 1B 1C, 2A 2B 2C, 3A 3B 3C"
DUAL4 = "1A 1B NC 1C 1D 1Y GND 2Y 2A 2B NC 2C 2D VCC"
DUAL4_GATES = "1A 1B 1C 1D > 1Y, 2A 2B 2C 2D > 2Y"
DUAL4_SHARED = "1A 1B 1C 1D, 2A 2B 2C 2D"


@part("00")
class QuadNand(Gates):
    """Y = not (A B)."""
    pins, gates, shared = QUAD, QUAD_GATES, QUAD_SHARED
    function = staticmethod(nand)


@part("02")
class QuadNor(Gates):
    """Y = not (A + B); the NOR package has its outputs first."""
    pins = "1Y 1A 1B 2Y 2A 2B GND 3A 3B 3Y 4A 4B 4Y VCC"
    gates = QUAD_GATES
    function = staticmethod(nor)


@part("03")
class QuadNandOpen(Gates):
    """Y = not (A B), open collector."""
    pins, gates, shared = QUAD, QUAD_GATES, QUAD_SHARED
    open_collector = "1Y 2Y 3Y 4Y"
    function = staticmethod(nand)


@part("04")
class HexInverter(Gates):
    """Y = not A."""
    pins, gates = HEX, HEX_GATES
    function = staticmethod(nand)


@part("05")
class HexInverterOpen(Gates):
    """Y = not A, open collector."""
    pins, gates = HEX, HEX_GATES
    open_collector = "1Y 2Y 3Y 4Y 5Y 6Y"
    function = staticmethod(nand)


@part("08")
class QuadAnd(Gates):
    """Y = A B."""
    pins, gates, shared = QUAD, QUAD_GATES, QUAD_SHARED
    function = staticmethod(and_)


@part("10")
class TripleNand(Gates):
    """Y = not (A B C)."""
    pins, gates, shared = TRIPLE, TRIPLE_GATES, TRIPLE_SHARED
    function = staticmethod(nand)


@part("11")
class TripleAnd(Gates):
    """Y = A B C."""
    pins, gates, shared = TRIPLE, TRIPLE_GATES, TRIPLE_SHARED
    function = staticmethod(and_)


@part("14")
class HexSchmitt(Gates):
    """Y = not A, Schmitt inputs."""
    pins, gates = HEX, HEX_GATES
    schmitt = {"*": "gate"}
    function = staticmethod(nand)


@part("20")
class DualNand(Gates):
    """Y = not (A B C D)."""
    pins, gates, shared = DUAL4, DUAL4_GATES, DUAL4_SHARED
    function = staticmethod(nand)


@part("21")
class DualAnd(Gates):
    """Y = A B C D."""
    pins, gates, shared = DUAL4, DUAL4_GATES, DUAL4_SHARED
    function = staticmethod(and_)


@part("25")
class DualNorStrobed(Part):
    """Y = not (G (A + B + C + D)): with the strobe low the output is high.

    The strobe feeds one emitter of each of four input transistors: four unit loads.
    """
    pins = "1A 1B 1G 1C 1D 1Y GND 2Y 2A 2B 2G 2C 2D VCC"
    outputs = "1Y 2Y"
    shared = ", ".join(f"{h}{x} {h}G" for h in "12" for x in "ABCD")

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": 0 if v[f"{k}G"] and (v[f"{k}A"] or v[f"{k}B"] or v[f"{k}C"] or v[f"{k}D"])
                else 1 for k in "12"}


@part("27")
class TripleNor(Gates):
    """Y = not (A + B + C)."""
    pins, gates = TRIPLE, TRIPLE_GATES
    function = staticmethod(nor)


@part("30")
class Nand8(Gates):
    """Y = not (A B C D E F G H)."""
    pins = "A B C D E F GND Y NC NC G H NC VCC"
    gates = "A B C D E F G H > Y"
    shared = "A B C D E F G H"
    function = staticmethod(nand)


@part("32")
class QuadOr(Gates):
    """Y = A + B."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(or_)


@part("64")
class AndOrInvert(Part):
    """Y = not (A B C D + E F + G H I + J K).  Philips data sheet 74F64, 14 March 1996."""
    pins = "A E F G H I GND Y J K B C D VCC"
    outputs = "Y"
    shared = "A B C D, E F, G H I, J K"

    def evaluate(self, v: Levels) -> Levels:
        return {"Y": nor(v["A"] & v["B"] & v["C"] & v["D"], v["E"] & v["F"],
                         v["G"] & v["H"] & v["I"], v["J"] & v["K"])}


@part("86")
class QuadXor(Gates):
    """Y = A exclusive-or B."""
    pins, gates = QUAD, QUAD_GATES
    function = staticmethod(xor)


@part("01")
class QuadNandOpenTurned(Gates):
    """Y = not (A B), open collector, outputs first."""
    pins = "1Y 1A 1B 2Y 2A 2B GND 3A 3B 3Y 4A 4B 4Y VCC"
    gates, shared = QUAD_GATES, QUAD_SHARED
    open_collector = "1Y 2Y 3Y 4Y"
    function = staticmethod(nand)


@part("06")
class HexInverterHighVoltage(HexInverterOpen):
    """Y = not A, open collector, 30 V outputs."""
    drive = "sink40"


@part("07")
class HexBufferOpen(Gates):
    """Y = A, open collector, 30 V outputs."""
    pins, gates, drive = HEX, HEX_GATES, "sink40"
    open_collector = "1Y 2Y 3Y 4Y 5Y 6Y"
    function = staticmethod(and_)


@part("09")
class QuadAndOpen(QuadAnd):
    """Y = A B, open collector."""
    open_collector = "1Y 2Y 3Y 4Y"


@part("12")
class TripleNandOpen(TripleNand):
    """Y = not (A B C), open collector."""
    open_collector = "1Y 2Y 3Y"


@part("13")
class DualNandSchmitt(DualNand):
    """Y = not (A B C D), Schmitt inputs."""
    schmitt = {"*": "gate"}


@part("15")
class TripleAndOpen(TripleAnd):
    """Y = A B C, open collector."""
    open_collector = "1Y 2Y 3Y"


@part("22")
class DualNandOpen(DualNand):
    """Y = not (A B C D), open collector."""
    open_collector = "1Y 2Y"


@part("26")
class QuadNandHighVoltage(QuadNandOpen):
    """Y = not (A B), open collector, 15 V outputs."""


@part("28")
class QuadNorBuffer(QuadNor):
    """Y = not (A + B), 48 mA (LS 24 mA) outputs."""
    drive = "line"


@part("33")
class QuadNorBufferOpen(QuadNor):
    """Y = not (A + B), open collector buffer."""
    drive = "sink48"
    open_collector = "1Y 2Y 3Y 4Y"


@part("37")
class QuadNandBuffer(QuadNand):
    """Y = not (A B), 48 mA (LS 24 mA) outputs."""
    drive = "buffer"


@part("38")
class QuadNandBufferOpen(QuadNandOpen):
    """Y = not (A B), open collector buffer."""
    drive = "sink48"


@part("40")
class DualNandBuffer(DualNand):
    """Y = not (A B C D), 48 mA (LS 24 mA) outputs."""
    drive = "buffer"


@part("132")
class QuadNandSchmitt(QuadNand):
    """Y = not (A B), Schmitt inputs."""
    schmitt = {"*": "gate"}


@part("133")
class Nand13(Gates):
    """Y = not (A B ... M)."""
    pins = "A B C D E F G GND Y H I J K L M VCC"
    gates = "A B C D E F G H I J K L M > Y"
    shared = "A B C D E F G H I J K L M"
    function = staticmethod(nand)


@part("136")
class QuadXorOpen(QuadXor):
    """Y = A exclusive-or B, open collector."""
    open_collector = "1Y 2Y 3Y 4Y"


@part("266")
class QuadXnorOpen(Gates):
    """Y = not (A exclusive-or B), open collector."""
    pins = "1A 1B 1Y 2Y 2A 2B GND 3A 3B 3Y 4Y 4A 4B VCC"
    gates = QUAD_GATES
    open_collector = "1Y 2Y 3Y 4Y"
    function = staticmethod(xnor)
