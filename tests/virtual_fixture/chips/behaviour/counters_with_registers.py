"""Counters with an output register and a selector between the two.

Pinouts: the makers' data books, from memory; function: ST M54/74HC690..693 and HC696..699 (read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import ClassVar

from .counters import bits, data
from .model import OFF, Levels, Part, part


class Registered(Part):
    """Counter, register that takes its count at the edge of RCK, three-state outputs (G/ low: on).

    R/C low shows the counter, high the register.
    """

    outputs = "QA QB QC QD RCO"
    three_state, drive = "QA QB QC QD", {"Q?": "latch3"}
    modulus: ClassVar[int] = 16
    clear_at_once: ClassVar[bool] = True

    def power_up(self) -> None:
        self.count = self.rng.randrange(self.modulus)
        self.kept = self.rng.randrange(self.modulus)

    def step(self, v: Levels) -> int:
        """Steps of the count at an edge of CCK."""
        return v["ENP"] & v["ENT"]

    def register_clears(self, v: Levels) -> bool:
        return not v["RCLR/"]

    def carry(self, v: Levels) -> Levels:
        return {"RCO": int(self.count == self.modulus - 1 and v["ENT"])}

    def evaluate(self, v: Levels) -> Levels:
        before, edge, takes = self.count, self.rose("CCK"), self.rose("RCK")
        if not v["CCLR/"]:
            if edge or self.clear_at_once:
                self.count = 0
        elif edge and not v["LOAD/"]:
            self.count = data(v)
        elif edge and (step := self.step(v)):            # else a count beyond nine stays as it is
            self.count = (self.count + step) % self.modulus
        if self.register_clears(v):
            if takes or self.clear_at_once:
                self.kept = 0
        elif takes:               # the count before an edge of CCK that comes at the same time
            self.kept = before
        shown = bits(self.kept if v["R/C"] else self.count, "ABCD")
        return (dict.fromkeys(shown, OFF) if v["G/"] else shown) | self.carry(v)


class RegisteredUp(Registered):
    """Counts up; the register has its own clear."""

    pins = "CCLR/ CCK A B C D ENP RCLR/ RCK GND R/C G/ LOAD/ ENT QD QC QB QA RCO VCC"


@part("690")
class RegisteredDecade(RegisteredUp):
    """Decade, clears at once."""
    modulus, families = 10, "LS HC"


@part("691")
class RegisteredBinary(RegisteredUp):
    """Binary, clears at once."""
    families = "LS HC"


@part("692")
class RegisteredDecadeByClock(RegisteredUp):
    """Decade, clears by the clocks."""
    modulus, clear_at_once, families = 10, False, "LS HC"


@part("693")
class RegisteredBinaryByClock(RegisteredUp):
    """Binary, clears by the clocks."""
    clear_at_once, families = False, "LS HC"


class RegisteredUpDown(Registered):
    """U/D high counts up; enables and carry are active low; the register has no clear."""

    pins = "U/D CCK A B C D ENP/ CCLR/ RCK GND R/C G/ LOAD/ ENT/ QD QC QB QA RCO/ VCC"
    outputs = "QA QB QC QD RCO/"

    def step(self, v: Levels) -> int:
        return 0 if v["ENP/"] or v["ENT/"] else 1 if v["U/D"] else -1

    def register_clears(self, v: Levels) -> bool:
        return False

    def carry(self, v: Levels) -> Levels:
        last = self.modulus - 1 if v["U/D"] else 0
        return {"RCO/": int(self.count != last or v["ENT/"])}


@part("696")
class RegisteredUpDownDecade(RegisteredUpDown):
    """Decade, clears at once."""
    modulus, families = 10, "LS HC"


@part("697")
class RegisteredUpDownBinary(RegisteredUpDown):
    """Binary, clears at once."""
    families = "LS HC"


@part("698")
class RegisteredUpDownDecadeByClock(RegisteredUpDown):
    """Decade, clears by the clock."""
    modulus, clear_at_once, families = 10, False, "LS HC"


@part("699")
class RegisteredUpDownBinaryByClock(RegisteredUpDown):
    """Binary, clears by the clock."""
    clear_at_once, families = False, "LS HC"
