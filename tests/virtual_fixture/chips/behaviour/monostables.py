"""Monostables: what triggers and ends their pulses.  How long they last: timing.toml, timer.c.

Pinouts and function tables: the makers' data books, from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from .model import Levels, Part, part


class Monostable(Part):
    """A pulse begins where the trigger gate goes high, and ends with its timer or the clear input.

    `halves`: prefix of the pins of each monostable.  A chip comes up at rest; which way it
    does is not said by the books.
    """

    halves: ClassVar[tuple[str, ...]] = ("1", "2")
    clear: ClassVar[str] = "{}CLR/"
    retriggers: ClassVar[bool] = True
    resistor: ClassVar[str] = ""                  # pin of an internal timing resistor

    @classmethod
    def timing_pins(cls) -> list[tuple[str, str]]:
        """(RCX, CX) of each half."""
        return [(f"{h}RCX", f"{h}CX") for h in cls.halves]

    @abstractmethod
    def gate(self, h: str, v: Levels) -> bool:
        """The trigger gate of one half."""

    def power_up(self) -> None:
        self.runs = dict.fromkeys(self.halves, 0)
        self.gates = dict.fromkeys(self.halves, True)      # what is high already is no edge

    def timer_ended(self, timer: int) -> None:
        self.runs[self.halves[timer]] = 0

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for k, h in enumerate(self.halves):
            self._half(k, h, v)
            out[f"{h}Q"], out[f"{h}Q/"] = self.runs[h], 1 - self.runs[h]
        return out

    def _half(self, k: int, h: str, v: Levels) -> None:
        gate = self.gate(h, v)
        fires, self.gates[h] = gate and not self.gates[h], gate
        if self.clear and not v[self.clear.format(h)]:
            self.runs[h] = 0
            self.stops.add(k)
        elif fires and k not in self.silent and (self.retriggers or not self.runs[h]):
            self.runs[h] = 1
            self.starts.add(k)


DUAL = "1A 1B 1CLR/ 1Q/ 2Q 2CX 2RCX GND 2A 2B 2CLR/ 2Q/ 1Q 1CX 1RCX VCC"
DUAL_Q = "1Q 1Q/ 2Q 2Q/"
DUAL_ANALOG = "1CX 1RCX 2CX 2RCX"
DUAL_OR = "1CX 1RCX 1CLR/ 1B 1A 1Q 1Q/ GND 2Q/ 2Q 2A 2B 2CLR/ 2RCX 2CX VCC"


@part("121")
class Single(Monostable):
    """(A1 low or A2 low) and B; not retriggerable, no clear.  RINT is 2 kilohms to RCX."""
    pins = "Q/ NC A1 A2 B Q GND NC RINT CX RCX NC NC VCC"
    outputs, analog = "Q Q/", "RINT CX RCX"
    halves, clear, retriggers, resistor = ("",), "", False, "RINT"
    schmitt: ClassVar[dict[str, str]] = {"B": "trigger"}

    def gate(self, h: str, v: Levels) -> bool:
        return not (v["A1"] and v["A2"]) and v["B"] == 1


@part("122")
class SingleRetriggerable(Monostable):
    """(A1 low or A2 low) and B1 and B2 and CLR/.  RINT is 10 kilohms to RCX."""
    pins = "A1 A2 B1 B2 CLR/ Q/ GND Q RINT NC CX NC RCX VCC"
    outputs, analog = "Q Q/", "RINT CX RCX"
    halves, resistor = ("",), "RINT"

    def gate(self, h: str, v: Levels) -> bool:
        return not (v["A1"] and v["A2"]) and bool(v["B1"] and v["B2"] and v["CLR/"])


class And(Monostable):
    """A low and B high, and CLR/ high: the clear input's rise triggers too."""
    pins, outputs, analog = DUAL, DUAL_Q, DUAL_ANALOG

    def gate(self, h: str, v: Levels) -> bool:
        return not v[f"{h}A"] and bool(v[f"{h}B"] and v[f"{h}CLR/"])


@part("123")
class DualRetriggerable(And):
    """Two retriggerable monostables."""


@part("221")
class Dual(And):
    """Two '121, with clear."""
    retriggers = False
    schmitt: ClassVar[dict[str, str]] = {"?B": "trigger"}


@part("423")
class DualNotByClear(And):
    """The '123 without triggering by the clear input."""

    def gate(self, h: str, v: Levels) -> bool:
        return not v[f"{h}A"] and v[f"{h}B"] == 1


class Or(Monostable):
    """A falls with B low, or B rises with A high; CLR/ does not trigger."""
    pins, outputs, analog = DUAL_OR, DUAL_Q, DUAL_ANALOG

    def gate(self, h: str, v: Levels) -> bool:
        return not v[f"{h}A"] or v[f"{h}B"] == 1


@part("9602")
class DualOr(Or):
    """Two retriggerable monostables of the 9600 series (96L02, 96LS02 likewise)."""


@part("4098")
class CmosDual(Or):
    """CMOS, +TR is B and -TR is A."""


@part("4528")
class CmosDualLater(Or):
    """As the 4098."""


@part("4538")
class CmosDualPrecise(Or):
    """As the 4098, its width R C."""
