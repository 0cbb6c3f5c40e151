"""A part file after reading: names instead of pin numbers, statements instead of text.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from .equations import Assign, Register, Statement
from .model import Role

PLAIN = "74"                             # how part files and family tables call the series without a letter


@dataclass(frozen=True)
class Pinout:
    """Names from pin 1 on, and what the rails are called."""

    pins: tuple[str, ...]
    families: tuple[str, ...] = ()       # empty: all that no other pinout names
    supply: frozenset[str] = frozenset()
    ground: frozenset[str] = frozenset()
    analog: frozenset[str] = frozenset()
    grounded: frozenset[str] = frozenset()     # of the analog ones, those that may be tied to ground inside


@dataclass(frozen=True)
class Block:
    """One gate, flip-flop or section, its {} filled in."""

    name: str                            # "1"; "" if the block is not repeated
    roles: Mapping[str, Role]            # of its pins
    schmitt: frozenset[str]
    statements: tuple[Statement, ...]
    idle: str = ""
    program: tuple[str, ...] = ()
    pulses: tuple[Mapping[str, str], ...] = ()     # ways to trigger a monostable, as in the file


@dataclass(frozen=True, eq=False)
class Definition:
    """One function.  Two are the same only if they are one object: a file is read once and worked out once.

    A number that stands for another logic in some families (the 7451 and the 74LS51) is one definition for each logic:
    what a file gives is that of the family it names first, `of` that of another.  All know all pinouts.
    """

    function: str
    title: str
    pinouts: tuple[Pinout, ...]
    blocks: tuple[Block, ...]
    families: Mapping[str, Mapping[str, Any]]      # as in the file, checked
    buses: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    idle: str = ""
    program: tuple[str, ...] = ()
    march: Mapping[str, Any] = field(default_factory=dict)     # pins of a memory, as in the file
    static: bool = False                 # only its rest state is tried: what it does needs parts outside
    notes: tuple[str, ...] = ()
    sources: tuple[str, ...] = ()
    origin: str = "library"
    others: tuple[Definition, ...] = ()            # the other logics of this number; only the first has them
    variant: str = ""                              # first family of such another logic

    def of(self, family: str) -> Definition:
        """The logic that this number has in a family (file name: "74" for plain)."""
        return next((other for other in self.others if family in other.families), self)

    def forms(self) -> Iterator[tuple[Definition, Pinout]]:
        """Each logic with each of its pinouts, once."""
        yield from {(id(made), id(pinout)): (made, pinout) for made, pinout in
                    ((self.of(family), self.pinout(family)) for family in self.families)}.values()

    @cached_property
    def roles(self) -> dict[str, Role]:
        """Role of every signal pin."""
        return {name: role for block in self.blocks for name, role in block.roles.items()}

    @cached_property
    def assigns(self) -> tuple[Assign, ...]:
        """All outputs and wires."""
        return tuple(s for block in self.blocks for s in block.statements if isinstance(s, Assign))

    @cached_property
    def registers(self) -> tuple[Register, ...]:
        """All state bits."""
        return tuple(s for block in self.blocks for s in block.statements if isinstance(s, Register))

    def pinout(self, family: str) -> Pinout:
        """The pinout a family (file name: "74" for plain) has."""
        for pinout in self.pinouts:
            if family in pinout.families:
                return pinout
        return next(p for p in self.pinouts if not p.families)
