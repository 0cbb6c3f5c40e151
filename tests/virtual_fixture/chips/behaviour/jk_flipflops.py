"""More JK flip-flops: with gated inputs, common clock, data lockout, rising edge.

Pinouts and function tables: TI's and National's TTL data books, from memory.  TTL, L and H parts of the '71, '72, '78 are
master-slave: while the clock is high the master follows what the slave lets through, and keeps it (a one that was there
for a moment is caught); the slave takes it at the falling edge.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from abc import abstractmethod
from typing import ClassVar

from .flipflops import jk
from .model import Levels, Part, part

FALL, RISE, MASTER, LOCKOUT = "fall", "rise", "master", "lockout"


class Flipflops(Part):
    """One or more JK flip-flops.  Names with "{}" have one pin for each of `halves`; "" is no pin."""

    halves: ClassVar[str] = "12"
    clock: ClassVar[str] = "{}CLK"
    preset: ClassVar[str] = "{}PRE/"
    clear: ClassVar[str] = "{}CLR/"
    action: ClassVar[str] = FALL
    both_held: ClassVar[tuple[int, int]] = (1, 1)      # Q, Q/ while preset and clear are held
    complements: ClassVar[bool] = True
    outputs = "1Q 1Q/ 2Q 2Q/"

    def power_up(self) -> None:
        self.q = {h: self.random_bit() for h in self.names()}
        self.master = dict(self.q)
        self.tie = self.random_bit()                   # who wins when both are let go at once

    def names(self) -> list[str]:
        return list(self.halves) or [""]

    @abstractmethod
    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        """J and K behind their gates."""

    def forced(self, half: str, v: Levels) -> tuple[bool, bool]:
        """Preset, clear act now."""
        preset, clear = (bool(name) and not v[name.format(half)] for name in (self.preset, self.clear))
        return preset, clear

    def _clocked(self, half: str, v: Levels) -> None:
        name, q = self.clock.format(half), self.q[half]
        j, k = self.inputs(half, v)
        if self.action == RISE and self.rose(name) or self.action == FALL and self.fell(name):
            self.q[half] = jk(q, j, k)
        elif self.action in (MASTER, LOCKOUT) and self.fell(name):
            self.q[half] = self.master[half]
        elif self.action == LOCKOUT and self.rose(name):
            self.master[half] = jk(q, j, k)
        elif self.action == MASTER and v[name]:
            if self.rose(name):
                self.master[half] = q
            if j and not q or k and q:
                self.master[half] = 1 - q

    def evaluate(self, v: Levels) -> Levels:
        out = {}
        for h in self.names():
            self._clocked(h, v)
            preset, clear = self.forced(h, v)
            if preset or clear:
                self.q[h] = self.master[h] = self.tie if preset and clear else int(preset)
            q, q_not = self.both_held if preset and clear else (self.q[h], 1 - self.q[h])
            out[f"{h}Q"] = q
            if self.complements:
                out[f"{h}Q/"] = q_not
        return out


class Single(Flipflops):
    """One flip-flop with gated inputs."""

    halves, outputs = "", "Q Q/"


class AndGated(Single):
    """J = J1 J2 J3, K = K1 K2 K3; preset and clear."""

    pins = "NC CLR/ J1 J2 J3 Q/ GND Q K1 K2 K3 CLK PRE/ VCC"
    shared = "J1 J2 J3, K1 K2 K3"

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        return v["J1"] & v["J2"] & v["J3"], v["K1"] & v["K2"] & v["K3"]


class AndOrGated(Single):
    """J = J1A J1B + J2A J2B, K likewise; preset."""

    pins = "J1A J1B J2A J2B PRE/ Q GND Q/ K1A K1B K2A K2B CLK VCC"
    shared = "J1A J1B, J2A J2B, K1A K1B, K2A K2B"
    clear = ""

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        j, k = (v[f"{x}1A"] & v[f"{x}1B"] | v[f"{x}2A"] & v[f"{x}2B"] for x in "JK")
        return j, k


class Dual(Flipflops):
    """Two with one J and one K each."""

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        return v[f"{half}J"], v[f"{half}K"]


@part("70")
class RisingGated(Single):
    """J = J1 J2 not J/, K = K1 K2 not K/, rising edge; preset and clear act only while the clock is low."""
    pins = "NC CLR/ J1 J2 J/ Q/ GND Q K/ K1 K2 CLK PRE/ VCC"
    shared, action, families = "J1 J2, K1 K2", RISE, "TTL"
    both_held = 0, 0

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        return v["J1"] & v["J2"] & ~v["J/"] & 1, v["K1"] & v["K2"] & ~v["K/"] & 1

    def forced(self, half: str, v: Levels) -> tuple[bool, bool]:
        return (False, False) if v["CLK"] else super().forced(half, v)


@part("71")
class MasterSlaveAndOr(AndOrGated):
    """H71."""
    action, families = MASTER, "H"


@part("L71")
class MasterSlaveRS(AndGated):
    """R-S: S = S1 S2 S3, R = R1 R2 R3.  Both high leave the state after the pulse open: drawn by lot."""
    pins = "NC CLR/ S1 S2 S3 Q/ GND Q R1 R2 R3 CLK PRE/ VCC"
    shared, action, families = "S1 S2 S3, R1 R2 R3", MASTER, "L"

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        s, r = v["S1"] & v["S2"] & v["S3"], v["R1"] & v["R2"] & v["R3"]
        return (self.tie, 1 - self.tie) if s and r else (s, r)

    def _clocked(self, half: str, v: Levels) -> None:
        """An R-S master is not held back by the slave: it takes whatever is there."""
        if self.fell("CLK"):
            self.q[half] = self.master[half]
        elif v["CLK"]:
            s, r = self.inputs(half, v)
            self.master[half] = 1 if s else 0 if r else self.master[half]


@part("72")
class MasterSlaveAnd(AndGated):
    """7472, H72, L72."""
    action, families = MASTER, "TTL H L"


@part("101")
class FallingAndOr(AndOrGated):
    """The H71's pins, falling edge."""
    families = "H"


@part("102")
class FallingAnd(AndGated):
    """The H72's pins, falling edge."""
    families = "H"


@part("110")
class LockoutAnd(AndGated):
    """The 7472's pins; J and K are read at the rising edge alone, the outputs change at the falling one."""
    action, families = LOCKOUT, "TTL"


class CommonMiddle(Dual):
    """Common clock and clear, supply on pins 4 and 11."""

    pins = "CLK 1PRE/ 1J VCC CLR/ 2PRE/ 2K 2Q 2Q/ 2J GND 1Q/ 1Q 1K"
    clock, clear = "CLK", "CLR/"


@part("78")
class CommonFalling(CommonMiddle):
    """LS78: falling edge."""
    families = "LS"


@part("L78")
class CommonMaster(CommonMiddle):
    """L78: master-slave."""
    action, families = MASTER, "L"


@part("H78")
class CommonMasterCorner(Dual):
    """H78: master-slave, corner supply: the H108's pins."""
    pins = "1K 1Q 1Q/ 1J 2Q/ 2Q GND 2K CLK 2PRE/ 2J CLR/ 1PRE/ VCC"
    clock, clear, action, families = "CLK", "CLR/", MASTER, "H"


@part("103")
class FallingClear(Dual):
    """The 7473's pins: clear only, supply on pins 4 and 11."""
    pins = "1CLK 1CLR/ 1K VCC 2CLK 2CLR/ 2J 2Q/ 2Q 2K GND 1Q 1Q/ 1J"
    preset, families = "", "H"


@part("106")
class FallingBoth(Dual):
    """The 7476's pins: preset and clear, supply on pins 5 and 13."""
    pins = "1CLK 1PRE/ 1CLR/ 1J VCC 2CLK 2PRE/ 2CLR/ 2J 2Q/ 2Q 2K GND 1Q/ 1Q 1K"
    families = "H"


@part("108")
class FallingCommon(Dual):
    """Common clock and clear, corner supply (pins: the VHDL component SN74H108N of a public TTL package, read)."""
    pins = "1K 1Q 1Q/ 1J 2Q/ 2Q GND 2K CLK 2PRE/ 2J CLR/ 1PRE/ VCC"
    clock, clear, families = "CLK", "CLR/", "H"


@part("111")
class LockoutDual(Dual):
    """J and K are read at the rising edge alone, the outputs change at the falling one."""
    pins = "1K 1PRE/ 1CLR/ 1J 1CLK 1Q/ 1Q GND 2Q 2Q/ 2CLK 2J 2CLR/ 2PRE/ 2K VCC"
    action, families = LOCKOUT, "TTL"


@part("114")
class CommonPreset(Dual):
    """Common clock and clear, a preset each."""
    pins = "CLR/ 1K 1J 1PRE/ 1Q 1Q/ GND 2Q/ 2Q 2PRE/ 2J 2K CLK VCC"
    clock, clear, families = "CLK", "CLR/", "S LS ALS F HC"


class NotK(Flipflops):
    """Four with J and not-K, true outputs alone."""

    halves, outputs, complements = "1234", "1Q 2Q 3Q 4Q", False

    def inputs(self, half: str, v: Levels) -> tuple[int, int]:
        return v[f"{half}J"], 1 - v[f"{half}K/"]


@part("276")
class QuadFalling(NotK):
    """A clock each, falling edge; common preset and clear."""
    pins = "CLR/ 1J 1CLK 1K/ 1Q 2Q 2K/ 2CLK 2J GND PRE/ 3J 3CLK 3K/ 3Q 4Q 4K/ 4CLK 4J VCC"
    preset, clear, families = "PRE/", "CLR/", "TTL"


@part("376")
class QuadRising(NotK):
    """Common clock, rising edge, and clear."""
    pins = "CLR/ 1J 1K/ 1Q 2Q 2K/ 2J GND CLK 3J 3K/ 3Q 4Q 4K/ 4J VCC"
    preset, clear, clock, action, families = "", "CLR/", "CLK", RISE, "TTL"
