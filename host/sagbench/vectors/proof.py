"""Why a fault is missed: proof, where there is one, that no test can show it.

A bridge between two inputs is invisible if putting what the bridge makes of them into every
equation changes none: two inputs of one AND gate that are pulled low together, for
instance.  The equations are compared for all levels of what they read.  In the same way a
stuck reading is invisible if no equation differs: the data books of decoders print redundant gates.

A reading that is stuck inside an output's equation may matter only while a state bit's clear and set are
both on: the data books leave the bit undefined then, so that nothing can be expected of it.  And one that is stuck
inside a clear or a set may do no more than to bring about just that.  What is left is compared in three values
(`compatible`): a difference only where the part's behaviour is left open cannot be shown for sure.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from sagbench.parts.definition import Definition
from sagbench.parts.equations import Assign, Const, Expr, Name, Register, names
from sagbench.vectors.compatible import Outcome, compare
from sagbench.vectors.compile import Reading
from sagbench.vectors.faultsim import exhaustive_columns
from sagbench.vectors.pinfaults import How, PinFault

_ANY = Name("undefined", 0)               # what the data book leaves open is tried both ways; no signal can be called so
MOST = 16                                # names in an equation that are still tried in all combinations

NO_DIFFERENCE = "no test can show it: the part does the same with and without it"
LEFT_OPEN = "it shows only through what the data book leaves open"
UNDEFINED = "it shows only while clear and set act together, when the part itself is undefined"
NOT_FOUND = "not shown by the search; whether a test exists is not known"
NOT_SEARCHED = "its program does not show it, and more was not searched for: of a memory or a long counter that would take minutes"
_COMPARED = {Outcome.SAME: NO_DIFFERENCE, Outcome.OPEN: LEFT_OPEN, Outcome.UNDEFINED: UNDEFINED, Outcome.UNPROVED: NOT_FOUND}


def why_missed(definition: Definition, faults: Iterable[PinFault], searched: bool = True) -> dict[PinFault, str]:
    """The reason for each missed fault.  `searched`: whether anything beyond the part's program was looked for.
    Takes up to a second for some."""
    equations = _equations(definition)
    reasons = {}
    for fault in faults:
        if invisible(equations, fault) or redundant(definition, fault):
            reasons[fault] = NO_DIFFERENCE
        elif undefined_only(definition, fault):
            reasons[fault] = UNDEFINED
        else:
            reasons[fault] = _COMPARED[compare(definition, fault.reading, bool(fault.value))] if fault.reading else NOT_FOUND
    if not searched:
        reasons = {fault: NOT_SEARCHED if why == NOT_FOUND else why for fault, why in reasons.items()}
    return reasons


def undetectable(definition: Definition, faults: Iterable[PinFault]) -> tuple[PinFault, ...]:
    """Those of the faults that are proved to be invisible."""
    equations = _equations(definition)
    return tuple(fault for fault in faults if invisible(equations, fault) or redundant(definition, fault))


def _equations(definition: Definition, reading: Reading | None = None, level: bool = False) -> list[Expr]:
    """Everything that is computed from pins and state bits, inner wires put in their places; one reading stuck."""
    assigns, registers = list(definition.assigns), list(definition.registers)
    if reading:
        place = reading.place

        def stuck(expr: Expr | None) -> Any:
            nonlocal place
            if expr is None:
                return None
            made, place = _stuck(expr, place, level)
            return made

        assigns = [replace(a, value=stuck(a.value), enable=stuck(a.enable)) if a.target.text == reading.target else a
                   for a in assigns]
        registers = [replace(r, next=stuck(r.next), clock=stuck(r.clock), clear=stuck(r.clear), set=stuck(r.set))
                     if r.target.text == reading.target else r for r in registers]
    wires = {a.target.text: a for a in assigns}
    parts: list[Expr | None] = []
    for assign in assigns:
        if assign.target.text in definition.roles:
            parts += [assign.value, assign.enable]
    for register in registers:
        parts += [register.next, register.clock, register.clear, register.set]
    inputs = {name for name, role in definition.roles.items() if role.is_input}
    return [_inline(expr, wires, inputs) for expr in parts if expr is not None]


def redundant(definition: Definition, fault: PinFault) -> bool:
    """True if it is proved that no equation differs with a stuck reading, for all levels that can be.

    A pin that a resistor inside pulls up cannot be high while the part pulls it low.
    """
    if not fault.reading:
        return False
    pulled = {a.target.text: a.value for a in definition.assigns if a.enable == Const(True)}
    wires, inputs = {a.target.text: a for a in definition.assigns}, {n for n, r in definition.roles.items() if r.is_input}
    enables = _guards(definition)
    bad_ones = _equations(definition, fault.reading, bool(fault.value))
    for sound, bad, enable in zip(_equations(definition), bad_ones, enables, strict=True):
        if sound == bad:
            continue
        read = {name.text for expr in (sound, enable) for name in names(expr)}
        held = {n: _inline(value, wires, inputs) for n, value in pulled.items() if n in read}
        read |= {name.text for value in held.values() for name in names(value)}
        if len(read) > MOST:
            return False
        levels = dict(zip(sorted(read), exhaustive_columns(len(read)), strict=True))
        can_be = every = (1 << (1 << len(read))) - 1
        for pin, value in held.items():
            can_be &= every & ~levels[pin] | _value(value, levels, every)
        if enable is not None:
            can_be &= _value(enable, levels, every)
        if (_value(sound, levels, every) ^ _value(bad, levels, every)) & can_be:
            return False
    return True


def _guards(definition: Definition) -> list[Expr | None]:
    """For each of `_equations`: the enable without which it makes no difference (of the value of a tri-state output)."""
    wires, inputs = {a.target.text: a for a in definition.assigns}, {n for n, r in definition.roles.items() if r.is_input}
    guards: list[Expr | None] = []
    for assign in definition.assigns:
        if assign.target.text in definition.roles:
            guards += [None] if assign.enable is None else [_inline(assign.enable, wires, inputs), None]
    for register in definition.registers:
        guards += [None for expr in (register.next, register.clock, register.clear, register.set) if expr is not None]
    return guards


def _inline(expr: Expr, wires: Mapping[str, Assign], inputs: set[str]) -> Expr:
    if isinstance(expr, Name):
        if expr.text in wires and expr.text not in inputs:
            return _inline(wires[expr.text].value, wires, inputs)
        return expr
    if isinstance(expr, Const):
        return _ANY if expr.value is None else expr
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
    """True if it is proved that a stuck reading changes its output's value in undefined states only, or only makes such."""
    if any(_brings_both(definition, register, fault) for register in definition.registers):
        return True
    assign = next((a for a in definition.assigns if fault.reading and a.target.text == fault.reading.target), None)
    if not assign or not fault.reading or assign.target.text not in definition.roles:
        return False
    if fault.reading.place >= sum(1 for _ in names(assign.value)) or _ANY in names(_inline(assign.value, {}, set())):
        return False                     # in the enable; or left open by the data book for another reason
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


def _brings_both(definition: Definition, register: Register, fault: PinFault) -> bool:
    """True if a reading stuck in this bit's clear or set only ever turns it on while the other is on."""
    if not fault.reading or fault.reading.target != register.target.text or not register.clear or not register.set:
        return False
    wires, inputs = {a.target.text: a for a in definition.assigns}, {n for n, r in definition.roles.items() if r.is_input}
    before = sum(1 for expr in (register.next, register.clock) for _ in names(expr))
    place = fault.reading.place - before
    if place < 0:
        return False
    clear, place = _stuck(register.clear, place, bool(fault.value))
    high, _ = _stuck(register.set, place, bool(fault.value))
    sound = [_inline(expr, wires, inputs) for expr in (register.clear, register.set)]
    bad = [_inline(expr, wires, inputs) for expr in (clear, high)]
    read = sorted({name.text for expr in sound for name in names(expr)})
    if len(read) > MOST:
        return False
    levels = dict(zip(read, exhaustive_columns(len(read)), strict=True))
    every = (1 << (1 << len(read))) - 1
    is_clear, is_set, was_clear, was_set = (_value(expr, levels, every) for expr in (*bad, *sound))
    return not ((is_clear ^ was_clear) | (is_set ^ was_set)) & ~(is_clear & is_set)


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
