"""More counters.  Pinouts and tables: the makers' data books, from memory unless noted.

Decade counters come up in one of their ten states, as in counters.py.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .counters import bits, data
from .model import OFF, Levels, Part, part


class UpDownSynchronous(Part):
    """All by the positive edge: LOAD/, then ENP/ and ENT/ low; U/D high counts up; RCO/ low at the end while ENT/ is low."""

    pins = "U/D CLK A B C D ENP/ GND LOAD/ ENT/ QD QC QB QA RCO/ VCC"
    outputs = "QA QB QC QD RCO/"
    modulus: ClassVar[int] = 16

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)

    def clocked(self, v: Levels) -> None:
        """What the positive edge does."""
        if not v["LOAD/"]:
            self.count = data(v)
        elif not v["ENP/"] and not v["ENT/"]:
            self.count = (self.count + (1 if v["U/D"] else -1)) % self.modulus

    def ends(self, v: Levels) -> bool:
        return not v["ENT/"] and self.count == (self.modulus - 1 if v["U/D"] else 0)

    def evaluate(self, v: Levels) -> Levels:
        if self.rose("CLK"):
            self.clocked(v)
        return bits(self.count, "ABCD") | {"RCO/": int(not self.ends(v))}


@part("168")
class UpDown168(UpDownSynchronous):
    """Decade."""
    families, modulus = "S LS AS ALS F", 10


@part("169")
class UpDown169(UpDownSynchronous):
    """Binary."""
    families = "S LS AS ALS F AC"


@part("668")
class UpDown668(UpDownSynchronous):
    """Decade: the '168 of another design."""
    families, modulus = "LS", 10


@part("669")
class UpDown669(UpDownSynchronous):
    """Binary: the '169 of another design."""
    families = "LS"


class ThreeStateUpDown(UpDownSynchronous):
    """Clears at once (ACLR/) and by the clock (SCLR/), clocked carry.  TI SDAS229A, Motorola LS569A and F568 (read).

    CCO/ is low with CLK while the counter is enabled at its end.  The F sheets add: not while it loads or clears; the others
    leave that open: drawn.
    """
    pins = ("U/D CLK A B C D ENP/ ACLR/ SCLR/ GND "
            "LOAD/ ENT/ QD QC QB QA OE/ CCO/ RCO/ VCC")
    outputs = "QA QB QC QD CCO/ RCO/"
    three_state = "QA QB QC QD"
    drive: ClassVar = dict.fromkeys(three_state.split(), "latch3")
    loading_stops_carry: ClassVar[bool | None] = None

    def power_up(self) -> None:
        super().power_up()
        lot = self.random_bit()
        self.quiet = lot if self.loading_stops_carry is None else int(self.loading_stops_carry)

    def clocked(self, v: Levels) -> None:
        if not v["SCLR/"]:
            self.count = 0
        else:
            super().clocked(v)

    def evaluate(self, v: Levels) -> Levels:
        if not v["ACLR/"]:
            self.count = 0
        elif self.rose("CLK"):
            self.clocked(v)
        busy = self.quiet and not (v["SCLR/"] and v["LOAD/"])
        carry = self.ends(v) and not v["ENP/"] and not v["CLK"] and not busy
        out = {n: OFF if v["OE/"] else level for n, level in bits(self.count, "ABCD").items()}
        return out | {"RCO/": int(not self.ends(v)), "CCO/": int(not carry)}


@part("568")
class UpDown568(ThreeStateUpDown):
    """Decade."""
    families, modulus = "LS ALS", 10


@part("569")
class UpDown569(ThreeStateUpDown):
    """Binary."""
    families = "LS ALS"


@part("F568")
class UpDownF568(ThreeStateUpDown):
    """Decade; clocked carry high while it loads or clears."""
    families, modulus, loading_stops_carry = "F", 10, True


@part("F569")
class UpDownF569(ThreeStateUpDown):
    """Binary; clocked carry high while it loads or clears."""
    families, loading_stops_carry = "F", True


class Presettable(Part):
    """Ripple counter of two sections (CLK1 to QA, CLK2 to QB..QD), negative edges; LOAD/ and CLR/ at once, clear rules."""

    pins = "LOAD/ QC C A QA CLK2 GND CLK1 QB B D QD CLR/ VCC"
    outputs = "QA QB QC QD"
    decade: ClassVar[bool] = False

    def power_up(self) -> None:
        self.first = self.random_bit()
        self.rest = self.rng.randrange(5 if self.decade else 8)

    def next(self) -> int:
        """Of QB..QD.  In a decade QB toggles unless QD is high, QC with QB, QD is set after three, else reset."""
        if not self.decade:
            return (self.rest + 1) % 8
        return 0 if self.rest == 4 else self.rest + 1 if self.rest < 4 else self.rest & 2

    def evaluate(self, v: Levels) -> Levels:
        if not v["CLR/"]:
            self.first, self.rest = 0, 0
        elif not v["LOAD/"]:
            self.first, self.rest = v["A"], data(v) >> 1
        else:
            self.first ^= int(self.fell("CLK1"))
            if self.fell("CLK2"):
                self.rest = self.next()
        return {"QA": self.first} | bits(self.rest, "BCD")


@part("176")
class Presettable176(Presettable):
    """Decade."""
    families, decade = "TTL", True


@part("177")
class Presettable177(Presettable):
    """Binary."""
    families = "TTL"


@part("196")
class Presettable196(Presettable):
    """Decade."""
    families, decade = "TTL S LS", True


@part("197")
class Presettable197(Presettable):
    """Binary."""
    families = "TTL S LS"


@part("490")
class DualDecadeNine(Part):
    """Two decades, negative edge, clear and set to nine active high; what both together do is in no table: drawn."""
    families = "TTL LS"
    loads: ClassVar = {"?CLK": 2}
    pins = "1CLK 1CLR 1QA 1SET9 1QB 1QC 1QD GND 2QD 2QC 2QB 2SET9 2QA 2CLR 2CLK VCC"
    outputs = "1QA 1QB 1QC 1QD 2QA 2QB 2QC 2QD"

    def power_up(self) -> None:
        self.counts = {h: self.rng.randrange(10) for h in "12"}
        self.nine_wins = self.random_bit()

    def evaluate(self, v: Levels) -> Levels:
        out: Levels = {}
        for h in "12":
            clear, nine = v[f"{h}CLR"], v[f"{h}SET9"]
            if clear or nine:
                self.counts[h] = 9 if nine and (self.nine_wins or not clear) else 0
            elif self.fell(f"{h}CLK"):
                self.counts[h] = (self.counts[h] + 1) % 10
            out |= bits(self.counts[h], "ABCD", f"{h}Q")
        return out
