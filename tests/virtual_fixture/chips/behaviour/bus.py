"""Buffers, drivers, transceivers.  Pinouts and tables: data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from .model import OFF, Levels, Part, part

OCTAL_BUFFER = "1G/ 1A1 2Y4 1A2 2Y3 1A3 2Y2 1A4 2Y1 GND 2A1 1Y4 2A2 1Y3 2A3 1Y2 2A4 1Y1 2G/ VCC"
OCTAL_OUTPUTS = "1Y1 1Y2 1Y3 1Y4 2Y1 2Y2 2Y3 2Y4"


@part("125")
class QuadThreeState(Part):
    """Y = A while C/ is low, off while it is high."""
    pins = "1C/ 1A 1Y 2C/ 2A 2Y GND 3Y 3A 3C/ 4Y 4A 4C/ VCC"
    outputs = "1Y 2Y 3Y 4Y"
    three_state, drive = "*", "gate3"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": OFF if v[f"{k}C/"] else v[f"{k}A"] for k in "1234"}


class OctalBuffer(Part):
    """Two groups of four with an enable each (low: on)."""
    pins, outputs = OCTAL_BUFFER, OCTAL_OUTPUTS
    three_state, drive = "*", "bus"
    schmitt = {"*": "bus"}
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        return {f"{g}Y{k}": OFF if v[f"{g}G/"] else v[f"{g}A{k}"] ^ self.inverted
                for g in "12" for k in "1234"}


@part("240")
class OctalBufferInverting(OctalBuffer):
    """Y = not A while G/ is low."""
    inverted = 1


@part("244")
class OctalBufferTrue(OctalBuffer):
    """Y = A while G/ is low."""


@part("126")
class QuadThreeStateHigh(Part):
    """Y = A while C is high, off while it is low."""
    pins = "1C 1A 1Y 2C 2A 2Y GND 3Y 3A 3C 4Y 4A 4C VCC"
    outputs = "1Y 2Y 3Y 4Y"
    three_state, drive = "*", "gate3"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": v[f"{k}A"] if v[f"{k}C"] else OFF for k in "1234"}


@part("241")
class OctalBufferMixed(OctalBuffer):
    """Group 1 on while 1G/ is low, group 2 while 2G is high."""
    pins = OCTAL_BUFFER.replace("2G/", "2G")

    def evaluate(self, v: Levels) -> Levels:
        off = {"1": v["1G/"], "2": 1 - v["2G"]}
        return {f"{g}Y{k}": OFF if off[g] else v[f"{g}A{k}"] for g in "12" for k in "1234"}


class HexDriver(Part):
    """Six drivers, both enables low: on."""
    pins = "G1/ 1A 1Y 2A 2Y 3A 3Y GND 4Y 4A 5Y 5A 6Y 6A G2/ VCC"
    outputs = "1Y 2Y 3Y 4Y 5Y 6Y"
    three_state, drive = "*", "hex3"
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        off = v["G1/"] or v["G2/"]
        return {f"{k}Y": OFF if off else v[f"{k}A"] ^ self.inverted for k in "123456"}


@part("365")
class HexDriverTrue(HexDriver):
    """Y = A."""


@part("366")
class HexDriverInverting(HexDriver):
    """Y = not A."""
    inverted = 1


class HexDriverSplit(Part):
    """Four drivers on 1G/, two on 2G/."""
    pins = "1G/ 1A1 1Y1 1A2 1Y2 1A3 1Y3 GND 1Y4 1A4 2Y1 2A1 2Y2 2A2 2G/ VCC"
    outputs = "1Y1 1Y2 1Y3 1Y4 2Y1 2Y2"
    three_state, drive = "*", "hex3"
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        drivers = [("1", k) for k in "1234"] + [("2", k) for k in "12"]
        return {f"{g}Y{k}": OFF if v[f"{g}G/"] else v[f"{g}A{k}"] ^ self.inverted
                for g, k in drivers}


@part("367")
class HexDriverSplitTrue(HexDriverSplit):
    """Y = A."""


@part("368")
class HexDriverSplitInverting(HexDriverSplit):
    """Y = not A."""
    inverted = 1


class OctalFlow(Part):
    """Eight drivers, inputs on one side, both enables low: on."""
    pins = "G1/ A1 A2 A3 A4 A5 A6 A7 A8 GND Y8 Y7 Y6 Y5 Y4 Y3 Y2 Y1 G2/ VCC"
    outputs = "Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8"
    three_state, drive = "*", "bus"
    schmitt = {"*": "bus"}
    inverted = 0

    def evaluate(self, v: Levels) -> Levels:
        off = v["G1/"] or v["G2/"]
        return {f"Y{k}": OFF if off else v[f"A{k}"] ^ self.inverted for k in "12345678"}


@part("540")
class OctalFlowInverting(OctalFlow):
    """Y = not A."""
    inverted = 1


@part("541")
class OctalFlowTrue(OctalFlow):
    """Y = A."""
