"""Why a fault is missed: proof, where there is one, that no test can show it.

A bridge between two inputs is invisible if putting what the bridge makes of them into every
equation changes none: two inputs of one AND gate that are pulled low together, for
instance.  The equations are compared for all levels of what they read.

A reading that is stuck inside an output's equation may matter only while a state bit's clear and set are
both on: the data books leave the bit undefined then, so that nothing can be expected of it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping

from sagbench.parts.definition import Definition
from sagbench.parts.equations import Assign, Const, Expr, Name, names
from sagbench.vectors.faultsim import exhaustive_columns
from sagbench.vectors.pinfaults import How, PinFault

MOST = 16                                # names in an equation that are still tried in all combinations

NO_DIFFERENCE = "no test can show it: the part does the same with and without it"
UNDEFINED = "it shows only while clear and set act together, when the part itself is undefined"
NOT_FOUND = "not shown by the search; whether a test exists is not known"


def why_missed(definition: Definition, faults: Iterable[PinFault]) -> dict[PinFault, str]:
    """The reason for each missed fault."""
    equations = _equations(definition)
    reasons = {}
    for fault in faults:
        if invisible(equations, fault):
            reasons[fault] = NO_DIFFERENCE
        else:
            reasons[fault] = UNDEFINED if undefined_only(definition, fault) else NOT_FOUND
    return reasons


def undetectable(definition: Definition, faults: Iterable[PinFault]) -> tuple[PinFault, ...]:
    """Those of the faults that are proved to be invisible."""
    equations = _equations(definition)
    return tuple(fault for fault in faults if invisible(equations, fault))


def _equations(definition: Definition) -> list[Expr]:
    """Everything that is computed from pins and state bits, inner wires put in their places."""
    wires = {a.target.text: a for a in definition.assigns}
    parts: list[Expr | None] = []
    for assign in definition.assigns:
        if assign.target.text in definition.roles:
            parts += [assign.value, assign.enable]
    for register in definition.registers:
        parts += [register.next, register.clock, register.clear, register.set]
    inputs = {name for name, role in definition.roles.items() if role.is_input}
    return [_inline(expr, wires, inputs) for expr in parts if expr is not None]


def _inline(expr: Expr, wires: Mapping[str, Assign], inputs: set[str]) -> Expr:
    if isinstance(expr, Name):
        if expr.text in wires and expr.text not in inputs:
            return _inline(wires[expr.text].value, wires, inputs)
        return expr
    if isinstance(expr, Const):
        return expr
    return type(expr)(expr.sign, tuple(_inline(arg, wires, inputs) for arg in expr.args))


def invisible(equations: Iterable[Expr], fault: PinFault) -> bool:
    """True if it is proved that a bridge of two input pins changes no equation."""
    if not fault.how:
        return False
    for expr in equations:
        read = sorted({name.text for name in names(expr)} | {fault.pin, fault.other})
        if not {name.text for name in names(expr)} & {fault.pin, fault.other}:
            continue
        if len(read) > MOST:
            return False
        levels = dict(zip(read, exhaustive_columns(len(read)), strict=True))
        every = (1 << (1 << len(read))) - 1
        a, b = levels[fault.pin], levels[fault.other]
        mixed = {How.FIRST: (a, a), How.SECOND: (b, b), How.AND: (a & b, a & b)}[fault.how]
        if _value(expr, levels, every) != _value(expr, {**levels, fault.pin: mixed[0], fault.other: mixed[1]}, every):
            return False
    return True


def undefined_only(definition: Definition, fault: PinFault) -> bool:
    """True if it is proved that a stuck reading changes its output's value in undefined states only."""
    assign = next((a for a in definition.assigns if fault.reading and a.target.text == fault.reading.target), None)
    if not assign or not fault.reading or assign.target.text not in definition.roles:
        return False
    if fault.reading.place >= sum(1 for _ in names(assign.value)):
        return False                     # in the enable
    bits = [r for r in definition.registers if r.target.text in {name.text for name in names(assign.value)}]
    forces = [expr for r in bits for expr in (r.clear, r.set) if expr is not None]
    read = sorted({name.text for expr in (assign.value, *forces) for name in names(expr)})
    if len(read) > MOST or not forces:
        return False
    levels = dict(zip(read, exhaustive_columns(len(read)), strict=True))
    every = (1 << (1 << len(read))) - 1
    defined = every                      # combinations that a part in a defined state can be in
    for register in bits:
        bit = levels[register.target.text]
        clear = _value(register.clear, levels, every) if register.clear else 0
        high = _value(register.set, levels, every) if register.set else 0
        defined &= every & ~(clear & high) & ~(clear & bit) & ~(high & ~bit)
    stuck, _ = _stuck(assign.value, fault.reading.place, bool(fault.value))
    return not (_value(assign.value, levels, every) ^ _value(stuck, levels, every)) & defined


def _stuck(expr: Expr, place: int, level: bool) -> tuple[Expr, int]:
    """The expression with its reading number `place` made constant, and the number left to count down."""
    if isinstance(expr, Name):
        return (Const(level) if place == 0 else expr), place - 1
    if isinstance(expr, Const):
        return expr, place
    args = []
    for arg in expr.args:
        made, place = _stuck(arg, place, level)
        args.append(made)
    return type(expr)(expr.sign, tuple(args)), place


def _value(expr: Expr, levels: Mapping[str, int], every: int) -> int:
    if isinstance(expr, Name):
        return levels[expr.text]
    if isinstance(expr, Const):
        return every if expr.value else 0
    args = [_value(arg, levels, every) for arg in expr.args]
    if expr.sign == "!":
        return every & ~args[0]
    if expr.sign == "?":
        return args[0] & args[1] | every & ~args[0] & args[2]
    return {"&": args[0] & args[1], "|": args[0] | args[1], "^": args[0] ^ args[1]}[expr.sign]
