"""Gate netlists, their lines, and the single stuck-at faults on them.

A netlist is read from the ISCAS-85 "bench" text form (`INPUT(a)`, `OUTPUT(y)`,
`y = NAND(a, b)`), the open form in which the benchmark circuits are published.
A line is a net's stem, and each branch of a net with more than one sink; an
output pin is a sink like a gate input.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from sagbench.errors import PartFileError

PIN = "(pin)"                            # the `gate` of a branch that ends at an output pin
KINDS = ("AND", "NAND", "OR", "NOR", "NOT", "BUFF", "XOR", "XNOR")

# Input value that alone decides the output, and whether the gate inverts.
CONTROLLING = {"AND": (0, False), "NAND": (0, True), "OR": (1, False), "NOR": (1, True)}
INVERTING = frozenset(("NAND", "NOR", "NOT", "XNOR"))


@dataclass(frozen=True)
class Gate:
    """One gate; its output net bears its name."""

    name: str
    kind: str
    fanin: tuple[str, ...]


@dataclass(frozen=True, order=True)
class Line:
    """A stem (`gate` empty), or the branch of `net` into input `pin` of `gate`, or to the output pin (`gate` PIN)."""

    net: str
    gate: str = ""
    pin: int = 0

    def __str__(self) -> str:
        if self.gate == PIN:
            return f"{self.net}->pin"
        return f"{self.net}->{self.gate}.{self.pin}" if self.gate else self.net


@dataclass(frozen=True, order=True)
class Fault:
    """A line stuck at 0 or 1."""

    line: Line
    value: int

    def __str__(self) -> str:
        return f"{self.line} stuck at {self.value}"


@dataclass(frozen=True)
class Netlist:
    """A combinational circuit; gates are in an order in which each comes after its fan-in."""

    name: str
    inputs: tuple[str, ...]
    outputs: tuple[str, ...]
    gates: tuple[Gate, ...]

    @cached_property
    def by_name(self) -> Mapping[str, Gate]:
        """Gate of each net that is not an input."""
        return {gate.name: gate for gate in self.gates}

    @cached_property
    def sinks(self) -> Mapping[str, tuple[tuple[str, int], ...]]:
        """Where each net goes: (gate, pin) pairs, output pins as (PIN, 0)."""
        found: dict[str, list[tuple[str, int]]] = {net: [] for net in (*self.inputs, *self.by_name)}
        for net in self.outputs:
            found[net].append((PIN, 0))
        for gate in self.gates:
            for pin, net in enumerate(gate.fanin):
                found[net].append((gate.name, pin))
        return {net: tuple(ends) for net, ends in found.items()}

    @cached_property
    def gates_after(self) -> Mapping[str, tuple[Gate, ...]]:
        """For each net, the gates that it can reach, in order."""
        reach: dict[str, set[str]] = {}
        for net in (*reversed([gate.name for gate in self.gates]), *self.inputs):
            ends = {gate for gate, _ in self.sinks[net] if gate != PIN}
            reach[net] = ends.union(*(reach[gate] for gate in ends))
        return {net: tuple(gate for gate in self.gates if gate.name in names) for net, names in reach.items()}

    @cached_property
    def depth(self) -> Mapping[str, int]:
        """Longest way from an input to each net, in gates."""
        depth = dict.fromkeys(self.inputs, 0)
        for gate in self.gates:
            depth[gate.name] = 1 + max(depth[net] for net in gate.fanin)
        return depth

    def line_at(self, gate: str, pin: int) -> Line:
        """The line that feeds this gate input: a branch, or the stem if it goes nowhere else."""
        net = self.by_name[gate].fanin[pin]
        return Line(net, gate, pin) if len(self.sinks[net]) > 1 else Line(net)

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """Every line: stems first, then branches."""
        stems = [Line(net) for net in self.sinks]
        branches = [Line(net, gate, pin) for net, ends in self.sinks.items() if len(ends) > 1 for gate, pin in ends]
        return (*stems, *branches)

    @cached_property
    def faults(self) -> tuple[Fault, ...]:
        """Every line stuck at 0 and at 1."""
        return tuple(Fault(line, value) for line in self.lines for value in (0, 1))

    @cached_property
    def collapsed(self) -> tuple[Fault, ...]:
        """One fault of each equivalence class (structural rules; XOR inputs are not equivalent to anything)."""
        return tuple(self.classes)

    @cached_property
    def classes(self) -> Mapping[Fault, tuple[Fault, ...]]:
        """Equivalence classes: the representative, and all its members."""
        parent = {fault: fault for fault in self.faults}

        def root(fault: Fault) -> Fault:
            while parent[fault] is not fault:
                parent[fault] = parent[parent[fault]]
                fault = parent[fault]
            return fault

        for gate in self.gates:
            for here, there in self._equivalences(gate):
                parent[root(here)] = root(there)
        members: dict[Fault, list[Fault]] = {}
        for fault in self.faults:
            members.setdefault(root(fault), []).append(fault)
        return {faults[0]: tuple(faults) for faults in members.values()}

    def _equivalences(self, gate: Gate) -> Iterable[tuple[Fault, Fault]]:
        """Pairs of equivalent faults across one gate."""
        for pin in range(len(gate.fanin)):
            line = self.line_at(gate.name, pin)
            if gate.kind in ("NOT", "BUFF"):
                for value in (0, 1):
                    yield Fault(line, value), Fault(Line(gate.name), value ^ (gate.kind == "NOT"))
            elif gate.kind in CONTROLLING:
                value, inverts = CONTROLLING[gate.kind]
                yield Fault(line, value), Fault(Line(gate.name), value ^ inverts)


_DECLARE = re.compile(r"(INPUT|OUTPUT)\s*\(\s*([^\s(),]+)\s*\)$", re.IGNORECASE)
_ASSIGN = re.compile(r"([^\s=(),]+)\s*=\s*([A-Za-z]+)\s*\(([^()]*)\)$")


def read_bench(text: str, name: str = "netlist") -> Netlist:
    """Read the bench form; raises PartFileError with a line for each mistake."""
    inputs: list[str] = []
    outputs: list[str] = []
    gates: list[Gate] = []
    wrong: list[str] = []
    for number, raw in enumerate(text.splitlines(), 1):
        line = raw.partition("#")[0].strip()
        if not line:
            continue
        if declared := _DECLARE.match(line):
            (inputs if declared[1].upper() == "INPUT" else outputs).append(declared[2])
        elif assigned := _ASSIGN.match(line):
            kind = {"BUF": "BUFF", "INV": "NOT"}.get(assigned[2].upper(), assigned[2].upper())
            fanin = tuple(net.strip() for net in assigned[3].split(",") if net.strip())
            if kind not in KINDS:
                wrong.append(f"{name}:{number}: found {assigned[2]}, expected one of {', '.join(KINDS)}")
            elif len(fanin) != 1 if kind in ("NOT", "BUFF") else len(fanin) < 1:
                wrong.append(f"{name}:{number}: {kind} with {len(fanin)} inputs")
            else:
                gates.append(Gate(assigned[1], kind, fanin))
        else:
            wrong.append(f"{name}:{number}: found '{line}', expected INPUT(..), OUTPUT(..) or net = GATE(..)")
    if wrong:
        raise PartFileError(tuple(wrong))
    return build(name, inputs, outputs, gates)


def build(name: str, inputs: Iterable[str], outputs: Iterable[str], gates: Iterable[Gate]) -> Netlist:
    """Sort the gates and check the netlist; raises PartFileError for loops, undriven and doubly driven nets."""
    inputs, outputs, gates = tuple(inputs), tuple(outputs), tuple(gates)
    drivers = [*inputs, *(gate.name for gate in gates)]
    wrong = [f"{name}: net {net} is driven twice" for net in sorted({n for n in drivers if drivers.count(n) > 1})]
    used = {net for gate in gates for net in gate.fanin} | set(outputs)
    wrong += [f"{name}: net {net} is driven by nothing" for net in sorted(used - set(drivers))]
    if wrong:
        raise PartFileError(tuple(wrong))
    placed = set(inputs)
    order: list[Gate] = []
    waiting = list(gates)
    while waiting:
        ready = [gate for gate in waiting if placed.issuperset(gate.fanin)]
        if not ready:
            loop = ", ".join(sorted(gate.name for gate in waiting))
            raise PartFileError((f"{name}: a loop among {loop}; a netlist here is combinational",))
        order += ready
        placed.update(gate.name for gate in ready)
        waiting = [gate for gate in waiting if gate.name not in placed]
    return Netlist(name, inputs, outputs, tuple(order))
