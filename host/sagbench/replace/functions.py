# SPDX-License-Identifier: MIT
"""What a part computes, as tables: of every output and every state bit, over the inputs and the state bits it reads.

Two parts do the same if a pairing of their inputs, outputs and state bits makes all tables equal, whatever their pins are
called and however their equations are written (`alike`).
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import NamedTuple

from sagbench.parts.behaviour import Network, Operation, evaluate
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.model import Role
from sagbench.vectors.faultsim import exhaustive_columns

MOST = 14                                # names whose combinations are all tried
SAMPLES = 1 << 12                        # combinations that are tried of more: enough to see a difference, no proof
_SEED = 7

Pair = tuple[int, int]                   # combinations with surely 1, with surely 0


class Root(NamedTuple):
    """One thing a part computes."""

    owner: str                           # an output or a state bit
    what: str                            # "value", "enable"; "next", "clock", "gate", "clear", "set"


@dataclass(frozen=True)
class Form:
    """A function with one of its pinouts.  Raises nothing: definitions come checked."""

    definition: Definition
    pinout: Pinout

    @cached_property
    def network(self) -> Network:
        return Network(self.definition)

    @cached_property
    def numbers(self) -> dict[str, int]:
        """Signal -> pin number."""
        return {name: number for number, name in enumerate(self.pinout.pins, start=1) if name in self.definition.roles}

    @cached_property
    def leaves(self) -> tuple[str, ...]:
        """What tables are over: inputs, then state bits."""
        return (*self.network.inputs, *self.network.states)

    @cached_property
    def outputs(self) -> tuple[str, ...]:
        return tuple(self.network.drivers)

    @cached_property
    def kind(self) -> dict[str, str]:
        """Of every leaf and output, what it can be paired with."""
        roles = self.definition.roles
        return {name: "state" if name not in roles else "both" if roles[name] is Role.BIDIRECTIONAL else
                "output" if roles[name].is_output else "input" for name in (*self.leaves, *self.outputs)}

    @cached_property
    def counts(self) -> tuple[int, int, int]:
        """Inputs, outputs, state bits."""
        roles = self.definition.roles.values()         # without compiling it: most parts are dismissed by this
        return sum(r.is_input for r in roles), sum(r.is_output for r in roles), len(self.definition.registers)

    @cached_property
    def roots(self) -> dict[Root, tuple[int, bool]]:
        """Each with its slot, and whether it counts inverted (a falling edge is a rising one of the inverse)."""
        found: dict[Root, tuple[int, bool]] = {}
        for name, driver in self.network.drivers.items():
            found[Root(name, "value")] = driver.value, False
            if driver.enable >= 0:
                found[Root(name, "enable")] = driver.enable, False
        for name, register in zip(self.network.states, self.network.registers, strict=True):
            found[Root(name, "next")] = register.next, False
            found[Root(name, "clock" if register.edge else "gate")] = register.clock, register.edge == "falling"
            found |= {Root(name, what): (slot, False) for what, slot in (("clear", register.clear), ("set", register.set)) if slot >= 0}
        return found

    @cached_property
    def _reach(self) -> list[frozenset[str]]:
        """Leaves each slot reads, through wires."""
        network = self.network
        reach: list[frozenset[str]] = [frozenset()] * network.size
        for name in self.leaves:
            reach[network.slots[name]] = frozenset({name})
        for _, slot, left, right in network.tape:
            reach[slot] = reach[left] | (reach[right] if right >= 0 else frozenset())
        return reach

    def reads(self, root: Root) -> frozenset[str]:
        """Leaves it is written with."""
        return self._reach[self.roots[root][0]]

    @cached_property
    def controls(self) -> frozenset[str]:
        """Inputs that say when, not what: of clocks, gates, enables, clears and presets."""
        when = {n for root in self.roots if root.what not in ("value", "next") for n in self.reads(root)}
        what = {n for root in self.roots if root.what == "next" for n in self.reads(root)}
        return frozenset(when - what - set(self.network.states))

    @cached_property
    def large(self) -> bool:
        """True if some table is too large for all combinations."""
        return any(len(self.reads(root)) > MOST for root in self.roots)

    def table(self, root: Root, columns: Mapping[str, int], every: int) -> Pair:
        """Where it is surely 1 and surely 0; `columns` gives each leaf it reads its level in every combination."""
        slot, inverted = self.roots[root]
        one, zero = [0] * self.network.size, [0] * self.network.size
        for name, ones in columns.items():
            one[self.network.slots[name]], zero[self.network.slots[name]] = ones, every & ~ones
        for constant, value in self.network.constants:
            one[constant], zero[constant] = (every, 0) if value else (0, every)
        evaluate(self._cone(slot), one, zero)
        return (zero[slot], one[slot]) if inverted else (one[slot], zero[slot])

    def _cone(self, slot: int) -> Sequence[Operation]:
        """The operations that lead to a slot, in order."""
        if slot not in self._cones:
            wanted, found = {slot}, []
            for operation in reversed(self.network.tape):
                if operation[1] in wanted:
                    wanted |= {operation[2], operation[3]}
                    found.append(operation)
            self._cones[slot] = found[::-1]
        return self._cones[slot]

    @cached_property
    def _cones(self) -> dict[int, list[Operation]]:
        return {}

    @cached_property
    def own_tables(self) -> dict[Root, tuple[tuple[str, ...], Pair]]:
        """Each root over all combinations of the leaves that do matter to it.  Only of a form that is not `large`."""
        return {root: self._own_table(root) for root in self.roots}

    @cached_property
    def together(self) -> dict[Root, dict[str, dict[str, Pair]]]:
        """For each root and two names it depends on, how often it is 1 and 0 while both are high."""
        found: dict[Root, dict[str, dict[str, Pair]]] = {}
        for root, (names, (one, zero)) in self.own_tables.items():
            columns, _ = combinations(names)
            found[root] = {a: {b: ((one & columns[a] & columns[b]).bit_count(), (zero & columns[a] & columns[b]).bit_count())
                               for b in names if b != a} for a in names}
        return found

    def _own_table(self, root: Root) -> tuple[tuple[str, ...], Pair]:
        names = tuple(sorted(self.reads(root)))
        columns, every = combinations(names)
        pair = self.table(root, columns, every)
        idle = {n for i, n in enumerate(names) if all(_idle(table, columns[n], 1 << i, every) for table in pair)}
        if idle:
            names = tuple(n for n in names if n not in idle)
            columns, every = combinations(names)
            pair = self.table(root, columns | dict.fromkeys(idle, 0), every)
        return names, pair


def _idle(table: int, column: int, step: int, every: int) -> bool:
    """True if the table does not depend on the name with this column, whose level changes every `step` combinations."""
    return (table & column) >> step == table & every & ~column


def combinations(names: Sequence[str]) -> tuple[dict[str, int], int]:
    """Columns of all combinations of these names, or of a sample if they are more than MOST; and the mask of all."""
    if len(names) <= MOST:
        return dict(zip(names, exhaustive_columns(len(names)), strict=True)), (1 << (1 << len(names))) - 1
    chance = random.Random(_SEED)
    return {name: chance.getrandbits(SAMPLES) for name in names}, (1 << SAMPLES) - 1


def levels_at(place: int, columns: Mapping[str, int], names: Iterable[str]) -> dict[str, bool]:
    """The combination number `place`."""
    return {name: bool(columns[name] >> place & 1) for name in names}
