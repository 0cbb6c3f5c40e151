"""4000-series counters that cmos.py has not.  The makers' CMOS data books, from memory; 4526: ON Semiconductor MC14526B
(function table and pin descriptions read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from . import counters
from .cmos import JohnsonCounter, RippleCounter
from .counters import bits
from .model import Levels, Part, part
from .segments import TAILED


# ------------------------------------------------------------------ ripple counters
@part("4020")
class Counter14(RippleCounter):
    """Fourteen stages; Q2 and Q3 have no pins."""
    pins = "Q12 Q13 Q14 Q6 Q5 Q7 Q4 GND Q1 CLK RST Q9 Q8 Q10 Q11 VCC"
    outputs = "Q1 " + " ".join(f"Q{k}" for k in range(4, 15))
    stages, families = 14, "HC HCT 4000"

    def evaluate(self, v: Levels) -> Levels:
        shown = self.output_names()
        return {name: level for name, level in super().evaluate(v).items() if name in shown}


@part("4060")
class Counter14Oscillator(Part):
    """The '4020 (Q1..Q3, Q11 without pins) behind two gates for an oscillator.

    CLK goes through an inverter to CX/ and a second one to CX: an oscillator's resistor and capacitor hang on them.  The
    counter counts where CLK falls.  Reset stops the oscillator: whether with CX/ high or low is the makers' affair, and
    drawn by lot.
    """
    pins = "Q12 Q13 Q14 Q6 Q5 Q7 Q4 GND CX CX/ CLK RST Q9 Q8 Q10 VCC"
    outputs = "Q4 Q5 Q6 Q7 Q8 Q9 Q10 Q12 Q13 Q14 CX CX/"
    families = "HC HCT 4000"

    def power_up(self) -> None:
        self.count = self.rng.getrandbits(14)
        self.stopped = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if v["RST"]:
            self.count = 0
        elif self.fell("CLK"):
            self.count = (self.count + 1) % (1 << 14)
        inverted = self.stopped if v["RST"] else 1 - v["CLK"]
        out = {f"Q{k}": self.count >> (k - 1) & 1 for k in (4, 5, 6, 7, 8, 9, 10, 12, 13, 14)}
        return out | {"CX/": inverted, "CX": 1 - inverted}


# ----------------------------------------------------------------- Johnson counters
@part("4018")
class DivideByN(Part):
    """Five stages, the first from D; inverted outputs; PE loads at once, RST clears first of all.

    Ring patterns that a Johnson counter has not are mended by a gate before the third stage; the books say that they
    are, not when: by lot, stage 3 is not set by a lone high in stage 2.
    """
    pins = "D J1 J2 Q2/ Q1/ Q3/ J3 GND J4 PE Q4/ J5 Q5/ CLK RST VCC"
    outputs, families = "Q1/ Q2/ Q3/ Q4/ Q5/", "4000"

    def power_up(self) -> None:
        self.q = [self.random_bit() for _ in range(5)]
        self.mends = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        if v["RST"]:
            self.q = [0] * 5
        elif v["PE"]:
            self.q = [v[f"J{k}"] for k in range(1, 6)]
        elif self.rose("CLK"):
            lone = self.mends and self.q[:3] == [0, 1, 0]
            third = 0 if lone else self.q[1]
            self.q = [v["D"], self.q[0], third, self.q[2], self.q[3]]
        return {f"Q{k}/": 1 - bit for k, bit in enumerate(self.q, 1)}


class Johnson(JohnsonCounter):
    """The '4017's clock gate: CLK rises with INH low, or INH falls with CLK high."""
    families = "4000"
    modulus: ClassVar[int] = 10

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)

    def advance(self, v: Levels) -> None:
        clocked = self.rose("CLK") and not v["INH"] or self.fell("INH") and v["CLK"]
        if v["RST"]:
            self.count = 0
        elif clocked:
            self.count = (self.count + 1) % self.modulus


@part("4022")
class JohnsonOctal(Johnson):
    """Octal counter with eight decoded outputs; carry high for counts 0..3."""
    pins = "Q1 Q0 Q2 Q5 Q6 NC Q3 GND NC Q7 Q4 CO INH CLK RST VCC"
    outputs = "Q0 Q1 Q2 Q3 Q4 Q5 Q6 Q7 CO"
    modulus = 8

    def evaluate(self, v: Levels) -> Levels:
        self.advance(v)
        return {f"Q{k}": int(k == self.count) for k in range(8)} | {"CO": int(self.count < 4)}


class JohnsonSegments(Johnson):
    """Decade counter with seven segments, high: lit; carry high for counts 0..4."""

    def lit(self, on: bool) -> Levels:
        return {n: int(on and n in TAILED[self.count]) for n in "abcdefg"} | {"CO": int(self.count < 5)}


@part("4026")
class SegmentsEnable(JohnsonSegments):
    """DEI low: dark; DEO follows it; UCS is segment c (low for 2 only) whether dark or not."""
    pins = "CLK INH DEI DEO CO f g GND d a e b c UCS RST VCC"
    outputs = "a b c d e f g CO DEO UCS"

    def evaluate(self, v: Levels) -> Levels:
        self.advance(v)
        return self.lit(v["DEI"] == 1) | {"DEO": v["DEI"], "UCS": int(self.count != 2)}


@part("4033")
class SegmentsRippleBlanking(JohnsonSegments):
    """A zero is dark while RBI is low, and RBO then low; LT high: all lit."""
    pins = "CLK INH RBI RBO CO f g GND d a e b c LT RST VCC"
    outputs = "a b c d e f g CO RBO"

    def evaluate(self, v: Levels) -> Levels:
        self.advance(v)
        blank = self.count == 0 and not v["RBI"]
        out = self.lit(not blank) | {"RBO": int(not blank)}
        return out | (dict.fromkeys("abcdefg", 1) if v["LT"] else {})


# ----------------------------------------------------------------- up and down, presettable
class UpDown(Part):
    """PE loads at once; CI/ low: counts; CO/ low at the end of the way while CI/ is low.

    A decade counter outside its ten states: what follows is not in the books, and drawn by lot.
    """
    outputs, families = "Q1 Q2 Q3 Q4 CO/", "4000"
    modulus: ClassVar[int] = 16

    def power_up(self) -> None:
        self.count = self.rng.randrange(16)
        self.strange = [self.rng.randrange(16) for _ in range(16)]    # what follows 10..15

    def decade(self, v: Levels) -> bool:
        return self.modulus == 10

    def advance(self, v: Levels) -> None:
        step, modulus = (1 if v["U/D"] else -1), 10 if self.decade(v) else 16
        self.count = (self.count + step) % modulus if self.count < modulus else self.strange[self.count]

    def evaluate(self, v: Levels) -> Levels:
        if v.get("RST"):
            self.count = 0
        elif v["PE"]:
            self.count = sum(v[f"P{k}"] << (k - 1) for k in range(1, 5))
        elif self.rose("CLK") and not v["CI/"]:
            self.advance(v)
        end = self.count == ((9 if self.decade(v) else 15) if v["U/D"] else 0)
        return bits(self.count, "1234") | {"CO/": int(not (end and not v["CI/"]))}


@part("4029")
class UpDownEither(UpDown):
    """B/D high: binary, low: decade."""
    pins = "PE Q4 P4 P1 CI/ Q1 CO/ GND B/D U/D Q2 P2 P3 Q3 CLK VCC"

    def decade(self, v: Levels) -> bool:
        return not v["B/D"]


@part("4510")
class UpDownDecade(UpDown):
    """Decade, with reset."""
    pins = "PE Q4 P4 P1 CI/ Q1 CO/ GND RST U/D Q2 P2 P3 Q3 CLK VCC"
    modulus = 10


@part("4516")
class UpDownBinary(UpDown):
    """Binary, with reset."""
    pins = UpDownDecade.pins


class DualUp(Part):
    """Two counters: CLK rises with EN high, or EN falls with CLK low; RST high clears."""
    pins = "1CLK 1EN 1Q1 1Q2 1Q3 1Q4 1RST GND 2CLK 2EN 2Q1 2Q2 2Q3 2Q4 2RST VCC"
    outputs = "1Q1 1Q2 1Q3 1Q4 2Q1 2Q2 2Q3 2Q4"
    modulus: ClassVar[int] = 16

    def power_up(self) -> None:
        self.counts = {h: self.rng.randrange(self.modulus) for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            clocked = (self.rose(f"{h}CLK") and v[f"{h}EN"]
                       or self.fell(f"{h}EN") and not v[f"{h}CLK"])
            if v[f"{h}RST"]:
                self.counts[h] = 0
            elif clocked:
                self.counts[h] = (self.counts[h] + 1) % self.modulus
            out |= bits(self.counts[h], "1234", f"{h}Q")
        return out


@part("4518")
class DualUpDecade(DualUp):
    """Decade."""
    modulus, families = 10, "HC 4000"


@part("4520")
class DualUpBinary(DualUp):
    """Binary."""
    families = "HC HCT 4000"


# ----------------------------------------------------------------- down, presettable
class Down4(Part):
    """Counts down where CLK rises with INH low, or INH falls with CLK high; PE loads at once.

    ZERO is high at count zero with CF high and PE low.  With PE high in reset it is high (Motorola's table) or low
    (Philips, from memory): by lot.
    """
    pins = "Q3 P3 PE INH P0 CLK Q0 GND Q1 RST P1 ZERO CF P2 Q2 VCC"
    outputs, families = "Q0 Q1 Q2 Q3 ZERO", "4000"
    top: ClassVar[int] = 15

    def power_up(self) -> None:
        self.count = self.rng.randrange(16)
        self.preset_zero = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        clocked = self.rose("CLK") and not v["INH"] or self.fell("INH") and v["CLK"]
        if v["RST"]:
            self.count = 0
        elif v["PE"]:
            self.count = sum(v[f"P{k}"] << k for k in range(4))
        elif clocked:
            self.count = self.count - 1 if self.count else self.top
        zero = (self.preset_zero & v["RST"] if v["PE"] else v["CF"]) & int(self.count == 0)
        return bits(self.count, "0123") | {"ZERO": zero}


@part("4522")
class Down4Decade(Down4):
    """From 0 to 9; numbers above 9 are counted down too."""
    top = 9


@part("4526")
class Down4Binary(Down4):
    """From 0 to 15."""


class Down8(Part):
    """CLR/ low: all the way up, first of all; APE/ low loads at once, SPE/ low by the clock; CI/ low: counts.

    ZD/ is low at zero while CI/ is low.
    """
    pins = "CLK CLR/ CI/ J0 J1 J2 J3 GND APE/ J4 J5 J6 J7 ZD/ SPE/ VCC"
    outputs = "ZD/"

    def power_up(self) -> None:
        self.count = self.random_count()

    def random_count(self) -> int:
        return self.rng.randrange(256)

    top: ClassVar[int] = 255

    def below(self, count: int) -> int:
        """The state after this one."""
        return (count - 1) % 256

    def evaluate(self, v: Levels) -> Levels:
        loads = sum(v[f"J{k}"] << k for k in range(8))
        if not v["CLR/"]:
            self.count = self.top
        elif not v["APE/"]:
            self.count = loads
        elif self.rose("CLK") and not v["SPE/"]:
            self.count = loads
        elif self.rose("CLK") and not v["CI/"]:
            self.count = self.below(self.count)
        return {"ZD/": int(not (self.count == 0 and not v["CI/"]))}


@part("40102")
class Down8Decade(Down8):
    """Two decades; after a digit above 9 comes that digit less one (by the books' counting, not said by them)."""
    top, families = 0x99, "4000"

    def random_count(self) -> int:
        return self.rng.randrange(10) * 16 + self.rng.randrange(10)

    def below(self, count: int) -> int:
        tens, units = divmod(count, 16)
        if units:
            return count - 1
        return ((tens - 1) if tens else 9) * 16 + 9


@part("40103")
class Down8Binary(Down8):
    """Eight bits."""
    families = "HC HCT 4000"


# ----------------------------------------------------------------- those of the TTL series
@part("40160")
class Decade(counters.Decade):
    """The '160."""
    families = "4000"


@part("40161")
class Binary(counters.Binary):
    """The '161."""
    families = "4000"


@part("40162")
class DecadeSynchronousClear(counters.DecadeSynchronousClear):
    """The '162."""
    families = "4000"


@part("40163")
class BinarySynchronousClear(counters.BinarySynchronousClear):
    """The '163."""
    families = "4000"


@part("40192")
class TwoClockDecade(counters.TwoClockDecade):
    """The '192."""
    families = "4000"


@part("40193")
class TwoClockBinary(counters.TwoClockBinary):
    """The '193."""
    families = "4000"
