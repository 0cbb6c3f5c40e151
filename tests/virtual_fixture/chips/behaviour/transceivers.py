"""Bus transceivers: 242, 243, 245, 543, 544, 620..654, 861..864.

Pinouts and function tables: TI's LS, ALS/AS and HC books, from memory; F543, F544, F861, F864: Fairchild's and Philips'
FAST books, from memory; F862 and the F863's enables: Philips 74F862/863, 24 March 2000 (read).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from .model import OFF, Levels, Part, part

LEVEL = {"AB": "BA", "BA": "AB"}
OCTAL_A, OCTAL_B = "A1 A2 A3 A4 A5 A6 A7 A8", "B1 B2 B3 B4 B5 B6 B7 B8"


def both(lines: str) -> str:
    """Names of bidirectional pins as `outputs` wants them."""
    return " ".join(f"<>{side}{k}" for side in "AB" for k in lines)


class Transceiver(Part):
    """Lines A and B, each way with its own enable.  With both on the buses hold each other: a level that changes
    goes across, and what goes across comes back."""

    lines: ClassVar[str] = "12345678"
    three_state, drive = "*", {"A?": "bus_a", "B?": "bus"}
    schmitt = {"A?": "bus", "B?": "bus"}
    inverted: ClassVar[dict[str, int]] = {"AB": 0, "BA": 0}

    @abstractmethod
    def ways(self, v: Levels) -> str:
        """The directions that are on, of "AB BA": from the first letter's bus to the second's."""

    def level(self, way: str, k: str, v: Levels) -> int:
        """What goes one way on line k."""
        return v[f"{way[0]}{k}"] ^ self.inverted[way]

    def held(self, k: str, v: Levels) -> Levels:
        """Both ways on: the line of the bus that moved last says both levels."""
        moved = v[f"B{k}"] != self.before.get(f"B{k}") and v[f"A{k}"] == self.before.get(f"A{k}")
        way = "BA" if moved else "AB"
        there = self.level(way, k, v)
        back = self.level(LEVEL[way], k, v | {f"{way[1]}{k}": there})
        return {f"{way[1]}{k}": there, f"{way[0]}{k}": back}

    def evaluate(self, v: Levels) -> Levels:
        ways = self.ways(v).split()
        out = {f"{side}{k}": OFF for side in "AB" for k in self.lines}
        for k in self.lines:
            if len(ways) == 2:
                out |= self.held(k, v)
            for way in ways if len(ways) == 1 else ():
                out[f"{way[1]}{k}"] = self.level(way, k, v)
        return out


class OwnEnables(Transceiver):
    """GAB (high: A to B) and GBA/ (low: B to A)."""

    pins = f"GAB {OCTAL_A} GND B8 B7 B6 B5 B4 B3 B2 B1 GBA/ VCC"
    outputs = both("12345678")

    def ways(self, v: Levels) -> str:
        return " ".join(w for w, on in (("AB", v["GAB"]), ("BA", not v["GBA/"])) if on)


class Directed(Transceiver):
    """G/ low: DIR high drives B from A, low A from B."""

    pins = f"DIR {OCTAL_A} GND B8 B7 B6 B5 B4 B3 B2 B1 G/ VCC"
    outputs = both("12345678")

    def ways(self, v: Levels) -> str:
        return "" if v["G/"] else "AB" if v["DIR"] else "BA"


BOTH_INVERTED, A_TO_B_INVERTED = {"AB": 1, "BA": 1}, {"AB": 1, "BA": 0}
FIVE, FOUR = "LS AS ALS HC HCT", "LS AS ALS F"


@part("243")
class QuadTransceiver(Transceiver):
    """GAB/ low drives B from A, GBA high A from B."""
    pins = "GAB/ NC A1 A2 A3 A4 GND B4 B3 B2 B1 NC GBA VCC"
    outputs, lines, families = both("1234"), "1234", "LS AS ALS F HC HCT"

    def ways(self, v: Levels) -> str:
        return " ".join(w for w, on in (("AB", not v["GAB/"]), ("BA", v["GBA"])) if on)


@part("242")
class QuadTransceiverInverting(QuadTransceiver):
    """The '243, inverting both ways."""
    inverted = BOTH_INVERTED


@part("623")
class OctalOwn(OwnEnables):
    """True both ways."""
    families = "LS AS ALS F HC HCT"


@part("620")
class OctalOwnInverting(OctalOwn):
    """Inverting both ways."""
    inverted = BOTH_INVERTED


@part("621")
class OctalOwnOpen(OwnEnables):
    """True, open collectors."""
    three_state, open_collector, families = "", f"{OCTAL_A} {OCTAL_B}", FOUR


@part("622")
class OctalOwnOpenInverting(OctalOwnOpen):
    """Inverting, open collectors."""
    inverted = BOTH_INVERTED


@part("639")
class OctalDirectedHalfOpen(Directed):
    """True, open collectors on A, three-state on B."""
    three_state, open_collector, families = OCTAL_B, OCTAL_A, "LS AS ALS"


@part("638")
class OctalDirectedHalfOpenInverting(OctalDirectedHalfOpen):
    """Inverting, open collectors on A, three-state on B."""
    inverted = BOTH_INVERTED


@part("245")
class OctalTransceiver(Directed):
    """True."""


@part("645")
class OctalDirected(Directed):
    """True."""
    families = FIVE


@part("640")
class OctalDirectedInverting(Directed):
    """Inverting both ways."""
    inverted, families = BOTH_INVERTED, f"{FIVE} F"


@part("643")
class OctalDirectedMixed(OctalDirected):
    """Inverting from A to B, true from B to A."""
    inverted = A_TO_B_INVERTED


@part("641")
class OctalDirectedOpen(Directed):
    """True, open collectors."""
    three_state, open_collector, families = "", f"{OCTAL_A} {OCTAL_B}", FOUR


@part("642")
class OctalDirectedOpenInverting(OctalDirectedOpen):
    """Inverting, open collectors."""
    inverted = BOTH_INVERTED


@part("644")
class OctalDirectedOpenMixed(OctalDirectedOpen):
    """Inverting from A to B, true from B to A, open collectors."""
    inverted, families = A_TO_B_INVERTED, "LS AS ALS"


class Registered(Transceiver):
    """A register for each bus, which its own clock's rising edge fills, whatever drives the bus; SAB and SBA high
    send what is stored, low what is there now."""

    outputs = both("12345678")

    def power_up(self) -> None:
        self.stored = {f"{side}{k}": self.random_bit() for side in "AB" for k in self.lines}

    def level(self, way: str, k: str, v: Levels) -> int:
        source = self.stored if v[f"S{way}"] else v
        return source[f"{way[0]}{k}"] ^ self.inverted[way]

    def held(self, k: str, v: Levels) -> Levels:
        if v["SAB"] or v["SBA"]:                  # no loop: one way at least does not look
            first, second = ("AB", "BA") if v["SAB"] else ("BA", "AB")
            there = {f"{first[1]}{k}": self.level(first, k, v)}
            return there | {f"{second[1]}{k}": self.level(second, k, v | there)}
        return super().held(k, v)

    def evaluate(self, v: Levels) -> Levels:
        for side, clock in (("A", "CAB"), ("B", "CBA")):
            if self.rose(clock):
                self.stored |= {f"{side}{k}": v[f"{side}{k}"] for k in self.lines}
        return super().evaluate(v)


class RegisteredDirected(Registered, Directed):
    """G/ low: DIR high drives B, low A."""

    pins = f"CAB SAB DIR {OCTAL_A} GND B8 B7 B6 B5 B4 B3 B2 B1 G/ SBA CBA VCC"


class RegisteredOwn(Registered, OwnEnables):
    """GAB high drives B, GBA/ low A."""

    pins = f"CAB SAB GAB {OCTAL_A} GND B8 B7 B6 B5 B4 B3 B2 B1 GBA/ SBA CBA VCC"


@part("646")
class RegisteredTrue(RegisteredDirected):
    """True."""
    families = "LS AS ALS F HC HCT"


@part("648")
class RegisteredInverting(RegisteredTrue):
    """Inverting."""
    inverted = BOTH_INVERTED


@part("647")
class RegisteredOpen(RegisteredDirected):
    """True, open collectors."""
    three_state, open_collector, families = "", f"{OCTAL_A} {OCTAL_B}", "LS ALS"


@part("649")
class RegisteredOpenInverting(RegisteredOpen):
    """Inverting, open collectors."""
    inverted = BOTH_INVERTED


@part("652")
class RegisteredOwnTrue(RegisteredOwn):
    """True."""
    families = "LS AS ALS F HC HCT"


@part("651")
class RegisteredOwnInverting(RegisteredOwnTrue):
    """Inverting."""
    inverted = BOTH_INVERTED


@part("654")
class RegisteredOwnHalfOpen(RegisteredOwn):
    """True, open collectors on A, three-state on B."""
    three_state, open_collector, families = OCTAL_B, OCTAL_A, "LS ALS"


@part("653")
class RegisteredOwnHalfOpenInverting(RegisteredOwnHalfOpen):
    """Inverting, open collectors on A, three-state on B."""
    inverted = BOTH_INVERTED


@part("543")
class Latched(Transceiver):
    """A latch each way, transparent while its LE/ and E/ are low; its outputs are on while E/ and OE/ are low."""
    pins = "LEBA/ OEBA/ A0 A1 A2 A3 A4 A5 A6 A7 EAB/ GND OEAB/ LEAB/ B7 B6 B5 B4 B3 B2 B1 B0 EBA/ VCC"
    outputs, lines, families = both("01234567"), "01234567", "F"

    def power_up(self) -> None:
        self.stored = {w: {k: self.random_bit() for k in self.lines} for w in ("AB", "BA")}

    def ways(self, v: Levels) -> str:
        return " ".join(w for w in ("AB", "BA") if not v[f"E{w}/"] and not v[f"OE{w}/"])

    def open_way(self, way: str, v: Levels) -> bool:
        """The latch is transparent."""
        return not v[f"E{way}/"] and not v[f"LE{way}/"]

    def level(self, way: str, k: str, v: Levels) -> int:
        here = v[f"{way[0]}{k}"] if self.open_way(way, v) else self.stored[way][k]
        return here ^ self.inverted[way]

    def held(self, k: str, v: Levels) -> Levels:
        if self.open_way("AB", v) and self.open_way("BA", v):
            return super().held(k, v)
        first, second = ("BA", "AB") if self.open_way("AB", v) else ("AB", "BA")     # the closed one first
        there = {f"{first[1]}{k}": self.level(first, k, v)}
        return there | {f"{second[1]}{k}": self.level(second, k, v | there)}

    def evaluate(self, v: Levels) -> Levels:
        out = super().evaluate(v)
        seen = v | {name: level for name, level in out.items() if level != OFF}
        for way in ("AB", "BA"):
            if self.open_way(way, v):
                self.stored[way] = {k: seen[f"{way[0]}{k}"] for k in self.lines}
        return out


@part("544")
class LatchedInverting(Latched):
    """The '543, inverting both ways."""
    inverted = BOTH_INVERTED


class Wide(Transceiver):
    """Low enables: OEAB/ drives B from A, OEBA/ A from B.  Equal outputs on both sides."""

    drive, schmitt, families = {"*": "bus"}, {}, "F"

    def ways(self, v: Levels) -> str:
        return " ".join(w for w in ("AB", "BA") if not any(v[n] for n in v if n.startswith(f"OE{w}")))


@part("861")
class TenTransceivers(Wide):
    """Ten lines, true."""
    pins = "OEBA/ A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 GND OEAB/ B9 B8 B7 B6 B5 B4 B3 B2 B1 B0 VCC"
    outputs, lines = both("0123456789"), "0123456789"


@part("862")
class TenTransceiversInverting(TenTransceivers):
    """Ten lines, inverting."""
    inverted = BOTH_INVERTED


@part("863")
class NineTransceivers(Wide):
    """Nine lines, true; two enables each way, both low: on."""
    pins = "OEBA0/ A0 A1 A2 A3 A4 A5 A6 A7 A8 OEBA1/ GND OEAB0/ OEAB1/ B8 B7 B6 B5 B4 B3 B2 B1 B0 VCC"
    outputs, lines = both("012345678"), "012345678"


@part("864")
class NineTransceiversInverting(NineTransceivers):
    """Nine lines, inverting."""
    inverted = BOTH_INVERTED
