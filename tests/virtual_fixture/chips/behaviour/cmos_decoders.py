"""4000-series decoders, encoders, arithmetic.  The makers' CMOS data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from . import arithmetic, segments
from .model import Levels, Part, part


def number(v: Levels, names: str) -> int:
    """Binary number of inputs, the first name being the lowest bit."""
    return sum(v[n] << k for k, n in enumerate(names))


# ---------------------------------------------------------------------- decoders
@part("4028")
class DecimalDecoder(Part):
    """One of ten outputs high; none for 10..15."""
    pins = "Y4 Y2 Y0 Y7 Y9 Y5 Y6 GND Y8 A D C B Y1 Y3 VCC"
    outputs, families = "Y0 Y1 Y2 Y3 Y4 Y5 Y6 Y7 Y8 Y9", "4000"

    def evaluate(self, v: Levels) -> Levels:
        return {f"Y{k}": int(k == number(v, "ABCD")) for k in range(10)}


@part("4514")
class Decoder16Latch(Part):
    """The address is latched where STR falls; the chosen one of sixteen is high, none while INH is high."""
    pins = "STR A B S7 S6 S5 S4 S3 S1 S2 S0 GND S13 S12 S15 S14 S9 S8 S11 S10 C D INH VCC"
    outputs, families = " ".join(f"S{k}" for k in range(16)), "HC 4000"
    active = 1

    def power_up(self) -> None:
        self.address = self.rng.randrange(16)

    def evaluate(self, v: Levels) -> Levels:
        if v["STR"]:
            self.address = number(v, "ABCD")
        return {f"S{k}": self.active if k == self.address and not v["INH"] else 1 - self.active for k in range(16)}


@part("4515")
class Decoder16LatchLow(Decoder16Latch):
    """The '4514 with its outputs inverted."""
    active = 0


@part("4555")
class DualDecoder4(Part):
    """Each half: one of four high while E/ is low."""
    pins = "1E/ 1A 1B 1Q0 1Q1 1Q2 1Q3 GND 2Q3 2Q2 2Q1 2Q0 2B 2A 2E/ VCC"
    outputs, families = "1Q0 1Q1 1Q2 1Q3 2Q0 2Q1 2Q2 2Q3", "4000"
    active = 1

    def evaluate(self, v: Levels) -> Levels:
        chosen = {h: -1 if v[f"{h}E/"] else v[f"{h}A"] + 2 * v[f"{h}B"] for h in "12"}
        return {f"{h}Q{k}": self.active if k == chosen[h] else 1 - self.active for h in "12" for k in range(4)}


@part("4556")
class DualDecoder4Low(DualDecoder4):
    """The '4555 with its outputs inverted."""
    active = 0


# ---------------------------------------------------------------------- seven segments
class Segments(Part):
    """A latch of four bits before a seven-segment decoder; dark for 10..15."""
    shapes = segments.PLAIN

    def power_up(self) -> None:
        self.digit = self.rng.randrange(16)

    def lit(self) -> Levels:
        shape = self.shapes[self.digit] if self.digit < 10 else ""
        return {n: int(n in shape) for n in "abcdefg"}


@part("4511")
class SegmentsLed(Segments):
    """LE low: open; BL/ low: dark; LT/ low: all lit, first of all.  NPN transistors to VCC."""
    pins = "B C LT/ BL/ LE D A GND e d c b a g f VCC"
    outputs, drive, families = "a b c d e f g", "led", "4000"

    def evaluate(self, v: Levels) -> Levels:
        if not v["LE"]:
            self.digit = number(v, "ABCD")
        if not v["LT/"]:
            return dict.fromkeys("abcdefg", 1)
        return self.lit() if v["BL/"] else dict.fromkeys("abcdefg", 0)


@part("4543")
class SegmentsLcd(Segments):
    """LD high: open; BI high: dark; PH high: all inverted."""
    pins = "LD C B D A PH BI GND a b c d e g f VCC"
    outputs, shapes, families = "a b c d e f g", segments.TAILED, "HC 4000"

    def evaluate(self, v: Levels) -> Levels:
        if v["LD"]:
            self.digit = number(v, "ABCD")
        return {n: (0 if v["BI"] else level) ^ v["PH"] for n, level in self.lit().items()}


# ---------------------------------------------------------------------- encoder
@part("4532")
class PriorityOctal(Part):
    """The highest of eight active-high inputs; GS: there is one; EO: enabled and there is none."""
    pins = "D4 D5 D6 D7 EI Q2 Q1 GND Q0 D0 D1 D2 D3 GS EO VCC"
    outputs, families = "Q0 Q1 Q2 GS EO", "4000"

    def evaluate(self, v: Levels) -> Levels:
        highest = max((k for k in range(8) if v[f"D{k}"]), default=-1) if v["EI"] else -1
        found = int(highest >= 0)
        code = max(highest, 0)
        return {f"Q{k}": code >> k & 1 for k in range(3)} | {"GS": found, "EO": v["EI"] & 1 - found}


# ---------------------------------------------------------------------- arithmetic
@part("4008")
class Adder4(Part):
    """S = A plus B plus CI."""
    pins = "A4 B3 A3 B2 A2 B1 A1 GND CI S1 S2 S3 S4 CO B4 VCC"
    outputs, families = "S1 S2 S3 S4 CO", "4000"

    def evaluate(self, v: Levels) -> Levels:
        total = v["CI"] + sum((v[f"A{k}"] + v[f"B{k}"]) << (k - 1) for k in range(1, 5))
        return {f"S{k}": total >> (k - 1) & 1 for k in range(1, 5)} | {"CO": total >> 4}


@part("4063")
class Comparator4(Part):
    """A against B; equal operands pass the cascading inputs on.

    The table has one of the three cascading inputs high; what others give is drawn by lot.
    """
    pins = "B3 ILT IEQ IGT OGT OEQ OLT GND B0 A0 B1 A1 A2 B2 A3 VCC"
    outputs, families = "OGT OEQ OLT", "4000"

    def power_up(self) -> None:
        self.strange = [self.rng.randrange(8) for _ in range(8)]

    def evaluate(self, v: Levels) -> Levels:
        a, b = (sum(v[f"{x}{k}"] << k for k in range(4)) for x in "AB")
        cascade = number_of(v["IGT"], v["IEQ"], v["ILT"])
        code = 1 if a > b else 4 if a < b else cascade if cascade in (1, 2, 4) else self.strange[cascade]
        return {n: code >> k & 1 for k, n in enumerate(("OGT", "OEQ", "OLT"))}


def number_of(*levels: int) -> int:
    """Binary number of levels, the first being the lowest bit."""
    return sum(level << k for k, level in enumerate(levels))


@part("4582")
class LookAheadMotorola(arithmetic.LookAhead):
    """The '182."""
    families = "4000"


@part("40182")
class LookAheadRca(LookAheadMotorola):
    """The '182."""
