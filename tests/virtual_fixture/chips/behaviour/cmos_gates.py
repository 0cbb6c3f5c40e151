"""4000-series gates, buffers and transceivers that cmos.py has not.  The makers' CMOS data books, from memory;
4501 and 4572: Motorola MC14501UB and MC14572UB (logic diagrams read); 40101: Intersil CD40101BMS (pinout read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .bus import HexDriverSplitTrue, OctalBufferInverting, OctalBufferTrue
from .cmos import HexInverter, QuadXor
from .model import OFF, Levels, Part, and_, nand, nor, or_, part, xnor, xor
from .transceivers import OctalTransceiver


@part("4000")
class DualNor3Inverter(Part):
    """1Y = not (1A + 1B + 1C), 2Y likewise, 3Y = not 3A."""
    pins = "NC NC 1A 1B 1C 1Y GND 3A 3Y 2Y 2A 2B 2C VCC"
    outputs, families = "1Y 2Y 3Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {"1Y": nor(v["1A"], v["1B"], v["1C"]), "2Y": nor(v["2A"], v["2B"], v["2C"]), "3Y": nor(v["3A"])}


class LevelShifter(Part):
    """The '4049 with a second supply: the outputs' is VCC on pin 1, the inputs' VDD on pin 16.

    VDD carries the inverters at the inputs; without it the level shifters inside rest in a state that the books do not
    give.  It is an input here whose low level makes all inner levels low.
    """
    pins = "VCC 1Y 1A 2Y 2A 3Y 3A GND 4A 4Y 5A 5Y NC 6A 6Y VDD"
    outputs, drive, upper_clamps, families = "1Y 2Y 3Y 4Y 5Y 6Y", "cmos_buffer", False, "4000"
    supplies = "VDD"
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": v["VDD"] & (v[f"{k}A"] ^ self.inverted) for k in "123456"}


@part("4009")
class LevelShifterInverting(LevelShifter):
    """Y = not A."""
    inverted = 1


@part("4010")
class LevelShifterTrue(LevelShifter):
    """Y = A."""


@part("4030")
class QuadXorEarly(QuadXor):
    """As the 4070."""
    families = "4000"


@part("4507")
class QuadXorOther(QuadXor):
    """As the 4070."""
    families = "4000"


@part("4041")
class QuadBufferBoth(Part):
    """Y = A and Y/ = not A, four times the usual current."""
    pins = "1Y 1Y/ 1A 2Y 2Y/ 2A GND 3Y 3Y/ 3A 4Y 4Y/ 4A VCC"
    outputs, drive, families = "1Y 1Y/ 2Y 2Y/ 3Y 3Y/ 4Y 4Y/", "complement", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": v[f"{k}A"] for k in "1234"} | {f"{k}Y/": 1 - v[f"{k}A"] for k in "1234"}


class Eight(Part):
    """Eight inputs, Y and its complement W.  RCA brought W out on pin 1, others left that pin free."""
    pins = "W A B C D NC GND NC E F G H Y VCC"
    outputs, families = "Y W", "4000"
    function = staticmethod(nand)

    def evaluate(self, v: Levels) -> Levels:
        y = self.function(*(v[n] for n in "ABCDEFGH"))
        return {"Y": y, "W": 1 - y}


@part("4068")
class Nand8(Eight):
    """Y = not (A B ... H), W = A B ... H."""


@part("4078")
class Nor8(Eight):
    """Y = not (A + B + ... + H), W = A + B + ... + H."""
    function = staticmethod(nor)


@part("4085")
class DualAndOrInvert(Part):
    """Y = not (A B + C D + INH)."""
    pins = "1A 1B 1Y 2Y 2A 2B GND 2C 2D 2INH 1INH 1C 1D VCC"
    outputs, families = "1Y 2Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": nor(v[f"{k}A"] & v[f"{k}B"], v[f"{k}C"] & v[f"{k}D"], v[f"{k}INH"]) for k in "12"}


@part("4086")
class AndOrInvertExpandable(Part):
    """Y = not (A B + C D + E F + G H + INH + not EN)."""
    pins = "A B Y NC C D GND E F INH EN G H VCC"
    outputs, families = "Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        pairs = (v[a] & v[b] for a, b in ("AB", "CD", "EF", "GH"))
        return {"Y": nor(*pairs, v["INH"], 1 - v["EN"])}


@part("4501")
class TripleGate(Part):
    """1Y, 2Y: 4-input NAND; 3Y = not (3A + 3B), 3W = 3A + 3B."""
    pins = "1A 1B 1C 1D 2A 2B 2C GND 2D 2Y 3A 3B 1Y 3Y 3W VCC"
    outputs, families = "1Y 2Y 3Y 3W", "4000"

    def evaluate(self, v: Levels) -> Levels:
        out = {f"{k}Y": nand(*(v[f"{k}{n}"] for n in "ABCD")) for k in "12"}
        return out | {"3Y": nor(v["3A"], v["3B"]), "3W": or_(v["3A"], v["3B"])}


@part("4502")
class HexInverterStrobed(Part):
    """Y = not A; INH high: all low; DIS high: all off."""
    pins = "3A 3Y 1A DIS 1Y 2A 2Y GND 4Y 4A 5Y INH 5A 6Y 6A VCC"
    outputs, three_state, drive, families = "1Y 2Y 3Y 4Y 5Y 6Y", "*", "strobed", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": OFF if v["DIS"] else nor(v[f"{k}A"], v["INH"]) for k in "123456"}


@part("4503")
class HexBufferThreeState(HexDriverSplitTrue):
    """Y = A; four on 1G/, two on 2G/: the pins are those of the '367."""
    drive, families = "hex3", "4000"


@part("4531")
class Parity13(Part):
    """Q high for an odd number of highs among twelve data inputs and W."""
    pins = "D0 D1 D2 D3 D4 D5 D6 GND Q W D11 D10 D9 D8 D7 VCC"
    outputs, families = "Q", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {"Q": xor(v["W"], *(v[f"D{k}"] for k in range(12)))}


@part("40101")
class Parity9(Part):
    """EVEN, ODD: of the number of highs among nine inputs; INH high: both low."""
    pins = "D1 D2 D3 D4 D9 ODD GND INH EVEN D5 D6 D7 D8 VCC"
    outputs, families = "EVEN ODD", "4000"

    def evaluate(self, v: Levels) -> Levels:
        data = [v[f"D{k}"] for k in range(1, 10)]
        return {"EVEN": and_(xnor(*data), 1 - v["INH"]), "ODD": and_(xor(*data), 1 - v["INH"])}


@part("4572")
class HexMixed(Part):
    """Inverters 1, 2, 4, 5; 3Y = not (3A + 3B); 6Y = not (6A 6B)."""
    pins = "1Y 1A 2Y 2A 3Y 3A 3B GND 4Y 4A 5Y 5A 6Y 6A 6B VCC"
    outputs, families = "1Y 2Y 3Y 4Y 5Y 6Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        out = {f"{k}Y": 1 - v[f"{k}A"] for k in "1245"}
        return out | {"3Y": nor(v["3A"], v["3B"]), "6Y": nand(v["6A"], v["6B"])}


class HexSchmitt(HexInverter):
    """Y = not A, Schmitt inputs."""
    schmitt, families = {"*": "gate"}, "4000"


@part("4584")
class HexSchmittEarly(HexSchmitt):
    """Y = not A, Schmitt inputs."""


@part("40106")
class HexSchmittLater(HexSchmitt):
    """Y = not A, Schmitt inputs."""


@part("40240")
class OctalInverting(OctalBufferInverting):
    """The '240 in 4000-series CMOS: no Schmitt inputs."""
    schmitt, families = {}, "4000"


@part("40244")
class OctalTrue(OctalBufferTrue):
    """The '244 in 4000-series CMOS: no Schmitt inputs."""
    schmitt, families = {}, "4000"


@part("40245")
class Transceiver(OctalTransceiver):
    """The '245 in 4000-series CMOS: no Schmitt inputs."""
    schmitt, families = {}, "4000"
