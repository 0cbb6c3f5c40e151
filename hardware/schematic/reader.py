"""Read the netlist back from a KiCad schematic, from nothing but its files.

Which pins are joined follows from where wires, labels, junctions and pins lie, as KiCad 6 joins them: at ends, at
junctions, and by equal names of global labels and of supply symbols.  Shares nothing with the code that draws.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hardware.board import sexpr
from hardware.board.sexpr import Node

Point = tuple[int, int]  # micrometres, y down


@dataclass(frozen=True)
class SchematicPin:
    """A pin of a symbol on a sheet."""

    ref: str
    number: str
    name: str
    at: Point
    names: bool  # joins the net it is named after: supply symbols, and hidden supply pins of chips


def place(values: list[float]) -> Point:
    """Millimetres -> micrometres, whole, so that places can be compared."""
    return round(values[0] * 1000), round(values[1] * 1000)


def _field(symbol: Node, name: str) -> str:
    return next((p[2] for p in sexpr.children(symbol, "property") if p[1] == name), "")


def _matrix(symbol: Node) -> tuple[float, float, float, float]:
    """Library coordinates (y up) -> sheet (y down): turned counter-clockwise, then mirrored about an axis."""
    angle = math.radians(([*sexpr.numbers(sexpr.child(symbol, "at")), 0.0, 0.0, 0.0])[2])
    c, s = math.cos(angle), math.sin(angle)
    a, b, d, e = c, -s, -s, -c  # x' = a x + b y, y' = d x + e y
    mirror = sexpr.child(symbol, "mirror")
    if mirror and mirror[1] == "x":
        d, e = -d, -e
    elif mirror and mirror[1] == "y":
        a, b = -a, -b
    return a, b, d, e


def pins(tree: Node) -> Iterator[SchematicPin]:
    """Pins of all symbols on a sheet, those of the placed unit and of unit 0."""
    library = {s[1]: s for s in sexpr.children(sexpr.child(tree, "lib_symbols") or [], "symbol")}
    for symbol in sexpr.children(tree, "symbol"):
        own = sexpr.child(symbol, "lib_name") or sexpr.child(symbol, "lib_id")
        drawing = library[(own or ["", ""])[1]]
        x, y = sexpr.numbers(sexpr.child(symbol, "at"))[:2]
        a, b, d, e = _matrix(symbol)
        placed = int((sexpr.child(symbol, "unit") or ["", "1"])[1])
        power = sexpr.child(drawing, "power") is not None
        for unit in sexpr.children(drawing, "symbol"):
            number, style = (int(n) for n in unit[1].rsplit("_", 2)[1:])
            if number not in (0, placed) or style not in (0, 1):
                continue
            for pin in sexpr.children(unit, "pin"):
                px, py = sexpr.numbers(sexpr.child(pin, "at"))[:2]
                at = place([x + a * px + b * py, y + d * px + e * py])
                name, digits = (sexpr.child(pin, k) or ["", ""] for k in ("name", "number"))
                names = pin[1] == "power_in" and (power or "hide" in pin)
                yield SchematicPin(_field(symbol, "Reference"), digits[1], name[1], at, names)


class Union:
    """Sets of things that are joined."""

    def __init__(self) -> None:
        self.parent: dict[object, object] = {}

    def root(self, thing: object) -> object:
        self.parent.setdefault(thing, thing)
        while self.parent[thing] != thing:
            self.parent[thing] = thing = self.parent[self.parent[thing]]
        return thing

    def join(self, a: object, b: object) -> None:
        self.parent[self.root(a)] = self.root(b)


def _between(p: Point, a: Point, b: Point) -> bool:
    """Whether p lies on the line from a to b."""
    cross = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])
    return cross == 0 and min(a[0], b[0]) <= p[0] <= max(a[0], b[0]) and min(a[1], b[1]) <= p[1] <= max(a[1], b[1])


def sheets(root: Path) -> list[tuple[str, Node]]:
    """The root and the sheets it names, each with a name of its own (sheets below sheets as well)."""
    out = [(root.name, sexpr.parse(root.read_text()))]
    for _, tree in out:
        for box in sexpr.children(tree, "sheet"):
            file = root.parent / _field(box, "Sheet file")
            out.append((f"{file.name} {len(out)}", sexpr.parse(file.read_text())))
    return out


def join_sheet(joined: Union, name: str, tree: Node) -> list[tuple[SchematicPin, object]]:
    """Join what one sheet joins; its pins, each with its point."""
    wires = [
        tuple(place(sexpr.numbers(xy)) for xy in sexpr.children(sexpr.child(w, "pts") or [], "xy"))
        for w in sexpr.children(tree, "wire")
    ]
    for a, b in wires:
        joined.join((name, a), (name, b))
    spots = [place(sexpr.numbers(sexpr.child(j, "at"))) for j in sexpr.children(tree, "junction")]
    labels = [
        (kind, node[1], place(sexpr.numbers(sexpr.child(node, "at"))))
        for kind in ("global_label", "label")
        for node in sexpr.children(tree, kind)
    ]
    for spot in spots + [at for _, _, at in labels]:
        for a, b in wires:
            if _between(spot, a, b):
                joined.join((name, spot), (name, a))
    for kind, text, at in labels:
        joined.join((name, at), ("net", text) if kind == "global_label" else ("net of", name, text))
    found = [(pin, (name, pin.at)) for pin in pins(tree)]
    for pin, point in found:
        if pin.names:
            joined.join(point, ("net", pin.name))
    return found


def netlist(root: Path) -> dict[str, set[tuple[str, str]]]:
    """Net -> pins (designator, number). A net of two names is called "A = B", one without a name by its first pin."""
    joined = Union()
    found = [pin for name, tree in sheets(root) for pin in join_sheet(joined, name, tree)]
    names: dict[object, str] = {}
    for key in [k for k in joined.parent if isinstance(k, tuple) and k[0] == "net"]:
        root_of = joined.root(key)
        names[root_of] = f"{names[root_of]} = {key[1]}" if root_of in names else str(key[1])
    out: dict[str, set[tuple[str, str]]] = {}
    for pin, point in sorted(found, key=lambda f: (f[0].ref, f[0].number)):
        if not pin.ref.startswith("#"):
            net = names.setdefault(joined.root(point), f"{pin.ref}.{pin.number}")
            out.setdefault(net, set()).add((pin.ref, pin.number))
    return out
