"""More TTL gates: expandable, AND-OR-INVERT, drivers, Schmitt, HC of four digits.

Pinouts and function tables: the makers' TTL, LS, ALS/AS, FAST and HC data books, from memory, but for
those whose docstring names a sheet.  An expander's nodes (X, X/) are open: nothing hangs on them.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .gates import (
    HEX,
    HEX_GATES,
    QUAD,
    QUAD_GATES,
    AndOrInvert,
    DualNand,
    DualNandSchmitt,
    HexBufferOpen,
    HexInverterHighVoltage,
    HexSchmitt,
    QuadAnd,
    QuadNandOpenTurned,
    QuadNandSchmitt,
    QuadNor,
    QuadOr,
    QuadXor,
    QuadXnorOpen,
)
from .model import OFF, Gates, Levels, Part, and_, nand, nor, or_, part, xnor, xor

LINE_RECEIVER = {"*": "receiver"}


@part("16")
class HexInverter15V(HexInverterHighVoltage):
    """Y = not A, open collector, 15 V outputs: the '06 selected."""
    families = "TTL LS"


@part("17")
class HexBuffer15V(HexBufferOpen):
    """Y = A, open collector, 15 V outputs: the '07 selected."""
    families = "TTL LS"


@part("18")
class DualNandReceiver(DualNandSchmitt):
    """The LS13 with PNP inputs, 0.8 V of hysteresis (TI product page of the SN74LS19A, read), thresholds 0.25 V higher (memory)."""
    families, schmitt = "LS", LINE_RECEIVER


@part("19")
class HexReceiver(HexSchmitt):
    """The LS14 with PNP inputs and thresholds 0.25 V higher."""
    families, schmitt = "LS", LINE_RECEIVER


@part("24")
class QuadNandReceiver(QuadNandSchmitt):
    """The LS132 with PNP inputs and thresholds 0.25 V higher."""
    families, schmitt = "LS", LINE_RECEIVER


# Collector and emitter of the phase splitter: resistors of TI's diagrams of the 7450 and the 74H50, from memory.
EXPANDERS = {"X": (1600.0, 0.0, 0), "X/": (0.0, 1000.0, 0)}
EXPANDERS_H = {"X": (760.0, 0.0, 0), "X/": (0.0, 470.0, 0)}


@part("23")
class DualNorExpandable(Part):
    """Y = not (G (A + B + C + D)), gate 1 with expander nodes; as the '25, a strobe is four unit loads."""
    pins = "X 1A 1B 1G 1C 1D 1Y GND 2Y 2A 2B 2G 2C 2D X/ VCC"
    outputs, analog, expanders, families = "1Y 2Y", "X X/", EXPANDERS, "TTL"
    shared = ", ".join(f"{h}{x} {h}G" for h in "12" for x in "ABCD")

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": nand(v[f"{k}G"], or_(*(v[f"{k}{x}"] for x in "ABCD"))) for k in "12"}


@part("31")
class DelayElements(Part):
    """1Y, 6Y = not A; 2Y, 5Y = A; 3Y, 4Y = not (A B) with 24 mA.  The delays are not modelled."""
    pins = "1A 1Y 2A 2Y 3A 3B 3Y GND 4Y 4A 4B 5Y 5A 6Y 6A VCC"
    outputs, families = "1Y 2Y 3Y 4Y 5Y 6Y", "LS"
    drive = {"[34]Y": "buffer"}

    def evaluate(self, v: Levels) -> Levels:
        return ({f"{k}Y": 1 - v[f"{k}A"] for k in "16"} | {f"{k}Y": v[f"{k}A"] for k in "25"}
                | {f"{k}Y": nand(v[f"{k}A"], v[f"{k}B"]) for k in "34"})


@part("34")
class HexBuffer(Gates):
    """Y = A."""
    pins, gates, families = HEX, HEX_GATES, "AS ALS"
    function = staticmethod(and_)


@part("35")
class HexBufferOpen5V(HexBuffer):
    """Y = A, open collector."""
    open_collector, families = "1Y 2Y 3Y 4Y 5Y 6Y", "ALS"


@part("36")
class QuadNorStraight(Gates):
    """Y = not (A + B) with the pins of the '00."""
    pins, gates, families = QUAD, QUAD_GATES, "HC"
    function = staticmethod(nor)


@part("39")
class QuadNandBufferOpenTurned(QuadNandOpenTurned):
    """Y = not (A B), open collector buffer of 48 and 80 mA, outputs first."""
    drive, families = "sink48", "TTL"


class Inverting(Part):
    """AND-OR-INVERT: `sums` lists "terms > output", the inputs of a term joined by "."."""

    sums = ""
    inverted = 1

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for row in self.sums.split(","):
            terms, name = row.split(">")
            out[name.strip()] = or_(*(and_(*(v[i] for i in t.split("."))) for t in terms.split())) ^ self.inverted
        return out


def on_one_base(sums: str) -> str:
    """Each term is one input transistor."""
    return ", ".join(t.replace(".", " ") for row in sums.split(",") for t in row.split(">")[0].split())


class DualTwoWide(Inverting):
    """Two times AB + CD."""
    sums = "1A.1B 1C.1D > 1Y, 2A.2B 2C.2D > 2Y"
    outputs, shared = "1Y 2Y", on_one_base(sums)


@part("50")
class DualTwoWideExpandable(DualTwoWide):
    """Y = not (AB + CD), gate 1 with expander nodes."""
    pins = "1A 2A 2B 2C 2D 2Y GND 1Y 1C 1D X/ X 1B VCC"
    analog, expanders, families = "X X/", EXPANDERS, "TTL H"


@part("51")
class DualTwoWidePlain(DualTwoWide):
    """Y = not (AB + CD)."""
    pins = "1A 2A 2B 2C 2D 2Y GND 1Y 1C 1D NC NC 1B VCC"
    families = "TTL H S"


class ThreeAndTwo(Inverting):
    """1Y = not (ABC + DEF), 2Y = not (AB + CD)."""
    pins = "1A 2A 2B 2C 2D 2Y GND 1Y 1D 1E 1F 1B 1C VCC"
    sums = "1A.1B.1C 1D.1E.1F > 1Y, 2A.2B 2C.2D > 2Y"
    outputs, shared = "1Y 2Y", on_one_base(sums)


@part("L51")
class ThreeAndTwoLow(ThreeAndTwo):
    """The L51."""
    families = "L"


@part("LS51")
class ThreeAndTwoSchottky(ThreeAndTwo):
    """The LS51."""
    families = "LS"


@part("F51")
class ThreeAndTwoFast(ThreeAndTwo):
    """The F51."""
    families = "F"


@part("HC51")
class ThreeAndTwoCmos(ThreeAndTwo):
    """The HC51."""
    families = "HC"


@part("58")
class ThreeAndTwoTrue(ThreeAndTwo):
    """1Y = ABC + DEF, 2Y = AB + CD."""
    inverted, families = 0, "HC"


FOUR_WIDE = "A.B C.D E.F G.H > Y"
FOUR_WIDE_3 = "A.B C.D E.F.G H.I > Y"


@part("53")
class FourWideExpandable(Inverting):
    """Y = not (AB + CD + EF + GH), with expander nodes."""
    pins, sums = "A C D E F NC GND Y G H X/ X B VCC", FOUR_WIDE
    outputs, shared, analog, families = "Y", on_one_base(FOUR_WIDE), "X X/", "TTL"
    expanders = EXPANDERS


@part("H53")
class FourWideExpandableH(Inverting):
    """Y = not (AB + CD + EFG + HI), with expander nodes."""
    pins, sums = "A C D E F G GND Y H I X/ X B VCC", FOUR_WIDE_3
    outputs, shared, analog, families = "Y", on_one_base(FOUR_WIDE_3), "X X/", "H"
    expanders = EXPANDERS_H


@part("54")
class FourWide(FourWideExpandable):
    """Y = not (AB + CD + EF + GH)."""
    pins, analog = "A C D E F NC GND Y G H NC NC B VCC", ""


@part("H54")
class FourWideH(FourWideExpandableH):
    """Y = not (AB + CD + EFG + HI)."""
    pins, analog = "A C D E F G GND Y H I NC NC B VCC", ""


@part("LS54")
class FourWideSchottky(Inverting):
    """Y = not (AB + CDE + FGH + IJ)."""
    pins, sums = "A B C D E Y GND NC F G H I J VCC", "A.B C.D.E F.G.H I.J > Y"
    outputs, shared, families = "Y", on_one_base("A.B C.D.E F.G.H I.J > Y"), "LS"


@part("55")
class TwoWide(Inverting):
    """Y = not (ABCD + EFGH): L55, LS55."""
    pins, sums = "A B C D NC NC GND Y NC E F G H VCC", "A.B.C.D E.F.G.H > Y"
    outputs, shared, families = "Y", on_one_base(sums), "L LS"


@part("H55")
class TwoWideExpandable(TwoWide):
    """Y = not (ABCD + EFGH), with expander nodes."""
    pins, analog, expanders, families = "A B C D X X/ GND Y NC E F G H VCC", "X X/", EXPANDERS_H, "H"


@part("65")
class AndOrInvertOpen(AndOrInvert):
    """The '64 with an open collector."""
    open_collector, families = "Y", "S"


@part("128")
class QuadNorLine(QuadNor):
    """Y = not (A + B), drives 50 ohm: 48 mA; 42 mA at 2 V."""
    drive, families = "line", "TTL"


@part("134")
class Nand12ThreeState(Part):
    """Y = not (A B ... L) while OC/ is low, off while it is high."""
    pins = "A B C D E F G GND Y H I J K L OC/ VCC"
    outputs, three_state, drive, families = "Y", "*", "data3", "S"
    shared = "A B C D E F G H I J K L"

    def evaluate(self, v: Levels) -> Levels:
        return {"Y": OFF if v["OC/"] else nand(*(v[x] for x in "ABCDEFGHIJKL"))}


@part("135")
class QuadXorXnor(Gates):
    """Y = A exclusive-or B exclusive-or C, one C for each pair of gates."""
    pins = "1A 1B 1Y C12 2A 2B 2Y GND 3Y 3A 3B C34 4Y 4A 4B VCC"
    gates, families = "1A 1B C12 > 1Y, 2A 2B C12 > 2Y, 3A 3B C34 > 3Y, 4A 4B C34 > 4Y", "S"
    function = staticmethod(xor)


@part("140")
class DualNandLine(DualNand):
    """Y = not (A B C D), drives 50 ohm: 60 mA; 40 mA at 2 V.  An input is two unit loads."""
    drive, families = "buffer", "S"


@part("260")
class DualNor5(Gates):
    """Y = not (A + B + C + D + E)."""
    pins = "1A 1B 1C 2A 1Y 2Y GND 2B 2C 2D 2E 1D 1E VCC"
    gates, families = "1A 1B 1C 1D 1E > 1Y, 2A 2B 2C 2D 2E > 2Y", "S LS F"
    function = staticmethod(nor)


@part("265")
class Complementary(Part):
    """W = A or AB, Y = its complement: elements 1 and 4 have one input, 2 and 3 two.

    Pins: schematic symbol in lepton-eda, read; which output inverts: from memory.
    """
    pins = "1A 1W 1Y 2A 2B 2W 2Y GND 3Y 3W 3A 3B 4Y 4W 4A VCC"
    outputs, shared, families = "1W 1Y 2W 2Y 3W 3Y 4W 4Y", "2A 2B, 3A 3B", "TTL"

    def evaluate(self, v: Levels) -> Levels:
        true = {"1": v["1A"], "2": v["2A"] & v["2B"], "3": v["3A"] & v["3B"], "4": v["4A"]}
        return {f"{k}W": bit for k, bit in true.items()} | {f"{k}Y": 1 - bit for k, bit in true.items()}


@part("386")
class QuadXorTurned(Gates):
    """Y = A exclusive-or B with the pins of the '266."""
    pins, gates, families = QuadXnorOpen.pins, QUAD_GATES, "LS HC"
    function = staticmethod(xor)


TWENTY = "1A 1B 1Y 2A 2B 2Y 3A 3B 3Y GND 4Y 4A 4B 5Y 5A 5B 6Y 6A 6B VCC"
TWENTY_GATES = ", ".join(f"{k}A {k}B > {k}Y" for k in range(1, 7))


class HexLineDriver(Gates):
    """Six drivers with the strength of bus outputs."""
    pins, gates, drive = TWENTY, TWENTY_GATES, "bus"
    families = "AS ALS HC"


@part("804")
class HexNandDriver(HexLineDriver):
    """Y = not (A B)."""
    function = staticmethod(nand)


@part("805")
class HexNorDriver(HexLineDriver):
    """Y = not (A + B)."""
    function = staticmethod(nor)


@part("808")
class HexAndDriver(HexLineDriver):
    """Y = A B."""
    function = staticmethod(and_)


@part("832")
class HexOrDriver(HexLineDriver):
    """Y = A + B."""
    function = staticmethod(or_)


@part("810")
class QuadXnor(QuadXor):
    """Y = not (A exclusive-or B)."""
    families = "AS ALS"
    function = staticmethod(xnor)


@part("811")
class QuadXnorOpenStraight(QuadXnor):
    """Y = not (A exclusive-or B), open collector."""
    open_collector, families = "1Y 2Y 3Y 4Y", "ALS"


@part("7001")
class QuadAndSchmitt(QuadAnd):
    """Y = A B, Schmitt inputs."""
    schmitt, families = {"*": "gate"}, "HC"


@part("7002")
class QuadNorSchmitt(QuadNorStraight):
    """Y = not (A + B), Schmitt inputs: TI's, with the pins of the '00 (Philips: those of the '02)."""
    schmitt = {"*": "gate"}


@part("7032")
class QuadOrSchmitt(QuadOr):
    """Y = A + B, Schmitt inputs."""
    schmitt, families = {"*": "gate"}, "HC"


@part("7266")
class QuadXnorPush(QuadXnorOpen):
    """Y = not (A exclusive-or B), push-pull outputs."""
    open_collector, families = "", "HC"
