"""What may be done to a part in one step of a generated test, so that the order within the step does not matter.

Control pins reach a clock, a clear, a set, a gate, or the enable of a pin that is
also an input.  Each changes alone, in a step of its own.  Data pins may change
together, but only while every clock is at the level to which its active edge leads: so
is the data of a pulse-triggered (master-slave) flip-flop steady while its master is
open, and the enables of a 74161 change only while its clock is high, as their
data sheets ask (TI, SN5476 and SN54161, notes on the function tables; from memory).
Bidirectional pins are let go before a control of theirs moves, and driven only while the part has them off whatever
the other changes of the step and the state bits do: the data of an open-collector bus switch its drivers too.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import Enum

from sagbench.parts.definition import Definition
from sagbench.parts.equations import Const, Expr, names
from sagbench.parts.model import Role
from sagbench.vectors.compile import Bit, Compiled


class Later(Enum):
    """Changes that depend on what the part does at that moment."""

    RELEASE = "let go of every bidirectional pin"
    DRIVE = "drive those that are off, at random"
    DATA = "change data pins at random"


@dataclass(frozen=True)
class Toggle:
    """A control pin to its other level."""

    pin: str


@dataclass(frozen=True)
class Put:
    """A control pin to this level, if it is not there."""

    pin: str
    level: bool


Move = Later | Toggle | Put


class Rules:
    """Which pins of a part are control, which are data, and which need their bus released."""

    def __init__(self, definition: Definition, part: Compiled) -> None:
        self._assigns = {a.target.text: a for a in definition.assigns}
        self._bits = {r.target.text for r in definition.registers}
        self._pins = set(part.pins)
        self._part = part
        roles = part.roles
        self.shared = tuple(n for n in part.pins if roles[n] is Role.BIDIRECTIONAL)
        clocks = self._reach(e for r in definition.registers for e in (r.clock, r.clear, r.set))
        self.turners = self._reach(a.enable for n, a in self._assigns.items() if n in self.shared) - set(self.shared)
        self.control = tuple(n for n in part.pins if n in (clocks | self.turners) - set(self.shared))
        self.data = tuple(n for n in part.pins if n not in self.control and n not in self.shared)
        self.neutral = self._neutral(part)
        # Enables of the pins that the part can let go; one that a resistor inside pulls up has none.
        always = {n for n in self.shared if self._assigns[n].enable == Const(True)}
        self._enables = {d.name: d.enable for d in part.drives if d.name in self.shared and d.name not in always}
        # For each pin that carries data: the edge-triggered bits it is data of, if pins move their
        # clock.  A clock that only a state bit moves (ripple) follows by itself.
        self._clocks: dict[str, list[Bit]] = {}
        for bit, register in zip(part.bits, definition.registers, strict=True):
            if bit.edge and self._reach([register.clock]):
                for pin in self._reach([register.next]):
                    self._clocks.setdefault(pin, []).append(bit)

    def _neutral(self, part: Compiled) -> tuple[Put, ...]:
        """Pins that can end a clear or a set by themselves, and the level that does."""
        signals = [s for bit in part.bits for s in (bit.clear, bit.set) if s >= 0]
        none = [0] * len(part.bits)

        def ended(pin: str, level: bool) -> set[int]:
            one = [int(name == pin and level) for name in part.pins]
            zero = [int(name == pin and not level) for name in part.pins]
            values = part.plain(one, zero, none, none, 1, [], [], [], [])
            return {signal for signal in signals if values[2 * signal + 1]}

        return tuple(Put(pin, level) for pin in self.control for level in (False, True)
                     if ended(pin, level) and not ended(pin, not level))

    def _reach(self, exprs: Iterable[Expr | None]) -> set[str]:
        """Pins these expressions depend on, through wires but not through state bits."""
        found: set[str] = set()
        waiting = [name.text for expr in exprs for name in names(expr)]
        done: set[str] = set()
        while waiting:
            name = waiting.pop()
            if name in done:
                continue
            done.add(name)
            if name in self._pins:
                found.add(name)
            elif name not in self._bits:
                assign = self._assigns[name]
                waiting += [n.text for expr in (assign.value, assign.enable) for n in names(expr)]
        return found

    def at_rest(self, pin: str, values: list[int]) -> int:
        """Lanes in which this data pin may change: the clocks concerned are where their active edge leads."""
        lanes = -1
        for bit in self._clocks.get(pin, ()):
            lanes &= values[2 * bit.clock + (bit.edge != "rising")]
        return lanes

    def surely_off(self, now: Mapping[str, bool | None], changing: Iterable[str]) -> set[str]:
        """Bidirectional pins that the part does not drive, in whatever order these pins change and whatever it remembers."""
        known = {n: v for n, v in now.items() if n not in set(changing)}
        none = [0] * len(self._part.bits)
        one = [int(known.get(name) is True) for name in self._part.pins]
        zero = [int(known.get(name) is False) for name in self._part.pins]
        values = self._part.plain(one, zero, none, none, 1, [], [], [], [])
        return {name for name, enable in self._enables.items() if values[2 * enable + 1]}

    def is_lawful(self, now: Mapping[str, bool | None], change: Mapping[str, bool | None]) -> bool:
        """True if no pin that is driven before or after this step may be driven by the part in it."""
        held = {n for n in self._enables if now[n] is not None or change.get(n) is not None}
        return not held or held <= self.surely_off(now, change)

    def moves(self, rng: random.Random, *, most: int = 10) -> list[Move]:
        """A short random run of moves; every other one first ends what clears and sets."""
        run: list[Move] = list(self.neutral) if rng.random() < 0.5 else []
        most += len(run)
        run += self._some(rng)
        while len(run) < most and rng.random() < 0.5:
            run += self._some(rng)
        return run[:most + 2]

    def _some(self, rng: random.Random) -> list[Move]:
        if not self.control or (self.data or self.shared) and rng.random() < 0.45:
            kinds = [*([Later.DATA] if self.data else []), *([Later.DRIVE] if self.shared else [])]
            return [rng.choice(kinds)] if kinds else []  # a part on which no input acts
        pin = rng.choice(self.control)
        if pin in self.turners and self.shared:
            return [Later.RELEASE, Toggle(pin), Later.DRIVE]
        times = rng.choice((1, 1, 1, 2, 2, 2, 4, 8))     # an even number of toggles is pulses
        return [Toggle(pin)] * times


def data_change(names_: Iterable[str], now: Mapping[str, bool | None], rng: random.Random) -> dict[str, bool | None]:
    """A random change: a few pins turned over, or all set anew."""
    every = list(names_)
    if rng.random() < 0.5:
        return {n: not now[n] for n in rng.sample(every, min(len(every), rng.choice((1, 1, 2, 3))))}
    change = {n: rng.random() < 0.5 for n in every}
    return {n: v for n, v in change.items() if now[n] is not v}
