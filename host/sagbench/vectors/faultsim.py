"""Bit-parallel fault simulation of a netlist: one bit of a Python integer is one pattern.

A set of patterns is a column an input: bit p of the column is the level of that
input in pattern p.  Integers have no width limit, so all 16384 patterns of a
74181 go through a gate in one operation.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from functools import reduce
from operator import and_, or_, xor

from sagbench.vectors.netlist import INVERTING, PIN, Fault, Netlist

_FOLD = {"AND": and_, "NAND": and_, "OR": or_, "NOR": or_, "XOR": xor, "XNOR": xor, "NOT": or_, "BUFF": or_}


def columns_of(vectors: Sequence[int], inputs: int) -> list[int]:
    """Columns from vectors: bit i of a vector is input i, bit p of a column is vector p."""
    columns = [0] * inputs
    for place, vector in enumerate(vectors):
        for i in range(inputs):
            if vector >> i & 1:
                columns[i] |= 1 << place
    return columns


def exhaustive_columns(inputs: int) -> list[int]:
    """All 2**inputs patterns; pattern p has bit i of p at input i."""
    columns = []
    for i in range(inputs):
        column, width = ((1 << (1 << i)) - 1) << (1 << i), 2 << i
        while width < 1 << inputs:
            column |= column << width
            width *= 2
        columns.append(column)
    return columns


class Simulator:
    """A netlist under a set of patterns."""

    def __init__(self, netlist: Netlist, columns: Sequence[int], count: int) -> None:
        """`columns`: one an input of the netlist, in its order; `count`: number of patterns."""
        self.netlist = netlist
        self.all = (1 << count) - 1
        self.good: dict[str, int] = dict(zip(netlist.inputs, columns, strict=True))
        for gate in netlist.gates:
            self.good[gate.name] = self._gate(gate.kind, [self.good[net] for net in gate.fanin])

    def _gate(self, kind: str, levels: Iterable[int]) -> int:
        level = reduce(_FOLD[kind], levels)
        return level ^ self.all if kind in INVERTING else level

    def outputs(self) -> Mapping[str, int]:
        """Fault-free level of each output, bit p for pattern p."""
        return {net: self.good[net] for net in self.netlist.outputs}

    def detects(self, fault: Fault) -> int:
        """The patterns (as bits) in which an output differs from the fault-free circuit."""
        line, stuck = fault.line, self.all if fault.value else 0
        if line.gate == PIN:
            return self.good[line.net] ^ stuck
        changed: dict[str, int] = {}
        if not line.gate:
            if self.good[line.net] == stuck:
                return 0
            changed[line.net] = stuck
        for gate in self.netlist.gates_after[line.net]:
            here = gate.name == line.gate
            if not here and not any(net in changed for net in gate.fanin):
                continue
            levels = [changed.get(net, self.good[net]) for net in gate.fanin]
            if here:
                levels[line.pin] = stuck
            level = self._gate(gate.kind, levels)
            if level != self.good[gate.name]:
                changed[gate.name] = level
        seen = 0
        for net in self.netlist.outputs:
            if net in changed:
                seen |= changed[net] ^ self.good[net]
        return seen
