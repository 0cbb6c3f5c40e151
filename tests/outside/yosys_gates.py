"""Runs a gate netlist in Yosys' JSON form, many machines side by side: bit k of every signal belongs to machine k.

Meaning of the cells: Yosys manual, section "Gate-level cell library": the letters after the type give the active edge or
level (P, N) of clock, set, reset, enable, in this order, and the value after reset (0, 1).  No cell is left unsupported silently.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import json
from collections.abc import Mapping
from importlib.util import find_spec
from pathlib import Path

Bit = int | str                          # a net's number, or the constant "0", "1", "x"
ROUNDS = 50
GATES = {"$_NOT_": lambda a, b, s, e: ~a, "$_AND_": lambda a, b, s, e: a & b, "$_OR_": lambda a, b, s, e: a | b,
         "$_XOR_": lambda a, b, s, e: a ^ b, "$_MUX_": lambda a, b, s, e: a & ~s | b & s, "$_TBUF_": lambda a, b, s, e: a}


def folder() -> Path:
    """Where the package digsim-logic-simulator keeps its netlists; it is not imported (that would open a window system)."""
    spec = find_spec("digsim")
    if spec is None or not spec.submodule_search_locations:
        raise FileNotFoundError("digsim-logic-simulator is missing: run `make setup`")
    return Path(next(iter(spec.submodule_search_locations))) / "circuit/components/ic"


class Netlist:
    """One chip; all its state bits begin at 0."""

    def __init__(self, name: str, machines: int) -> None:
        module = next(iter(json.loads((folder() / f"{name}.json").read_text())["modules"].values()))
        self.every = (1 << machines) - 1
        self.ports: dict[str, list[Bit]] = {port: said["bits"] for port, said in module["ports"].items()}
        self.nets: dict[Bit, int] = {"0": 0, "1": self.every, "x": 0}
        self.off: dict[Bit, int] = {}    # nets behind a tri-state buffer: machines in which it is off
        self.gates, self.states = [], []
        for cell in module["cells"].values():
            pins = {pin: bits[0] for pin, bits in cell["connections"].items()}
            (self.gates if cell["type"] in GATES else self.states).append((cell["type"], pins))
        for kind, _ in self.states:
            if not kind.startswith(("$_DFF", "$_SDFF", "$_DLATCH")):
                raise ValueError(f"{name}: cell {kind} is not known here")
        self.clocks: dict[Bit, int] = {}
        self.settle()

    def get(self, bit: Bit) -> int:
        """Machines in which a net is high."""
        return self.nets.get(bit, 0)

    def set(self, levels: Mapping[Bit, int]) -> None:
        """Apply input nets, each with its level in every machine."""
        self.nets.update(levels)
        self.settle()

    def settle(self) -> None:
        """Gates until nothing changes, then one round of the state bits; again until those rest too."""
        for _ in range(ROUNDS):
            self._gates()
            if not self._states():
                return
        raise ValueError("the netlist does not come to rest")

    def _gates(self) -> None:
        for _ in range(ROUNDS):
            before = dict(self.nets)
            for kind, pins in self.gates:
                a, b, s, e = (self.get(pins[p]) if p in pins else 0 for p in "ABSE")
                self.nets[pins["Y"]] = GATES[kind](a, b, s, e) & self.every
                if kind == "$_TBUF_":
                    self.off[pins["Y"]] = self.every & ~e
            if self.nets == before:
                return
        raise ValueError("the gates do not come to rest")

    def _level(self, bit: Bit, active: str) -> int:
        return self.get(bit) if active == "P" else self.every & ~self.get(bit)

    def _states(self) -> bool:
        new = {pins["Q"]: self._next(kind, pins) for kind, pins in self.states}
        for _, pins in self.states:
            if "C" in pins:
                self.clocks[pins["C"]] = self.get(pins["C"])
        changed = any(self.get(bit) != value for bit, value in new.items())
        self.nets.update(new)
        return changed

    def _next(self, kind: str, pins: Mapping[str, Bit]) -> int:
        family, letters = kind.strip("$_").split("_")
        held, data = self.get(pins["Q"]), self.get(pins["D"])
        if family == "DLATCH":
            gate = self._level(pins["E"], letters[0])
            return data & gate | held & ~gate
        now, was = self.get(pins["C"]), self.clocks.get(pins["C"], self.get(pins["C"]))
        edge = now & ~was if letters[0] == "P" else was & ~now & self.every
        if family.endswith("E"):
            edge &= self._level(pins["E"], letters[-1])
        if family.startswith("SDFF"):    # reset at the clock; in SDFFE it needs no enable
            reset = self._level(pins["R"], letters[1])
            clocked = now & ~was if letters[0] == "P" else was & ~now & self.every
            after = held & ~edge | data & edge
            value = self.every if letters[2] == "1" else 0
            return after & ~(reset & clocked) | value & reset & clocked
        after = held & ~edge | data & edge
        if family.startswith("DFFSR"):
            force, reset = self._level(pins["S"], letters[1]), self._level(pins["R"], letters[2])
            return (after | force) & ~reset
        if "R" in pins:
            reset = self._level(pins["R"], letters[1])
            return after & ~reset | (reset if letters[2] == "1" else 0)
        return after
