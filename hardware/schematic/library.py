"""Symbols of KiCad's library: their text, to be put into a schematic, and where their pins end.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import copy
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from hardware.board import sexpr
from hardware.board.sexpr import Node, Quoted

SYMBOLS = Path("/usr/share/kicad/symbols")  # Debian: kicad-symbols
OWN_POWER = {"V5": "+5V", "VBUS": "+5V"}  # our supplies, drawn as KiCad draws +5V, named as wiring.toml names them


@dataclass(frozen=True)
class Pin:
    """A pin: where it ends (mm, y up, as libraries count), towards which side its body lies (degrees), in which unit."""

    number: str
    name: str
    unit: int
    x: float
    y: float
    angle: float


@cache
def _tree(library: str) -> dict[str, Node]:
    tree = sexpr.parse((SYMBOLS / f"{library}.kicad_sym").read_text())
    return {node[1]: node for node in sexpr.children(tree, "symbol")}


@cache
def symbol(library: str, name: str) -> Node:
    """A symbol as a schematic holds it: named "library:name", what it extends filled in. KeyError if there is none."""
    if library == "bench24":
        return _renamed(symbol("power", OWN_POWER[name]), OWN_POWER[name], "bench24", name)
    node = _tree(library)[name]
    if (base := sexpr.child(node, "extends")) is None:
        return _renamed(node, name, library, name)
    full = copy.deepcopy(symbol(library, base[1]))
    full = _renamed(full, base[1], library, name)
    own = {p[1]: p for p in sexpr.children(node, "property")}
    full[:] = [own.get(item[1], item) if isinstance(item, list) and item[0] == "property" else item for item in full]
    return full


def _renamed(node: Node, old: str, library: str, new: str) -> Node:
    """A copy with its name, its units' names and, of power symbols, its pin's name changed."""
    out = copy.deepcopy(node)
    power = sexpr.child(out, "power") is not None
    out[1] = Quoted(f"{library}:{new}")
    for unit in sexpr.children(out, "symbol"):
        unit[1] = Quoted(new + unit[1].removeprefix(old))
        for pin in sexpr.children(unit, "pin"):
            name = sexpr.child(pin, "name")
            if power and name and new != old:
                name[1] = Quoted(new)
    for field in sexpr.children(out, "property"):
        if field[1] == "Value":
            field[2] = Quoted(new)
    return out


@cache
def pins(library: str, name: str) -> tuple[Pin, ...]:
    """All pins of a symbol; unit 0 is drawn in every unit."""
    out = []
    for unit in sexpr.children(symbol(library, name), "symbol"):
        number = int(unit[1].rsplit("_", 2)[1])
        for pin in sexpr.children(unit, "pin"):
            x, y, angle = sexpr.numbers(sexpr.child(pin, "at"))
            name, digits = sexpr.child(pin, "name"), sexpr.child(pin, "number")
            out.append(Pin(digits[1] if digits else "", name[1] if name else "", number, x, y, angle))
    return tuple(out)
