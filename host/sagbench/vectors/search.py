"""A test for one stuck-at fault, or the proof that there is none: path-oriented decision making.

Method: P. Goel, "An implicit enumeration algorithm to generate tests for
combinational logic circuits", IEEE Trans. Computers C-30 (1981): only inputs are
decided; the fault is excited, then driven through the gates at its frontier.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Sequence
from enum import Enum

from sagbench.vectors.netlist import CONTROLLING, INVERTING, PIN, Fault, Gate, Netlist

X = 2                                    # not yet known


class Answer(Enum):
    """Why there is no test."""

    UNDETECTABLE = "no input makes a difference"
    GIVEN_UP = "search allowance used up"


def _evaluate(kind: str, levels: Sequence[int]) -> int:
    """A gate in three values."""
    if kind in CONTROLLING:
        value, inverts = CONTROLLING[kind]
        if value in levels:
            return value ^ inverts
        return X if X in levels else 1 ^ value ^ inverts
    if X in levels:
        return X
    return (sum(levels) & 1) ^ (kind in INVERTING)


class _State:
    """Good and faulty levels of every net under a partial assignment of the inputs."""

    def __init__(self, netlist: Netlist, fault: Fault) -> None:
        self.netlist, self.fault = netlist, fault
        self.inputs = {net: X for net in netlist.inputs}
        self.good: dict[str, int] = {}
        self.bad: dict[str, int] = {}
        self.touched = {gate.name for gate in netlist.gates_after[fault.line.net]} | {fault.line.net}
        self.imply()

    def imply(self) -> None:
        """Recompute all levels from the inputs."""
        good, bad = self.good, self.bad
        line, stuck = self.fault.line, self.fault.value
        for net, level in self.inputs.items():
            good[net] = bad[net] = level
        if not line.gate and line.net in self.inputs:
            bad[line.net] = stuck
        for gate in self.netlist.gates:
            good[gate.name] = _evaluate(gate.kind, [good[net] for net in gate.fanin])
            if gate.name not in self.touched:
                bad[gate.name] = good[gate.name]
            elif not line.gate and gate.name == line.net:
                bad[gate.name] = stuck
            else:
                bad[gate.name] = _evaluate(gate.kind, self.bad_inputs(gate))

    def bad_inputs(self, gate: Gate) -> list[int]:
        """Faulty levels at a gate's inputs, the fault itself among them."""
        levels = [self.bad[net] for net in gate.fanin]
        if gate.name == self.fault.line.gate:
            levels[self.fault.line.pin] = self.fault.value
        return levels

    def differs(self, net: str) -> bool:
        """Good and faulty circuit are known to differ here."""
        return self.good[net] ^ self.bad[net] == 1

    def seen(self) -> bool:
        """The difference has reached an output."""
        if self.fault.line.gate == PIN:
            return self.good[self.fault.line.net] == 1 - self.fault.value
        return any(self.differs(net) for net in self.netlist.outputs)

    def objective(self) -> tuple[str, int] | None:
        """The next (net, level) to aim at; None if the fault can no longer be seen."""
        line, stuck = self.fault.line, self.fault.value
        if self.good[line.net] == stuck:
            return None
        if self.good[line.net] == X:
            return line.net, 1 - stuck
        for gate in self._frontier():
            wanted = 1 - CONTROLLING[gate.kind][0] if gate.kind in CONTROLLING else 0
            for net in gate.fanin:
                if self.good[net] == X:
                    return net, wanted
        return None

    def _frontier(self) -> list[Gate]:
        """Gates with a difference at an input, none yet at the output, and an unknown path to an output."""
        hopeful = set()
        for gate in reversed(self.netlist.gates):
            if X in (self.good[gate.name], self.bad[gate.name]):
                ends = self.netlist.sinks[gate.name]
                if any(end == PIN or end in hopeful for end, _ in ends):
                    hopeful.add(gate.name)
        found = []
        for gate in self.netlist.gates:
            if gate.name in hopeful and gate.name in self.touched:
                pairs = zip((self.good[net] for net in gate.fanin), self.bad_inputs(gate), strict=True)
                if any(good ^ bad == 1 for good, bad in pairs):
                    found.append(gate)
        return found[::-1]               # nearest to an output first

    def trace(self, net: str, level: int) -> tuple[str, int]:
        """From an aim inside back to an input that may bring it about."""
        while net not in self.inputs:
            gate = self.netlist.by_name[net]
            if gate.kind in INVERTING:
                level ^= 1
            unknown = [name for name in gate.fanin if self.good[name] == X]
            if gate.kind in ("XOR", "XNOR"):
                level ^= sum(self.good[name] for name in gate.fanin if self.good[name] != X) & 1
            easiest_last = gate.kind in CONTROLLING and CONTROLLING[gate.kind][0] != level
            net = max(unknown, key=self.depth) if easiest_last else min(unknown, key=self.depth)
        return net, level

    def depth(self, net: str) -> int:
        """How many gates lie behind a net: a cheap measure of how hard it is to set."""
        return self.netlist.depth[net]


def find_test(netlist: Netlist, fault: Fault, *, allowance: int = 5000) -> dict[str, int] | Answer:
    """A partial assignment (input: level) that detects the fault, or why there is none."""
    state = _State(netlist, fault)
    decisions: list[tuple[str, bool]] = []       # input, whether its other level was tried
    tries = 0
    while not state.seen():
        aim = state.objective()
        if aim is not None:
            net, level = state.trace(*aim)
            decisions.append((net, False))
            state.inputs[net] = level
        else:
            tries += 1
            if tries > allowance:
                return Answer.GIVEN_UP
            while decisions and decisions[-1][1]:
                state.inputs[decisions.pop()[0]] = X
            if not decisions:
                return Answer.UNDETECTABLE
            net, _ = decisions.pop()
            decisions.append((net, True))
            state.inputs[net] ^= 1
        state.imply()
    return {net: level for net, level in state.inputs.items() if level != X}
