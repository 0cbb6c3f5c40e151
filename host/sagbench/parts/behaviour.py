"""What a part does: its statements compiled to a list of operations, run in many lanes at once.

Each signal has two integers, `one` and `zero`; bit k of them belongs to lane k.
Bit k of `one` set: the signal is surely high in lane k; of `zero`: surely low;
neither: unknown.  Lanes are independent machines: the vector generator uses
them for patterns, the fault check for faults, everything else uses one.

Invariant: one & zero == 0 for every signal.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from heapq import heappop, heappush

from .definition import Definition
from .equations import Assign, Const, Expr, Name
from .model import Expect, Role

Operation = tuple[str, int, int, int]    # sign, slot of the result, left operand, right operand or -1

ROUNDS = 40          # a ripple counter settles in one round a stage


@dataclass(frozen=True)
class Clocked:
    """A state bit in slot numbers; -1 for what it has not."""

    state: int
    next: int
    clock: int
    edge: str
    clear: int
    set: int


@dataclass(frozen=True)
class Driver:
    """An output pin in slot numbers; `enable` is -1 if it always drives."""

    value: int
    enable: int
    role: Role


class Network:
    """A definition compiled: slots for signals, operations in an order in which each has its operands."""

    def __init__(self, definition: Definition) -> None:
        self.roles = definition.roles
        self.slots: dict[str, int] = {}
        self.tape: list[Operation] = []
        self.constants: list[tuple[int, bool]] = []
        self.drivers: dict[str, Driver] = {}
        self.size = 0
        self._waiting = {a.target.text: a for a in definition.assigns}
        self._pulled: dict[str, int] = {}            # pins that hold themselves high: the slot of what they read
        self.inputs = tuple(n for n, role in self.roles.items() if role.is_input)
        for name in self.inputs:
            self._slot(name)
        self.states = tuple(r.target.text for r in definition.registers)
        for name in self.states:
            self._slot(name)
        for assign in definition.assigns:
            self._assign(assign)
        self.registers = tuple(
            Clocked(self.slots[r.target.text], self._compile(r.next), self._compile(r.clock), r.edge,
                    self._compile(r.clear), self._compile(r.set)) for r in definition.registers)

    def _new(self) -> int:
        self.size += 1
        return self.size - 1

    def _slot(self, name: str) -> int:
        if name not in self.slots:
            self.slots[name] = self._new()
        return self.slots[name]

    def _assign(self, assign: Assign) -> None:
        name = assign.target.text
        if name not in self._waiting:
            return
        del self._waiting[name]
        value, enable = self._compile(assign.value), self._compile(assign.enable)
        role = self.roles.get(name)
        if role is not Role.BIDIRECTIONAL:           # reading a bidirectional pin means its outer level
            self.slots[name] = value
        elif _holds_itself(assign):                  # or, let go, what a resistor inside makes of it
            self._pulled[name] = self._op("~", self.slots[name], value)
        if role is not None:
            self.drivers[name] = Driver(value, enable, role)

    def _compile(self, expr: Expr | None) -> int:
        if expr is None:
            return -1
        if isinstance(expr, Name):
            said = self._waiting.get(expr.text)
            if said and (expr.text not in self.slots or _holds_itself(said)):
                self._assign(said)
            return self._pulled.get(expr.text, self.slots[expr.text])
        if isinstance(expr, Const):
            slot = self._new()
            if expr.value is not None:                # `undefined` stays as everything begins: unknown
                self.constants.append((slot, expr.value))
            return slot
        args = [self._compile(arg) for arg in expr.args]
        if expr.sign == "?":                          # c ? a : b  =  c & a | !c & b | a & b (the last for unknown c)
            c, a, b = args
            return self._op("|", self._op("|", self._op("&", c, a), self._op("&", self._op("!", c), b)),
                            self._op("&", a, b))
        return self._op(expr.sign, *args)

    def _op(self, sign: str, left: int, right: int = -1) -> int:
        slot = self._new()
        self.tape.append((sign, slot, left, right))
        return slot

    def cone(self, slot: int) -> list[Operation]:
        """The operations a slot has influence on, in order, itself left out."""
        touched, ops = {slot}, []
        for op in self.tape:
            if op[1] != slot and (op[2] in touched or op[3] in touched):
                touched.add(op[1])
                ops.append(op)
        return ops

    @cached_property
    def always(self) -> frozenset[int]:
        """Slots of the constant 1: the `when` of pins that are pulled up inside."""
        return frozenset(slot for slot, value in self.constants if value)

    @cached_property
    def readers(self) -> list[list[int]]:
        """For each slot, the operations (places in the tape) that read it."""
        found: list[list[int]] = [[] for _ in range(self.size)]
        for index, (_, _, left, right) in enumerate(self.tape):
            for slot in {left, right} - {-1}:
                found[slot].append(index)
        return found

    @cached_property
    def watchers(self) -> list[list[int]]:
        """For each slot, the state bits (places in `registers`) that look at it."""
        found: list[list[int]] = [[] for _ in range(self.size)]
        for index, r in enumerate(self.registers):
            for slot in {r.state, r.next, r.clock, r.clear, r.set} - {-1}:
                found[slot].append(index)
        return found

    @cached_property
    def supports(self) -> dict[str, frozenset[str]]:
        """Inputs each output depends on without memory between (value and enable)."""
        reach: list[frozenset[str]] = [frozenset()] * self.size
        for name in self.inputs + self.states:
            reach[self.slots[name]] = frozenset({name})
        for _, slot, left, right in self.tape:
            reach[slot] = reach[left] | (reach[right] if right >= 0 else frozenset())
        return {name: reach[d.value] | (reach[d.enable] if d.enable >= 0 else frozenset())
                for name, d in self.drivers.items()}


def _holds_itself(assign: Assign) -> bool:
    """True for a bidirectional pin that a resistor inside pulls to its level (`when 1`)."""
    return assign.enable == Const(True)


def train(name: str) -> tuple[str, int]:
    """Pin and number of pulses of a step's entry "CLK^4096"."""
    pin, _, count = name.partition("^")
    return pin, int(count)


def evaluate(tape: Iterable[Operation], one: list[int], zero: list[int]) -> None:
    """Work out operations in place."""
    for sign, slot, a, b in tape:
        if sign == "!":
            one[slot], zero[slot] = zero[a], one[a]
        elif sign == "&":
            one[slot], zero[slot] = one[a] & one[b], zero[a] | zero[b]
        elif sign == "|":
            one[slot], zero[slot] = one[a] | one[b], zero[a] & zero[b]
        elif sign == "~":                            # the first where it is known, else the second
            one[slot], zero[slot] = one[a] | one[b] & ~zero[a], zero[a] | zero[b] & ~one[a]
        else:
            one[slot], zero[slot] = one[a] & zero[b] | zero[a] & one[b], one[a] & one[b] | zero[a] & zero[b]


class Machine:
    """A part in some state, in `lanes` copies.  All inputs begin unknown, and so do the state bits unless `start`
    gives them: then the part is taken as it powers up, and the first levels at its clocks are no edges.

    `faults`: slot -> (lanes in which it is stuck high, lanes in which it is stuck low).
    """

    def __init__(self, network: Network, lanes: int = 1, faults: Mapping[int, tuple[int, int]] | None = None,
                 start: Sequence[bool] | None = None) -> None:
        self.network = network
        self.all = (1 << lanes) - 1
        self.one = [0] * network.size
        self.zero = [0] * network.size
        self.faults = dict(faults or {})
        self._powered_up = start is not None
        self._at_rest = False                          # settled since anything but `set` touched it
        self.driven: dict[str, bool | None] = {}
        self._clocks: dict[int, tuple[int, int]] = {}   # clock slot -> its (one, zero) when last looked at
        for slot, value in network.constants:
            self._put(slot, self.all if value else 0, 0 if value else self.all)
        for register, level in zip(network.registers, start or (), strict=start is not None):
            self._put(register.state, self.all if level else 0, 0 if level else self.all)

    def copy(self) -> Machine:
        """Another part in the same state."""
        twin = Machine(self.network)
        twin.all, twin.faults, twin._powered_up = self.all, self.faults, self._powered_up
        twin.one, twin.zero, twin._at_rest = self.one[:], self.zero[:], self._at_rest
        twin.driven, twin._clocks = dict(self.driven), dict(self._clocks)
        return twin

    def widen(self, lanes: int) -> None:
        """Be so many copies of lane 0."""
        every, self.all = (1 << lanes) - 1, (1 << lanes) - 1
        self.one, self.zero = [every * (bits & 1) for bits in self.one], [every * (bits & 1) for bits in self.zero]
        self._clocks = {slot: (every * (one & 1), every * (zero & 1)) for slot, (one, zero) in self._clocks.items()}

    def _put(self, slot: int, one: int, zero: int) -> None:
        if slot in self.faults:
            high, low = self.faults[slot]
            one, zero = (one | high) & ~low, (zero | low) & ~high
        self.one[slot], self.zero[slot] = one, zero

    def set(self, levels: Mapping[str, bool | None]) -> None:
        """Apply levels (the same in all lanes) and settle; None lets go.  Then trains of pulses ("CLK^4096")."""
        changed = [self._apply(name, level) for name, level in levels.items() if "^" not in name]
        if self._at_rest:
            self._settle_from(changed)
        else:
            self.settle()
        for pin, count in (train(name) for name in levels if "^" in name):
            rest = bool(self.driven[pin])
            for level in (not rest, rest) * count:
                self._settle_from([self._apply(pin, level)])

    def _apply(self, name: str, level: bool | None) -> int:
        """The pin's slot if that changes it, else -1."""
        self.driven[name] = level
        slot = self.network.slots[name]
        before = self.one[slot], self.zero[slot]
        self._put(slot, self.all if level else 0, self.all if level is False else 0)
        return slot if (self.one[slot], self.zero[slot]) != before else -1

    def set_lanes(self, name: str, ones: int) -> None:
        """Apply a different level in each lane, without settling."""
        self.driven[name], self._at_rest = True, False
        self._put(self.network.slots[name], ones, self.all & ~ones)

    def settle(self) -> None:
        """Run until nothing changes; bits that do not settle within ROUNDS become unknown."""
        self._at_rest = True
        for _ in range(ROUNDS):
            self._evaluate()
            if not self._clock():
                return
        for register in self.network.registers:
            self._put(register.state, 0, 0)
        self._evaluate()

    def _settle_from(self, changed: list[int]) -> None:
        """As `settle`, from rest: only what follows from the slots that changed."""
        network = self.network
        changed = [slot for slot in changed if slot >= 0]
        for _ in range(ROUNDS):
            if not changed:
                return
            queued = {i for slot in changed for i in network.readers[slot]}
            touched, waiting = list(changed), sorted(queued)       # sorted, so it is a heap
            while waiting:                             # each operation once: who reads a slot stands behind who works it out
                operation = network.tape[heappop(waiting)]
                slot = operation[1]
                before = self.one[slot], self.zero[slot]
                evaluate((operation,), self.one, self.zero)
                if slot in self.faults:
                    self._put(slot, self.one[slot], self.zero[slot])
                if (self.one[slot], self.zero[slot]) != before:
                    touched.append(slot)
                    for reader in network.readers[slot]:
                        if reader not in queued:
                            queued.add(reader)
                            heappush(waiting, reader)
            registers = [network.registers[i] for i in sorted({i for slot in touched for i in network.watchers[slot]})]
            changed = self._take([(r, *self._next(r)) for r in registers])
        self.settle()

    def _evaluate(self) -> None:
        if not self.faults:
            evaluate(self.network.tape, self.one, self.zero)
            return
        for op in self.network.tape:
            evaluate((op,), self.one, self.zero)
            if op[1] in self.faults:
                self._put(op[1], self.one[op[1]], self.zero[op[1]])

    def _clock(self) -> bool:
        """One round of all state bits, all of them from the same settled levels; True if any changed."""
        return bool(self._take([(r, *self._next(r)) for r in self.network.registers]))

    def _take(self, results: list[tuple[Clocked, int, int]]) -> list[int]:
        """Give state bits their next values, and note the clocks they came by; the slots that changed."""
        for register, _, _ in results:
            self._clocks[register.clock] = (self.one[register.clock], self.zero[register.clock])
        changed = []
        for register, one, zero in results:
            slot = register.state
            before = self.one[slot], self.zero[slot]
            self._put(slot, one, zero)
            if (self.one[slot], self.zero[slot]) != before:
                changed.append(slot)
        return changed

    def _next(self, r: Clocked) -> tuple[int, int]:
        """What a state bit becomes: surely high, surely low.  Clear and set rule over the clock; both at once leave it
        unknown, and so does one that is unknown, unless it would make no difference."""
        one, zero, every = self.one, self.zero, self.all
        surely, perhaps = self._loads(r)
        held, new = (one[r.state], zero[r.state]), (one[r.next], zero[r.next])
        high = surely & new[0] | ~perhaps & held[0] | held[0] & new[0]
        low = surely & new[1] | ~perhaps & held[1] | held[1] & new[1]
        clear, no_clear = (one[r.clear], zero[r.clear]) if r.clear >= 0 else (0, every)
        force, no_force = (one[r.set], zero[r.set]) if r.set >= 0 else (0, every)
        return every & no_clear & (force | high), every & no_force & (clear | low)

    def _loads(self, r: Clocked) -> tuple[int, int]:
        """Lanes in which the bit surely, and perhaps, takes its next value in this round."""
        one, zero = self.one[r.clock], self.zero[r.clock]
        if not r.edge:
            return one, self.all & ~zero
        was_one, was_zero = self._clocks.get(r.clock, (one, zero) if self._powered_up else (0, 0))
        if r.edge == "falling":
            one, zero, was_one, was_zero = zero, one, was_zero, was_one
        return was_zero & one, self.all & ~was_one & ~zero

    def output(self, name: str) -> tuple[int, int, int]:
        """Lanes in which an output is surely low, surely high, surely off."""
        driver = self.network.drivers[name]
        one, zero = self.one[driver.value], self.zero[driver.value]
        if driver.role is Role.OPEN_COLLECTOR:
            return zero, 0, one
        if driver.enable < 0:
            return zero, one, 0
        on = self.one[driver.enable]
        return zero & on, one & on, self.zero[driver.enable]

    def expect(self, name: str) -> Expect | None:
        """What an output does in lane 0; None if unknown."""
        low, high, off = self.output(name)
        return Expect.LOW if low & 1 else Expect.HIGH if high & 1 else Expect.OFF if off & 1 else None

    def expects(self) -> dict[str, Expect]:
        """What can be read now: every output of known behaviour that is not driven from outside."""
        return {name: e for name in self.network.drivers
                if self.driven.get(name) is None and (e := self.expect(name)) is not None}
