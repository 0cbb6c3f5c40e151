"""4000-series data selectors.  The makers' CMOS data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod

from . import selectors
from .model import OFF, Levels, Part, part, xnor

AND_OR = "4B 3A 3B 2A 2B 1A 1B GND KA 1Y 2Y 3Y 4Y KB 4A VCC"


@part("4019")
class QuadAndOr(Part):
    """Y = A KA + B KB."""
    pins, outputs, families = AND_OR, "1Y 2Y 3Y 4Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"{k}Y": v[f"{k}A"] & v["KA"] | v[f"{k}B"] & v["KB"] for k in "1234"}


@part("4519")
class QuadAndOrXnor(Part):
    """Y = A KA + B KB, but with KA and KB high: not (A exclusive-or B)."""
    pins, outputs, families = AND_OR, "1Y 2Y 3Y 4Y", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["KA"] and v["KB"]:
            return {f"{k}Y": xnor(v[f"{k}A"], v[f"{k}B"]) for k in "1234"}
        return {f"{k}Y": v[f"{k}A"] & v["KA"] | v[f"{k}B"] & v["KB"] for k in "1234"}


@part("4512")
class Selector8(Part):
    """Z = the selected input; INH high: low; DIS high: off."""
    pins = "D0 D1 D2 D3 D4 D5 D6 GND D7 INH A B C Z DIS VCC"
    outputs, three_state, families = "Z", "*", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["DIS"]:
            return {"Z": OFF}
        return {"Z": 0 if v["INH"] else v[f"D{v['A'] + 2 * v['B'] + 4 * v['C']}"]}


@part("4539")
class DualSelector4(selectors.DualMultiplexer4):
    """The '153."""
    families = "4000"


@part("40257")
class QuadSelector2(selectors.QuadMultiplexer2ThreeState):
    """The '257."""
    drive, families = "", "4000"


class Switches(Part):
    """Analog switches: `evaluate` says which are closed, and at an output the level of the input that it is joined to.

    Current flows both ways; levels are looked at from the inputs only, as whoever drives an output would have to know.
    """
    families = "4000"

    def through(self, v: Levels, chosen: dict[str, str]) -> Levels:
        """Outputs that are joined to an input, by name; all others are off."""
        self.closed = set(chosen.values())
        return {name: v[chosen[name]] if name in chosen else OFF for name in self.output_names()}


class QuadSwitch(Switches):
    """X and Y joined while C is high."""
    pins = "1X 1Y 2Y 2X 2C 3C GND 3X 3Y 4Y 4X 4C 1C VCC"
    outputs, three_state, switches = "1Y 2Y 3Y 4Y", "*", "1X-1Y, 2X-2Y, 3X-3Y, 4X-4Y"

    def evaluate(self, v: Levels) -> Levels:
        return self.through(v, {f"{k}Y": f"{k}X" for k in "1234" if v[f"{k}C"]})


@part("4016")
class QuadSwitchEarly(QuadSwitch):
    """Some 1.6 times the resistance of the 4066."""
    switch = 1.6


@part("4066")
class QuadSwitchLater(QuadSwitch):
    """The 4016 with less resistance."""
    families = "HC 4000"


@part("4067")
class Switch16(Switches):
    """X joined to the addressed one of sixteen; INH high: to none."""
    pins = "X X7 X6 X5 X4 X3 X2 X1 X0 A B GND D C INH X15 X14 X13 X12 X11 X10 X9 X8 VCC"
    outputs, three_state, switches = "X", "*", " ".join(f"X{k}-X" for k in range(16))

    def evaluate(self, v: Levels) -> Levels:
        address = v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]
        return self.through(v, {} if v["INH"] else {"X": f"X{address}"})


class Multiplexer(Switches):
    """Each common joined to one of its channels; INH high: to none.

    VEE, where the signals may go below ground, is a second ground here.  Pins and tables: TI CD4051B, CD4052B, CD4053B (from memory).
    """
    three_state, supplies = "*", "VEE"

    @abstractmethod
    def addressed(self, v: Levels) -> dict[str, str]:
        """Channel of each common."""

    def evaluate(self, v: Levels) -> Levels:
        return self.through(v, {} if v["INH"] else self.addressed(v))


@part("4051")
class Multiplexer8(Multiplexer):
    """X joined to the addressed one of eight."""
    pins = "X4 X6 X X7 X5 INH VEE GND C B A X3 X0 X1 X2 VCC"
    outputs, switches = "X", " ".join(f"X{k}-X" for k in range(8))

    def addressed(self, v: Levels) -> dict[str, str]:
        return {"X": f"X{v['A'] + 2 * v['B'] + 4 * v['C']}"}


@part("4052")
class DualMultiplexer4(Multiplexer):
    """X and Y joined to the addressed ones of four each."""
    pins = "Y0 Y2 Y Y3 Y1 INH VEE GND B A X3 X0 X X1 X2 VCC"
    outputs, switches = "X Y", " ".join(f"{x}{k}-{x}" for x in "XY" for k in range(4))

    def addressed(self, v: Levels) -> dict[str, str]:
        return {x: f"{x}{v['A'] + 2 * v['B']}" for x in "XY"}


@part("4053")
class TripleMultiplexer2(Multiplexer):
    """X, Y and Z, each joined to one of two by an address of its own: A, B, C."""
    pins = "Y1 Y0 Z1 Z Z0 INH VEE GND C B A X0 X1 X Y VCC"
    outputs, switches = "X Y Z", " ".join(f"{x}{k}-{x}" for x in "XYZ" for k in range(2))

    def addressed(self, v: Levels) -> dict[str, str]:
        return {x: f"{x}{v[address]}" for x, address in zip("XYZ", "ABC", strict=True)}


HC_MULTIPLEXER = 1.4           # 80 to 90 ohm at the rails, 100 in between at 4.5 V (Nexperia 74HC4051, read) to the HC4066's 60


@part("HC4051")
class Multiplexer8Fast(Multiplexer8):
    """In HC."""
    switch, families = HC_MULTIPLEXER, "HC"


@part("HC4052")
class DualMultiplexer4Fast(DualMultiplexer4):
    """In HC."""
    switch, families = HC_MULTIPLEXER, "HC"


@part("HC4053")
class TripleMultiplexer2Fast(TripleMultiplexer2):
    """In HC."""
    switch, families = HC_MULTIPLEXER, "HC"


@part("4529")
class DualSwitch4(Switches):
    """Z joined to the addressed X while STX is high, W to the addressed Y while STY is."""
    pins = "STX X0 X1 X2 X3 A B GND Z W Y3 Y2 Y1 Y0 STY VCC"
    outputs, three_state = "Z W", "*"
    switches = " ".join(f"{x}{k}-{out}" for x, out in ("XZ", "YW") for k in range(4))

    def evaluate(self, v: Levels) -> Levels:
        k = v["A"] + 2 * v["B"]
        return self.through(v, {out: f"{x}{k}" for x, out in ("XZ", "YW") if v[f"ST{x}"]})


@part("4047")
class Multivibrator(Part):
    """An oscillator (RCX in; RX inverted and CX true out, for the resistor and the capacitor) and a flip-flop behind it.

    The oscillator runs while AST is high, AST/ low, or a pulse is under way; Q changes where it rises, and a pulse, begun
    by TR rising with TR/ low or TR/ falling with TR high, ends with Q's fall; RET high keeps it up.  RST clears.
    The gates' order within is RCA's description, not its diagram (from memory).
    """
    pins = "CX RX RCX AST/ AST TR/ GND TR RST Q Q/ RET OSC VCC"
    outputs, families = "CX RX Q Q/ OSC", "4000"

    def power_up(self) -> None:
        self.q = self.random_bit()
        self.runs = self.osc = 0
        self.gate = 1                                    # what is high already is no edge

    def evaluate(self, v: Levels) -> Levels:
        gate = v["TR"] & 1 - v["TR/"]
        astable = v["AST"] | 1 - v["AST/"]
        if gate > self.gate and not astable:
            self.runs = 1
        self.gate = gate
        osc = (astable | self.runs) & v["RCX"]
        if osc > self.osc and not (self.runs and self.q and v["RET"]):
            self.q ^= 1
            self.runs &= self.q
        self.osc = osc
        if v["RST"]:
            self.q = self.runs = 0
        return {"CX": osc, "RX": 1 - osc, "OSC": osc, "Q": self.q, "Q/": 1 - self.q}
