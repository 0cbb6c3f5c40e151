# SPDX-License-Identifier: MIT
"""Function tables worked out from a definition: L, H, Z, X, an arrow for the clock's edge, q for what was remembered.

A row is made as long as some output is not settled by the levels given so far; what does not matter is X.
Outputs with more than one state bit behind them, and tables of more than MOST rows, are for the equations.
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sagbench.doubt.statements import Line, independent, read_by
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition
from sagbench.parts.equations import Name, Op, Register
from sagbench.parts.model import Role

MOST = 32
FULL = 3                                 # up to so many inputs every combination has its row
UNDEFINED = "?"
LEGEND = {"X": "any level", "Z": "off", "q": "as it was before", "!q": "the opposite of what it was", "^": "rising edge",
          "v": "falling edge", "-": "no edge", UNDEFINED: "not defined"}
_LEVEL = {True: "H", False: "L"}


@dataclass(frozen=True)
class Table:
    """Rows of levels: inputs, then outputs."""

    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    likewise: tuple[str, ...] = ()       # copies of the gate the table is of one of

    def lines(self) -> list[str]:
        """As text."""
        heads = (*self.inputs, *self.outputs)
        widths = [max(len(head), 2) for head in heads]
        cut = len(self.inputs)

        def line(cells: tuple[str, ...]) -> str:
            padded = [cell.center(width) for cell, width in zip(cells, widths, strict=True)]
            return (" ".join(padded[:cut]) + " | " + " ".join(padded[cut:])).rstrip()
        rule = "-" * (sum(widths[:cut]) + cut) + "+" + "-" * (sum(widths[cut:]) + len(widths) - cut)
        return [line(heads), rule, *map(line, self.rows)]


class _TooLong(Exception):
    """More rows than anybody would read."""


@dataclass(frozen=True)
class _Question:
    definition: Definition
    network: Network
    outputs: tuple[str, ...]
    inputs: tuple[str, ...]              # without the clock
    register: Register | None
    clock: str                           # "" without one
    edge: str                            # "rising", "falling" at the pin


def tables(definition: Definition, lines: tuple[Line, ...], pins: tuple[str, ...]) -> list[Table]:
    """A table for each kind of gate that one can be made for; [] if there is none.  `pins`: names from pin 1 on."""
    network = Network(definition)
    made = []
    for outputs, likewise in _gates(definition, lines):
        question = _question(definition, network, outputs, pins)
        if question is None:
            return []
        try:
            rows = tuple(_rows(question))
        except _TooLong:
            return []
        clock = (question.clock,) if question.clock else ()
        made.append(Table((*question.inputs, *clock), outputs, rows, likewise))
    return made


def _gates(definition: Definition, lines: tuple[Line, ...]) -> Iterator[tuple[tuple[str, ...], tuple[str, ...]]]:
    """Outputs that belong in one table, and the names of the copies it holds for too."""
    for block in dict.fromkeys(line.block for line in lines):
        own = [line for line in lines if line.block == block and definition.roles.get(line.targets()[0], Role.UNUSED).is_output]
        if not own:
            continue
        if all(independent(definition, line) for line in own):
            yield tuple(line.targets()[0] for line in own), own[0].each[1:]
        else:
            yield tuple(target for line in own for target in line.targets()), ()


def _question(definition: Definition, network: Network, outputs: tuple[str, ...], pins: tuple[str, ...]) -> _Question | None:
    seen = frozenset().union(*(read_by(definition, output) for output in outputs))
    registers = [r for r in definition.registers if r.target.text in seen]
    if len(registers) > 1 or any(definition.roles.get(name) is Role.BIDIRECTIONAL for name in seen):
        return None
    clock, edge = "", ""
    if registers and registers[0].edge:
        at = registers[0].clock
        turned = isinstance(at, Op) and at.sign == "!"
        name = at.args[0] if isinstance(at, Op) and turned else at
        if not isinstance(name, Name) or definition.roles.get(name.text) is not Role.INPUT:
            return None
        clock, edge = name.text, {"rising": "falling", "falling": "rising"}[registers[0].edge] if turned else registers[0].edge
    inputs = tuple(pin for pin in sorted(pins) if pin in seen and pin != clock and definition.roles.get(pin) is Role.INPUT)
    return _Question(definition, network, outputs, inputs, registers[0] if registers else None, clock, edge)


def _rows(question: _Question) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []

    def descend(levels: dict[str, bool], clock: bool | None) -> None:
        found = _outcome(question, levels, clock)
        free = [name for name in question.inputs if name not in levels]
        wants_clock = bool(question.clock) and clock is None
        every = not question.clock and not question.register and len(question.inputs) <= FULL
        if not (free or wants_clock) or None not in found and not every:
            rows.append(_row(question, levels, clock, found))
            if len(rows) > MOST:
                raise _TooLong
            return
        if every:
            best = free[0]
        else:
            tries = {name: [_settled(question, {**levels, name: level}, clock) for level in (False, True)] for name in free}
            if wants_clock:
                tries[question.clock] = [_settled(question, levels, edge) for edge in (False, True)]
            best = max(tries, key=lambda name: (max(tries[name]), sum(tries[name])))     # enables before addresses
        for level in (False, True):
            if best == question.clock:
                descend(levels, level)
            else:
                descend({**levels, best: level}, clock)
    descend({}, None)
    return rows


def _settled(question: _Question, levels: Mapping[str, bool], clock: bool | None) -> int:
    return sum(cell is not None for cell in _outcome(question, levels, clock))


def _row(question: _Question, levels: Mapping[str, bool], clock: bool | None, found: tuple[str | None, ...]) -> tuple[str, ...]:
    cells = [_LEVEL[levels[name]] if name in levels else "X" for name in question.inputs]
    if question.clock:
        cells.append("X" if clock is None else "-" if not clock else "^" if question.edge == "rising" else "v")
    return (*cells, *(cell or UNDEFINED for cell in found))


def _outcome(question: _Question, levels: Mapping[str, bool], clock: bool | None) -> tuple[str | None, ...]:
    """A sign for each output; None if the levels do not settle it.  clock: an edge, none, or (None) either."""
    if question.clock and clock is None:
        rest, edge = (_outcome(question, levels, one) for one in (False, True))
        return tuple(a if a == b else None for a, b in zip(rest, edge, strict=True))
    network, register = question.network, question.register
    machine = Machine(network, 2 if register else 1, start=[False] * len(network.registers))
    if register:                                         # lane 0 remembers a low, lane 1 a high
        slot = network.slots[register.target.text]
        machine.one[slot], machine.zero[slot] = 0b10, 0b01
    active = question.edge == "rising"
    machine.set({**levels, **({question.clock: not active} if question.clock else {})})
    if clock:
        machine.set({question.clock: active})
    return tuple(_sign(machine, output) for output in question.outputs)


def _sign(machine: Machine, output: str) -> str | None:
    low, high, off = machine.output(output)
    every = machine.all
    plain = {"L": low, "H": high, "Z": off}
    for sign, lanes in plain.items():
        if lanes == every:
            return sign
    up = high | off                                      # an open-collector output that is off counts as high here
    return "q" if (low, up) == (0b01, 0b10) else "!q" if (low, up) == (0b10, 0b01) else None
