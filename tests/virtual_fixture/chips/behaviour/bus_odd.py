"""Bus parts with numbers of their own: 8T, 81LS, 82xx.  Pinouts and tables: data books of Signetics, National and Intel, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import bus, selectors, ttl_buffers
from .model import OFF, Levels, Part, part
from .transceivers import BOTH_INVERTED, Directed, both


class BusQuad(Part):
    """Four bus pins; a driver input and a receiver output for each."""
    pins = "RE/ R0 B0 D0 R1 B1 D1 GND D2 B2 R2 D3 B3 R3 DE VCC"
    outputs = "R0 R1 R2 R3 <>B0 <>B1 <>B2 <>B3"
    three_state, drive = "*", {"B?": "bus", "R?": "data3"}
    families = own = "SP"
    inverted = 0

    def drives(self, v: Levels) -> bool:
        return bool(v["DE"])

    def receives(self, v: Levels) -> bool:
        return not v["RE/"]

    def evaluate(self, v: Levels) -> Levels:
        drives, receives, out = self.drives(v), self.receives(v), {}
        for k in range(4):
            out[f"B{k}"] = v[f"D{k}"] ^ self.inverted if drives else OFF
            bus_level = out[f"B{k}"] if drives else v[f"B{k}"]
            out[f"R{k}"] = bus_level ^ self.inverted if receives else OFF
        return out


@part("8T26")
class BusQuadInverting(BusQuad):
    """DE high: B = not D; RE/ low: R = not B."""
    inverted = 1


@part("8T28")
class BusQuadTrue(BusQuad):
    """DE high: B = D; RE/ low: R = B."""


@part("8216")
class BusQuadOneWay(BusQuad):
    """CS/ low: DIEN/ low drives the bus, high receives from it.  CS/ high: all off."""
    pins = "CS/ R0 B0 D0 R1 B1 D1 GND D2 B2 R2 D3 B3 R3 DIEN/ VCC"
    families = own = "S82"

    def drives(self, v: Levels) -> bool:
        return not v["CS/"] and not v["DIEN/"]

    def receives(self, v: Levels) -> bool:
        return not v["CS/"] and bool(v["DIEN/"])


@part("8226")
class BusQuadOneWayInverting(BusQuadOneWay):
    """The 8216 inverting both ways."""
    inverted = 1


@part("8T95")
class Hex95(bus.HexDriverTrue):
    """The '365."""
    families = own = "SP"
    drive = "bus"


@part("8T96")
class Hex96(bus.HexDriverInverting):
    """The '366."""
    families = own = "SP"
    drive = "bus"


@part("8T97")
class Hex97(bus.HexDriverSplit):
    """The '367."""
    families = own = "SP"
    drive = "bus"


@part("8T98")
class Hex98(bus.HexDriverSplit):
    """The '368."""
    families = own = "SP"
    drive = "bus"
    inverted = 1


@part("81LS95")
class OctalTrue(ttl_buffers.OctalSideTrue):
    """The '465."""
    families = own = "LS"
    drive = "latch3"


@part("81LS96")
class OctalInverting(ttl_buffers.OctalSideInverting):
    """The '466."""
    families = own = "LS"
    drive = "latch3"


@part("81LS97")
class OctalSplit(ttl_buffers.OctalSideSplit):
    """The '467."""
    families = own = "LS"
    drive = "latch3"


@part("81LS98")
class OctalSplitInverting(ttl_buffers.OctalSideSplitInverting):
    """The '468."""
    families = own = "LS"
    drive = "latch3"


@part("8205")
class Decoder8(selectors.Decoder3to8):
    """The '138."""
    families = own = "SP"


@part("8212")
class Port8(Part):
    """Latch, outputs that can be off, and a service request.

    Selected: DS1/ low and DS2 high.  MD low: STB high opens the latch, selection drives the
    outputs; MD high: selection opens the latch, the outputs always drive.  CLR/ low clears a
    latch that is closed.  STB falling asks for service, selection and CLR/ answer; INT/ is
    low while service is asked for, and while selected.
    """
    pins = "DS1/ MD DI1 DO1 DI2 DO2 DI3 DO3 DI4 DO4 STB GND DS2 CLR/ DO5 DI5 DO6 DI6 DO7 DI7 DO8 DI8 INT/ VCC"
    outputs = "DO1 DO2 DO3 DO4 DO5 DO6 DO7 DO8 INT/"
    three_state = "DO1 DO2 DO3 DO4 DO5 DO6 DO7 DO8"
    families = own = "S82"

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]
        self.asked = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        selected = not v["DS1/"] and v["DS2"]
        if selected if v["MD"] else v["STB"]:
            self.bits = [v[f"DI{k}"] for k in range(1, 9)]
        elif not v["CLR/"]:
            self.bits = [0] * 8
        if selected or not v["CLR/"]:
            self.asked = 0
        elif self.fell("STB"):
            self.asked = 1
        on = v["MD"] or selected
        return {f"DO{k}": bit if on else OFF for k, bit in enumerate(self.bits, 1)} | {
            "INT/": int(not (self.asked or selected))}


@part("8282")
class Latch8(Part):
    """Follows while STB is high; OE/ low: on."""
    pins = "DI0 DI1 DI2 DI3 DI4 DI5 DI6 DI7 OE/ GND STB DO7 DO6 DO5 DO4 DO3 DO2 DO1 DO0 VCC"
    outputs = "DO0 DO1 DO2 DO3 DO4 DO5 DO6 DO7"
    three_state, drive = "*", "bus"
    families = own = "S82"
    inverted = 0

    def power_up(self) -> None:
        self.bits = [self.random_bit() for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        if v["STB"]:
            self.bits = [v[f"DI{k}"] ^ self.inverted for k in range(8)]
        return {f"DO{k}": OFF if v["OE/"] else bit for k, bit in enumerate(self.bits)}


@part("8283")
class Latch8Inverting(Latch8):
    """Inverting."""
    inverted = 1


@part("8286")
class Transceiver8(Directed):
    """OE/ low: T high drives B from A, T low drives A from B."""
    pins = "A0 A1 A2 A3 A4 A5 A6 A7 OE/ GND T B7 B6 B5 B4 B3 B2 B1 B0 VCC"
    lines, outputs = "01234567", both("01234567")
    schmitt, families, own = {}, "S82", "S82"

    def ways(self, v: Levels) -> str:
        return "" if v["OE/"] else "AB" if v["T"] else "BA"


@part("8287")
class Transceiver8Inverting(Transceiver8):
    """Inverting both ways."""
    inverted = BOTH_INVERTED
