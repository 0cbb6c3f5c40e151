"""What has been learnt: a law for each output, over the inputs and the state bits that show at outputs.

Variables are numbered: inputs first, in the order of their pins, then state bits in the order of `Learnt.states`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sagbench.identify.follow import Change
from sagbench.learn.functions import Sampled
from sagbench.parts.model import Role


@dataclass(frozen=True)
class Gate:
    """What clocks a state bit: inputs of the mask all at the levels of `at`; it acts as that becomes true (or untrue)."""

    mask: int
    at: int
    rising: bool

    def acts(self, before: int, after: int) -> bool:
        """True if the step between two points of the inputs is its edge."""
        was, now = before & self.mask == self.at, after & self.mask == self.at
        return now and not was if self.rising else was and not now


@dataclass(frozen=True)
class Turn:
    """One of several clocks of a state bit, an input of its own: at its edge the bit turns over where `turns` is high."""

    gate: Gate
    turns: Sampled

    def resting(self, point: int) -> bool:
        """True if the clock is at the level that its edge leads to."""
        return (point & self.gate.mask == self.gate.at) is self.gate.rising


@dataclass(frozen=True)
class Memory:
    """A state bit.  `set` and `clear` over the inputs; `next`, over all variables, counts only if neither holds.

    gate None: a latch, moved by `set` and `clear` alone, or, with `turns`, a bit of two clocks (up and down), of which
    one rests while the other is used.
    """

    gate: Gate | None
    next: Sampled
    clear: Sampled
    set: Sampled
    turns: tuple[Turn, ...] = ()

    @property
    def functions(self) -> tuple[Sampled, ...]:
        """All of its functions, over all variables."""
        return (self.next, self.clear, self.set, *(turn.turns for turn in self.turns))

    @property
    def clocks(self) -> int:
        """A mask of inputs that clock it."""
        return sum(turn.gate.mask for turn in self.turns) | (self.gate.mask if self.gate else 0)


@dataclass(frozen=True)
class Law:
    """One output: its level (for an open collector, high is off), and when it is off (tri-state)."""

    pin: int
    role: Role
    value: Sampled | None  # None: it shows its own state bit
    off: Sampled | None = None
    exhaustive: bool = False  # every combination of its inputs was tried


@dataclass(frozen=True)
class Learnt:
    """All of a specimen that was reached.  `missed`: output pins that were not, with the reason in words."""

    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    states: tuple[int, ...]  # output pins that show a state bit
    laws: Mapping[int, Law]
    memories: Mapping[int, Memory]
    missed: Mapping[int, str]
    idle: frozenset[int]  # inputs that nothing was seen to depend on
    walk: tuple[tuple[Change, ...], ...]  # from all inputs low and pins that are both let go, as the draft's program
    looks: int
    checked: int = 0  # looks at which the draft was held against the specimen afterwards, without a difference
    schmitt: frozenset[int] = frozenset()  # inputs with hysteresis

    @property
    def variables(self) -> int:
        """How many there are."""
        return len(self.inputs) + len(self.states)
