"""Counters.  Pinouts and tables: data books, from memory.

Decade counters come up in one of their ten states: what follows an eleventh state is
not in the function tables.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .model import Levels, Part, part


def bits(count: int, names: str, prefix: str = "Q") -> Levels:
    """Levels of a binary count, the first name being the lowest bit."""
    return {f"{prefix}{n}": count >> k & 1 for k, n in enumerate(names)}


def data(v: Levels) -> int:
    return v["A"] + 2 * v["B"] + 4 * v["C"] + 8 * v["D"]


class Synchronous(Part):
    """Four bits, synchronous load, ENP and ENT, ripple carry."""

    pins = "CLR/ CLK A B C D ENP GND LOAD/ ENT QD QC QB QA RCO VCC"
    outputs = "QA QB QC QD RCO"
    modulus: ClassVar[int] = 16
    clear_at_once: ClassVar[bool] = True

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)

    def evaluate(self, v: Levels) -> Levels:
        edge = self.rose("CLK")
        if not v["CLR/"]:
            if self.clear_at_once or edge:
                self.count = 0
        elif edge and not v["LOAD/"]:
            self.count = data(v)
        elif edge and v["ENP"] and v["ENT"]:
            self.count = (self.count + 1) % self.modulus
        full = self.count == self.modulus - 1
        return bits(self.count, "ABCD") | {"RCO": int(full and v["ENT"])}


@part("160")
class Decade(Synchronous):
    """Decade, asynchronous clear."""
    modulus = 10


@part("161")
class Binary(Synchronous):
    """Binary, asynchronous clear."""


@part("162")
class DecadeSynchronousClear(Synchronous):
    """Decade, synchronous clear."""
    modulus, clear_at_once = 10, False


@part("163")
class BinarySynchronousClear(Synchronous):
    """Binary, synchronous clear."""
    clear_at_once = False


class UpDown(Part):
    """One clock and a direction; asynchronous load; MAXMIN and ripple clock."""

    pins = "B QB QA CTEN/ D/U QC QD GND D C LOAD/ MAXMIN RCO/ CLK A VCC"
    outputs = "QA QB QC QD MAXMIN RCO/"
    modulus: ClassVar[int] = 16

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)

    def evaluate(self, v: Levels) -> Levels:
        if not v["LOAD/"]:
            self.count = data(v)
        elif self.rose("CLK") and not v["CTEN/"]:
            self.count = (self.count + (-1 if v["D/U"] else 1)) % self.modulus
        end = self.count == (0 if v["D/U"] else self.modulus - 1)
        ripple = end and not v["CTEN/"] and not v["CLK"]
        return bits(self.count, "ABCD") | {"MAXMIN": int(end), "RCO/": int(not ripple)}


@part("190")
class UpDownDecade(UpDown):
    """Decade."""
    modulus = 10


@part("191")
class UpDownBinary(UpDown):
    """Binary."""


class TwoClock(Part):
    """A clock for each direction; asynchronous clear (high) and load; carry and borrow."""

    pins = "B QB QA DOWN UP QC QD GND D C LOAD/ CO/ BO/ CLR A VCC"
    outputs = "QA QB QC QD CO/ BO/"
    modulus: ClassVar[int] = 16

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)

    def evaluate(self, v: Levels) -> Levels:
        if v["CLR"]:
            self.count = 0
        elif not v["LOAD/"]:
            self.count = data(v)
        elif self.rose("UP") and v["DOWN"]:
            self.count = (self.count + 1) % self.modulus
        elif self.rose("DOWN") and v["UP"]:
            self.count = (self.count - 1) % self.modulus
        carry = self.count == self.modulus - 1 and not v["UP"]
        borrow = self.count == 0 and not v["DOWN"]
        return bits(self.count, "ABCD") | {"CO/": int(not carry), "BO/": int(not borrow)}


@part("192")
class TwoClockDecade(TwoClock):
    """Decade."""
    modulus = 10


@part("193")
class TwoClockBinary(TwoClock):
    """Binary."""


class Ripple(Part):
    """A first stage (CKA to QA) and a second section (CKB to QB..QD), negative edges."""

    outputs = "QA QB QC QD"
    states: ClassVar[tuple[int, ...]] = tuple(range(8))     # QB is the lowest bit
    nines: ClassVar[bool] = False

    def power_up(self) -> None:
        self.first = self.random_bit()
        self.second = self.rng.randrange(len(self.states))

    def evaluate(self, v: Levels) -> Levels:
        if self.nines and v["R91"] and v["R92"]:
            self.first, self.second = 1, len(self.states) - 1
        elif v["R01"] and v["R02"]:
            self.first, self.second = 0, 0
        else:
            self.first ^= int(self.fell("CKA"))
            self.second = (self.second + int(self.fell("CKB"))) % len(self.states)
        return {"QA": self.first} | bits(self.states[self.second], "BCD")


@part("90")
class RippleDecade(Ripple):
    """Two and five; supply on pins 5 and 10."""
    pins = "CKB R01 R02 NC VCC R91 R92 QC QB GND QD QA NC CKA"
    states, nines = tuple(range(5)), True


@part("92")
class RippleTwelve(Ripple):
    """Two and six (QB QC count three, QD halves); supply on pins 5 and 10."""
    pins = "CKB NC NC NC VCC R01 R02 QD QC GND QB QA NC CKA"
    states = (0, 1, 2, 4, 5, 6)


@part("93")
class RippleBinary(Ripple):
    """Two and eight; supply on pins 5 and 10."""
    pins = "CKB R01 R02 NC VCC NC NC QC QB GND QD QA NC CKA"


@part("290")
class RippleDecadeCorner(RippleDecade):
    """The '90 with corner supply pins."""
    pins = "R91 NC R92 QC QB NC GND QD QA CKA CKB R01 R02 VCC"


@part("293")
class RippleBinaryCorner(Ripple):
    """The '93 with corner supply pins."""
    pins = "NC NC NC QC QB NC GND QD QA CKA CKB R01 R02 VCC"


@part("393")
class DualBinary(Part):
    """Two four-bit ripple counters, negative edge, clear active high."""
    pins = "1A 1CLR 1QA 1QB 1QC 1QD GND 2QD 2QC 2QB 2QA 2CLR 2A VCC"
    outputs = "1QA 1QB 1QC 1QD 2QA 2QB 2QC 2QD"

    def power_up(self) -> None:
        self.counts = {h: self.rng.getrandbits(4) for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            if v[f"{h}CLR"]:
                self.counts[h] = 0
            elif self.fell(f"{h}A"):
                self.counts[h] = (self.counts[h] + 1) % 16
            out |= bits(self.counts[h], "ABCD", f"{h}Q")
        return out


@part("390")
class DualDecade(Part):
    """Two times two and five, negative edges, clear active high."""
    pins = "1CKA 1CLR 1QA 1CKB 1QB 1QC 1QD GND 2QD 2QC 2QB 2CKB 2QA 2CLR 2CKA VCC"
    outputs = "1QA 1QB 1QC 1QD 2QA 2QB 2QC 2QD"

    def power_up(self) -> None:
        self.state = {h: (self.random_bit(), self.rng.randrange(5)) for h in "12"}

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            first, second = self.state[h]
            first ^= int(self.fell(f"{h}CKA"))
            second = (second + int(self.fell(f"{h}CKB"))) % 5
            self.state[h] = (0, 0) if v[f"{h}CLR"] else (first, second)
            out |= {f"{h}QA": self.state[h][0]} | bits(self.state[h][1], "BCD", f"{h}Q")
        return out
