"""More multiplexers.  Pinouts and tables: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, part
from .selectors import DualMultiplexer4, DualMultiplexer4ThreeState


@part("150")
class Multiplexer16(Part):
    """W = the selected input's complement; G/ high: W high."""
    pins = "E7 E6 E5 E4 E3 E2 E1 E0 G/ W D GND C B A E15 E14 E13 E12 E11 E10 E9 E8 VCC"
    outputs = "W"
    families = "TTL"

    def evaluate(self, v: Levels) -> Levels:
        k = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        return {"W": 1 if v["G/"] else 1 - v[f"E{k}"]}


@part("152")
class Multiplexer8Plain(Part):
    """W = the selected input's complement."""
    pins = "D4 D3 D2 D1 D0 W GND C B A D7 D6 D5 VCC"
    outputs = "W"
    families = "TTL LS"

    def evaluate(self, v: Levels) -> Levels:
        return {"W": 1 - v[f"D{v['A'] + 2 * v['B'] + 4 * v['C']}"]}


@part("352")
class DualMultiplexer4Inverting(DualMultiplexer4):
    """The '153 inverted: high while G/ is high."""
    families = "LS AS ALS F HC"

    def evaluate(self, v: Levels) -> Levels:
        return {n: 1 - level for n, level in super().evaluate(v).items()}


@part("353")
class DualMultiplexer4InvertingThreeState(DualMultiplexer4ThreeState):
    """The '253 inverted."""
    families = "LS AS ALS F HC"

    def evaluate(self, v: Levels) -> Levels:
        return {n: OFF if level == OFF else 1 - level for n, level in super().evaluate(v).items()}


class StoredMultiplexer(Part):
    """Data and address are stored; Y the selected bit, W its complement, on while G1/ G2/ are low and G3 high.

    The address latch is transparent while SC/ is low.
    """

    pins = "D7 D6 D5 D4 D3 D2 D1 D0 {} GND SC/ S2 S1 S0 G1/ G2/ G3 W Y VCC"
    outputs = "W Y"
    idle = OFF

    def power_up(self) -> None:
        self.data = [self.random_bit() for _ in range(8)]
        self.address = self.rng.randrange(8)

    def takes_data(self, v: Levels) -> bool:
        """The data inputs are stored now: transparent while DC/ is low."""
        return not v["DC/"]

    def evaluate(self, v: Levels) -> Levels:
        if not v["SC/"]:
            self.address = sum(v[f"S{k}"] << k for k in range(3))
        if self.takes_data(v):
            self.data = [v[f"D{k}"] for k in range(8)]
        y = self.data[self.address]
        if v["G1/"] or v["G2/"] or not v["G3"]:
            return {"Y": self.idle, "W": self.idle}
        return {"Y": y, "W": 1 - y}


class ClockedMultiplexer(StoredMultiplexer):
    """Data taken at the positive edge of CLK."""

    pins = StoredMultiplexer.pins.format("CLK")

    def takes_data(self, v: Levels) -> bool:
        return self.rose("CLK")


@part("354")
class LatchMultiplexer(StoredMultiplexer):
    """Data latch, three-state outputs."""
    pins = StoredMultiplexer.pins.format("DC/")
    three_state, drive, families = "*", "bus", "LS HC HCT"


@part("355")
class LatchMultiplexerOpen(StoredMultiplexer):
    """Data latch, open collectors."""
    pins = StoredMultiplexer.pins.format("DC/")
    open_collector, idle, drive, families = StoredMultiplexer.outputs, 1, "buffer", "LS"


@part("356")
class RegisterMultiplexer(ClockedMultiplexer):
    """Data register, three-state outputs."""
    three_state, drive, families = "*", "bus", "LS HC HCT"


@part("357")
class RegisterMultiplexerOpen(ClockedMultiplexer):
    """Data register, open collectors."""
    open_collector, idle, drive, families = StoredMultiplexer.outputs, 1, "buffer", "LS"
