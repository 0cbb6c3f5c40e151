"""A part's equations compiled to straight-line bitwise Python: many faulty copies of the part in one run.

A signal is two integers: bit k of `one` set means surely high in lane k, of `zero`
surely low, neither unknown.  The source text handed to Python is made of numbered
variables and operators only; nothing from a part file reaches it.

A reading is the occurrence of a name in an equation.  Each is a place where
the inside of the part can be stuck: on a tree of gates, faults at the inputs and at the
fan-out branches stand for all others (the checkpoint theorem, Bossen and Hong 1971).
But the condition of `c ? undefined : x` is no wire of the part: it says where the data book is silent.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

from sagbench.parts.definition import Definition
from sagbench.parts.equations import Assign, Const, Expr, Name, Register, names, statement_names
from sagbench.parts.model import Role

Levels = list[int]
Evaluate = Callable[[Levels, Levels, Levels, Levels, int, Levels, Levels, Levels, Levels], Levels]


@dataclass(frozen=True)
class Reading:
    """One occurrence of `name` in the statement for `target`."""

    name: str
    target: str
    number: int                          # among all readings
    place: int                           # among the readings of that statement
    of_book: bool = False                # only says where the data book leaves something open

    def __str__(self) -> str:
        return f"{self.name} as read by {self.target}"


@dataclass(frozen=True)
class Bit:
    """Where a state bit's signals are in the result of `evaluate`; -1 for what it has not."""

    name: str
    next: int
    clock: int
    edge: str
    clear: int
    set: int


@dataclass(frozen=True)
class Drive:
    """Where an output's signals are in the result of `evaluate`; `enable` -1 if it always drives."""

    name: str
    role: Role
    value: int
    enable: int


@dataclass(frozen=True)
class Compiled:
    """A definition made ready to run.

    `evaluate(pin1, pin0, state1, state0, every, f1, f0, k1, k0)` takes levels as seen at the pins
    (order of `pins`) and of the state bits (order of `bits`), and masks for each reading
    (lanes stuck at 1, stuck at 0, and their complements); it gives the signals wanted, `one` and `zero`
    in turn: signal s of a Bit or Drive is at 2s and 2s + 1.  `plain` takes the same and has no faults inside.
    """

    roles: Mapping[str, Role]
    pins: tuple[str, ...]                # all that can take a level
    bits: tuple[Bit, ...]
    drives: tuple[Drive, ...]
    readings: tuple[Reading, ...]
    plain: Evaluate
    evaluate: Evaluate
    rippling: int                        # bits that can change because another one has, with no pin changing


def compile_part(definition: Definition) -> Compiled:
    """Write and compile both forms of a definition's equations."""
    plain, faulty = _Writer(definition, False), _Writer(definition, True)
    function = faulty.function()
    return Compiled(definition.roles, faulty.pins, tuple(faulty.bits), tuple(faulty.drives), _marked(faulty),
                    plain.function(), function, _rippling(definition))


def _rippling(definition: Definition) -> int:
    """How many state bits another bit can clock, let through, clear or set: so many times may a change be handed on."""
    bits = {r.target.text for r in definition.registers}
    wires = {a.target.text: a for a in definition.assigns}
    depends: dict[str, bool] = dict.fromkeys(bits, True)

    def on_a_bit(name: str) -> bool:
        if name not in depends:
            depends[name] = False        # a loop of wires is none of bits
            depends[name] = name in wires and any(on_a_bit(n.text) for n in statement_names(wires[name]))
        return depends[name]

    def moved(register: Register) -> bool:
        parts = [register.clock, register.clear, register.set, *([] if register.edge else [register.next])]
        return any(on_a_bit(n.text) for part in parts for n in names(part))

    return sum(map(moved, definition.registers))


def _marked(writer: _Writer) -> tuple[Reading, ...]:
    """The readings; those in a wire that serves only to say where the book is silent say no more than that themselves."""
    readings = writer.readings
    while True:
        wires = writer.assigns.keys() - writer.roles.keys() - {r.name for r in readings if not r.of_book}
        more = [replace(r, of_book=r.of_book or r.target in wires) for r in readings]
        if more == readings:
            return tuple(readings)
        readings = more


class _Writer:
    """Writes the source of one evaluate function."""

    def __init__(self, definition: Definition, with_faults: bool) -> None:
        self.roles = definition.roles
        self.pins = tuple(name for name, role in self.roles.items() if role.is_input)
        self.registers = definition.registers
        self.assigns = {a.target.text: a for a in definition.assigns}
        self.with_faults = with_faults
        self.bits: list[Bit] = []
        self.drives: list[Drive] = []
        self.lines: list[str] = []
        self.known: dict[str, str] = {}          # signal name -> variable
        self.readings: list[Reading] = []
        self.results: list[str] = []
        self.count = 0

    def function(self) -> Evaluate:
        for place, name in enumerate(self.pins):
            self.known[name] = self.signal(f"p1[{place}]", f"p0[{place}]")
        for place, register in enumerate(self.registers):
            self.known[register.target.text] = self.signal(f"s1[{place}]", f"s0[{place}]")
        self.bits = [Bit(r.target.text, self.result(r.next, r), self.result(r.clock, r), r.edge,
                         self.result(r.clear, r), self.result(r.set, r)) for r in self.registers]
        for name, assign in self.assigns.items():
            if name in self.roles:
                value = self.place(self.assigned(name))
                self.drives.append(Drive(name, self.roles[name], value, self.result(assign.enable, assign)))
        values = ", ".join(f"{v}, {self.low(v)}" for v in self.results)
        text = "def evaluate(p1, p0, s1, s0, every, f1, f0, k1, k0):\n " + "\n ".join([*self.lines, f"return [{values}]"])
        space: dict[str, Evaluate] = {}
        exec(compile(text, "<equations>", "exec"), {"__builtins__": {}}, space)
        return space["evaluate"]

    @staticmethod
    def low(variable: str) -> str:
        return "z" + variable[1:]

    def signal(self, one: str, zero: str) -> str:
        """A new pair of variables a<n> (one) and z<n> (zero)."""
        self.count += 1
        self.lines.append(f"a{self.count} = {one}; z{self.count} = {zero}")
        return f"a{self.count}"

    def place(self, variable: str) -> int:
        self.results.append(variable)
        return len(self.results) - 1

    def result(self, expr: Expr | None, of: Assign | Register) -> int:
        return -1 if expr is None else self.place(self.expr(expr, of.target.text))

    def assigned(self, name: str) -> str:
        """The variable of an assigned name's own value (for a bidirectional pin: what it would drive)."""
        if name in self.known and name not in self.pins:
            return self.known[name]
        variable = self.expr(self.assigns[name].value, name)
        if name not in self.pins:
            self.known[name] = variable
        return variable

    def read(self, name: str, target: str, of_book: bool) -> str:
        """One reading of a name: the place of a fault."""
        if name not in self.known:
            self.assigned(name)
        variable = self.known[name]
        k = len(self.readings)
        self.readings.append(Reading(name, target, k, sum(r.target == target for r in self.readings), of_book))
        if not self.with_faults:
            return variable
        return self.signal(f"({variable} | f1[{k}]) & k0[{k}]", f"({self.low(variable)} | f0[{k}]) & k1[{k}]")

    def expr(self, expr: Expr, target: str, of_book: bool = False) -> str:
        if isinstance(expr, Name):
            return self.read(expr.text, target, of_book)
        if isinstance(expr, Const):
            return self.signal("every" if expr.value else "0", "every" if expr.value is False else "0")     # undefined: neither
        silent = expr.sign == "?" and Const(None) in expr.args[1:]
        args = [self.expr(arg, target, of_book or silent and place == 0) for place, arg in enumerate(expr.args)]
        one, zero = args, [self.low(arg) for arg in args]
        if expr.sign == "!":
            return self.signal(zero[0], one[0])
        if expr.sign == "&":
            return self.signal(" & ".join(one), " | ".join(zero))
        if expr.sign == "|":
            return self.signal(" | ".join(one), " & ".join(zero))
        if expr.sign == "^":
            (a, b), (na, nb) = one, zero
            return self.signal(f"{a} & {nb} | {na} & {b}", f"{a} & {b} | {na} & {nb}")
        (c, a, b), (nc, na, nb) = one, zero      # c ? a : b, known too if c is not but a and b agree
        return self.signal(f"{c} & {a} | {nc} & {b} | {a} & {b}", f"{c} & {na} | {nc} & {nb} | {na} & {nb}")
