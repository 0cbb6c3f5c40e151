"""Proof that a stuck reading can never be told from the sound part for sure, although the two are not the same.

Levels are surely high, surely low or unknown.  What the data book leaves open (`undefined`, a state bit that never gets
a level) is unknown.  Suppose that for all levels of pins and state bits nothing that the faulty part computes is surely the
opposite of what the sound part computes.  Then by induction over the steps nothing ever is: all functions are
monotone in what is known, so that two states without opposite levels lead to two states without opposite levels.

Of a state bit it is the outcome that counts: clear and set together leave it unknown.  Wires that neither the fault nor
anything open can reach are taken as free, which allows more combinations than there are, never fewer.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

from sagbench.parts import sequence
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition
from sagbench.parts.equations import Assign, Const, Expr, Name, Op, Register, names, statement_names
from sagbench.parts.model import Role
from sagbench.vectors.compile import Reading
from sagbench.vectors.faultsim import exhaustive_columns

MOST = 16                                # names that are still tried in all combinations
MOST_REACHED = 12                        # state bits and inputs of which all reachable combinations are still walked through

Pair = tuple[int, int]                   # lanes surely high, lanes surely low


class Outcome(Enum):
    """What the comparison proves."""

    SAME = "no difference at all"
    OPEN = "a difference only through what is left open"
    UNDEFINED = "a difference only while a state bit is cleared and set at once"
    UNPROVED = "nothing"


@dataclass(frozen=True)
class _Circuit:
    """Statements of a definition, the stuck reading in its place if there is one."""

    assigns: Mapping[str, Assign]
    registers: tuple[Register, ...]


def compare(definition: Definition, reading: Reading, level: bool) -> Outcome:
    """What can be proved of one reading stuck at a level.  Takes up to a second."""
    sound = _Circuit({a.target.text: a for a in definition.assigns}, definition.registers)
    bad = _Circuit({n: _assign_with(a, reading, level) for n, a in sound.assigns.items()},
                   tuple(_register_with(r, reading, level) for r in sound.registers))
    for cut, reached in ((True, False), (False, False), (False, True)):
        if not cut and not sound.assigns.keys() - definition.roles.keys() and not reached or reached and not sound.registers:
            continue                     # no wires to look into, no states to walk through: nothing new
        proof = _Proof(definition, reading, cut=cut, reached=reached)
        found = {proof.outcome(one, other) for one, other in zip(proof.functions(sound), proof.functions(bad), strict=True)}
        if Outcome.UNPROVED not in found:
            return next((o for o in (Outcome.OPEN, Outcome.UNDEFINED) if o in found), Outcome.SAME)
    return Outcome.UNPROVED


def _assign_with(assign: Assign, reading: Reading, level: bool) -> Assign:
    """An output or wire in which the reading is a constant, if it is one of its own."""
    if assign.target.text != reading.target:
        return assign
    value, enable = _stuck((assign.value, assign.enable), reading.place, level)
    return replace(assign, value=value or assign.value, enable=enable)


def _register_with(register: Register, reading: Reading, level: bool) -> Register:
    """The same for a state bit."""
    if register.target.text != reading.target:
        return register
    next_, clock, clear, high = _stuck((register.next, register.clock, register.clear, register.set), reading.place, level)
    return replace(register, next=next_ or register.next, clock=clock or register.clock, clear=clear, set=high)


def _stuck(parts: tuple[Expr | None, ...], place: int, level: bool) -> tuple[Expr | None, ...]:
    """The expressions with the reading number `place` of all of them made constant."""
    left = place

    def made(expr: Expr) -> Expr:
        nonlocal left
        if isinstance(expr, Name):
            left -= 1
            return Const(level) if left == -1 else expr
        return expr if isinstance(expr, Const) else Op(expr.sign, tuple(made(arg) for arg in expr.args))

    return tuple(None if part is None else made(part) for part in parts)


@dataclass(frozen=True)
class _Function:
    """What an output or a state bit is computed from, wires put in their places: expressions in a fixed order."""

    role: Role | None                    # of the output; None for a state bit
    parts: tuple[Expr | None, ...]       # value and enable; or next, clock, clear and set

    def reads(self) -> set[str]:
        return {name.text for part in self.parts for name in names(part)}

    def surely(self, values: Sequence[Pair | None], every: int) -> list[Pair]:
        """What is surely so and what surely not, for each thing that can be told of an output or a bit."""
        if self.role is None:
            (next_, clock, clear, high) = values
            forced = [_forced(pair, clear or (0, every), high or (0, every)) for pair in ((every, 0), (0, every))]
            return [next_ or (0, 0), clock or (0, 0), *forced]
        value, enable = values
        one, zero = value or (0, 0)
        on, off = enable or (every, 0)
        if self.role is Role.OPEN_COLLECTOR:
            on, off, one = zero, one, 0
        return [(on & one, off | on & zero), (on & zero, off | on & one), (off, on)]      # high, low, off


def _forced(pair: Pair, clear: Pair, high: Pair) -> Pair:
    """A state bit that else would be `pair`: cleared and set at once it is unknown."""
    return clear[1] & (high[0] | pair[0]), high[1] & (clear[0] | pair[1])


class _Proof:
    """One attempt: `cut` leaves wires free that need not be looked into; `reached` allows reachable states only."""

    def __init__(self, definition: Definition, reading: Reading, *, cut: bool, reached: bool = False) -> None:
        self.definition, self.reached = definition, reached
        self.wires = {a.target.text: a for a in definition.assigns}
        self.inputs = {n for n, role in definition.roles.items() if role.is_input}
        self.open = {r.target.text for r in definition.registers if r.clock == Const(False) and not r.clear and not r.set}
        self.free = set(self.wires) - self._tainted(reading.target) if cut else set()

    def _tainted(self, target: str) -> set[str]:
        """Wires whose value the fault, or what is left open, can reach."""
        reached = {target} | self.open | {n for n, a in self.wires.items() if _says_undefined(a.value)}
        grown = True
        while grown:
            more = {n for n, a in self.wires.items() if n not in reached and reached & {m.text for m in statement_names(a)}}
            reached |= more
            grown = bool(more)
        return reached

    def functions(self, circuit: _Circuit) -> Iterator[_Function]:
        """All outputs, then all state bits."""
        for name, assign in circuit.assigns.items():
            if name in self.definition.roles:
                yield _Function(self.definition.roles[name],
                                (self._inline(assign.value, circuit), self._inline(assign.enable, circuit)))
        for r in circuit.registers:
            yield _Function(None, tuple(self._inline(part, circuit) for part in (r.next, r.clock, r.clear, r.set)))

    def _inline(self, expr: Expr | None, circuit: _Circuit) -> Expr | None:
        if expr is None or isinstance(expr, Const):
            return expr
        if isinstance(expr, Name):
            wire = expr.text in circuit.assigns and expr.text not in self.inputs and expr.text not in self.free
            return self._inline(circuit.assigns[expr.text].value, circuit) if wire else expr
        return Op(expr.sign, tuple(made for arg in expr.args if (made := self._inline(arg, circuit))))

    def outcome(self, sound: _Function, bad: _Function) -> Outcome:
        """What comparing them in all combinations of levels proves."""
        if sound.parts == bad.parts:
            return Outcome.SAME
        read = sound.reads() | bad.reads()
        driven = self._driven(read)
        read |= {name.text for parts in driven.values() for part in parts for name in names(part)}
        read -= self.open
        if len(read) > MOST:
            return Outcome.UNPROVED
        every = (1 << (1 << len(read))) - 1
        columns = dict(zip(sorted(read), exhaustive_columns(len(read)), strict=True))
        levels = {name: (ones, every & ~ones) for name, ones in columns.items()} | dict.fromkeys(self.open, (0, 0))
        can_be = self._can_be(levels, driven, every)
        if can_be is None:
            return Outcome.UNPROVED
        same = True
        values = [[None if part is None else _value(part, levels, every) for part in f.parts] for f in (sound, bad)]
        for one, other in zip(sound.surely(values[0], every), bad.surely(values[1], every), strict=True):
            if (one[0] & other[1] | one[1] & other[0]) & can_be:
                return Outcome.UNPROVED
            same = same and not ((one[0] ^ other[0]) | (one[1] ^ other[1])) & can_be
        if same:
            return Outcome.SAME
        opens = any(_says_undefined(part) or self.open & {n.text for n in names(part)}
                    for part in (*sound.parts, *bad.parts) if part is not None)
        return Outcome.OPEN if opens else Outcome.UNDEFINED

    def _driven(self, read: set[str]) -> dict[str, tuple[Expr | None, Expr | None]]:
        """Value and enable of the bidirectional pins among these: while the part drives one, nobody else does."""
        circuit = _Circuit(self.wires, ())
        return {n: (self._inline(self.wires[n].value, circuit), self._inline(self.wires[n].enable, circuit))
                for n in read & set(self.wires) if n in self.inputs}

    def _can_be(self, levels: Mapping[str, Pair], driven: Mapping[str, tuple[Expr | None, Expr | None]],
                every: int) -> int | None:
        """Combinations that occur; None if they are too many to be walked through."""
        can_be = every
        for pin, (value, enable) in driven.items():
            (one, zero), on = _value(value or Const(None), levels, every), _value(enable or Const(True), levels, every)[0]
            can_be &= ~(on & zero & levels[pin][0])
            if enable != Const(True):                # a pin that holds itself high may be pulled low
                can_be &= ~(on & one & levels[pin][1])
        if self.reached:
            if self._states is None:
                return None
            bits = [n for n in levels if n in {r.target.text for r in self.definition.registers} - self.open]
            some = 0
            for state in {tuple(state[n] for n in bits) for state in self._states}:
                here = every
                for name, high in zip(bits, state, strict=True):
                    here &= levels[name][0 if high else 1]
                some |= here
            can_be &= some
        return can_be

    @cached_property
    def _states(self) -> list[dict[str, bool]] | None:
        """State bits in every state that can follow the first known one; None if that is not settled."""
        network = Network(self.definition)
        if len(network.registers) + len(network.inputs) > MOST_REACHED or Role.BIDIRECTIONAL in self.definition.roles.values():
            return None
        machine = Machine(network)
        for change in sequence.levels(self.definition, network):
            machine.set(change)
            if all(known(machine)):
                break
        waiting, found = [machine], {_state(machine): machine}
        while waiting:
            now = waiting.pop()
            if not all(known(now)):
                return None
            for name in network.inputs:
                after = now.copy()
                after.set({name: not now.one[network.slots[name]]})
                if _state(after) not in found:
                    found[_state(after)] = after
                    waiting.append(after)
        return [{n: bool(m.one[network.slots[n]]) for n in network.states} for m in found.values()]


def known(machine: Machine) -> list[int]:
    """For each state bit, whether its level is known."""
    return [machine.one[r.state] | machine.zero[r.state] for r in machine.network.registers]


def _state(machine: Machine) -> tuple[int, ...]:
    slots = [machine.network.slots[n] for n in (*machine.network.inputs, *machine.network.states)]
    return tuple(machine.one[slot] - machine.zero[slot] for slot in slots)


def _says_undefined(expr: Expr | None) -> bool:
    if isinstance(expr, Op):
        return any(map(_says_undefined, expr.args))
    return expr == Const(None)


def _value(expr: Expr, levels: Mapping[str, Pair], every: int) -> Pair:
    """An expression in three values, all combinations at once."""
    if isinstance(expr, Name):
        return levels[expr.text]
    if isinstance(expr, Const):
        return (every if expr.value else 0, every if expr.value is False else 0)
    args = [_value(arg, levels, every) for arg in expr.args]
    (a, na), (b, nb) = args[0], args[-1]
    if expr.sign == "!":
        return na, a
    if expr.sign == "&":
        return a & b, na | nb
    if expr.sign == "|":
        return a | b, na & nb
    if expr.sign == "^":
        return a & nb | na & b, a & b | na & nb
    (c, nc), (a, na), (b, nb) = args
    return c & a | nc & b | a & b, c & na | nc & nb | na & nb
