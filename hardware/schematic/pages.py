"""What a sheet of the schematic looks like: its file -> strokes and words, ready for paper.

Reads the .kicad_sch file, not what drew it, so that the pages show what is committed.  Lengths in mm, y down.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from hardware.board import sexpr
from hardware.board.geometry import arc, circle
from hardware.board.sexpr import Node

Point = tuple[float, float]
PAPER = (297.0, 210.0)
COLOURS = {"wire": "#006000", "symbol": "#801010", "label": "#0B3C8C", "word": "#202020", "frame": "#606060"}


@dataclass(frozen=True)
class Stroke:
    """A line through points; filled if so said."""

    points: tuple[Point, ...]
    colour: str
    width: float = 0.15
    filled: bool = False


@dataclass(frozen=True)
class Word:
    """A line of text: baseline's anchor, height of its capitals, "left", "middle" or "right", degrees counter-clockwise."""

    say: str
    at: Point
    size: float
    anchor: str
    degrees: float
    colour: str


Mark = Stroke | Word
Map = Callable[[float, float], Point]


def _justify(node: Node) -> str:
    effects = sexpr.child(node, "effects") or ["effects"]
    justify = sexpr.child(effects, "justify") or ["justify"]
    return "left" if "left" in justify else "right" if "right" in justify else "middle"


def _hidden(node: Node) -> bool:
    return "hide" in (sexpr.child(node, "effects") or []) or "hide" in node


def _outline(item: Node) -> list[list[float]]:
    """Corners of a graphic item of a symbol, y up."""
    kind = item[0]
    if kind == "polyline":
        return [sexpr.numbers(p) for p in sexpr.children(sexpr.child(item, "pts") or [], "xy")]
    if kind == "rectangle":
        a, b = sexpr.numbers(sexpr.child(item, "start")), sexpr.numbers(sexpr.child(item, "end"))
        return [a, [b[0], a[1]], b, [a[0], b[1]], a]
    if kind == "circle":
        centre, radius = sexpr.numbers(sexpr.child(item, "center")), sexpr.numbers(sexpr.child(item, "radius"))[0]
        return circle(centre, [centre[0] + radius, centre[1]], 2 * math.pi)
    if kind == "arc":
        return arc(*(sexpr.numbers(sexpr.child(item, k)) for k in ("start", "mid", "end")))
    return []


def _shapes(unit: Node, to: Map) -> Iterator[Mark]:
    for item in unit[2:]:
        if isinstance(item, list) and (corners := _outline(item)):
            fill = sexpr.child(sexpr.child(item, "fill") or [], "type") or ["", "none"]
            yield Stroke(tuple(to(x, y) for x, y in corners), "symbol", 0.2, fill[1] == "outline")


def _pin(pin: Node, to: Map, names: bool, numbers: bool, offset: float) -> Iterator[Mark]:
    """A pin's line, its name inside the body, its number over the line."""
    x, y, angle = sexpr.numbers(sexpr.child(pin, "at"))
    length = sexpr.numbers(sexpr.child(pin, "length"))[0]
    ux, uy = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    end, body = to(x, y), to(x + length * ux, y + length * uy)
    if length:
        yield Stroke((end, body), "symbol")
    dx, dy = body[0] - end[0], body[1] - end[1]
    flat = abs(dx) >= abs(dy)
    name, number = ((sexpr.child(pin, k) or ["", ""])[1] for k in ("name", "number"))
    if number and not numbers:
        middle = ((end[0] + body[0]) / 2, (end[1] + body[1]) / 2)
        yield Word(
            number,
            (middle[0], middle[1] - 0.3) if flat else (middle[0] - 0.3, middle[1]),
            1.0,
            "middle",
            0 if flat else 90,
            "symbol",
        )
    if name not in ("", "~") and not names:
        inner = to(x + (length + max(offset, 0.5)) * ux, y + (length + max(offset, 0.5)) * uy)
        anchor = "left" if (dx > 0 if flat else dy < 0) else "right"
        yield Word(
            name.replace("~{", "/").replace("}", ""),
            (inner[0], inner[1] + 0.45) if flat else (inner[0] + 0.45, inner[1]),
            1.0,
            anchor,
            0 if flat else 90,
            "symbol",
        )


def _symbol(symbol: Node, library: dict[str, Node]) -> Iterator[Mark]:
    drawing = library[(sexpr.child(symbol, "lib_id") or ["", ""])[1]]
    x, y, angle = sexpr.numbers(sexpr.child(symbol, "at"))
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    flip = -1 if sexpr.child(symbol, "mirror") else 1

    def to(u: float, v: float) -> Point:
        v = -v
        return x + u * c + v * s, y + flip * (v * c - u * s)

    hide_names, hide_numbers = ("hide" in (sexpr.child(drawing, k) or []) for k in ("pin_names", "pin_numbers"))
    offset = (sexpr.numbers(sexpr.child(sexpr.child(drawing, "pin_names") or [], "offset")) or [0.5])[0]
    placed = int((sexpr.child(symbol, "unit") or ["", "1"])[1])
    several = len({u[1].rsplit("_", 2)[1] for u in sexpr.children(drawing, "symbol")} - {"0"}) > 1
    for unit in sexpr.children(drawing, "symbol"):
        if int(unit[1].rsplit("_", 2)[1]) in (0, placed):
            yield from _shapes(unit, to)
            for pin in sexpr.children(unit, "pin"):
                if "hide" not in pin:
                    yield from _pin(pin, to, hide_names, hide_numbers, offset)
    for field in sexpr.children(symbol, "property"):
        if field[1] in ("Reference", "Value") and not _hidden(field):
            fx, fy, turned = sexpr.numbers(sexpr.child(field, "at"))
            upright = (turned + angle) % 180 == 90
            anchor = _justify(field)
            if angle == 180:
                anchor = {"left": "right", "right": "left"}.get(anchor, anchor)
            say = field[2] + (chr(64 + placed) if field[1] == "Reference" and several else "")
            yield Word(
                say, (fx + (0.6 if upright else 0), fy + (0 if upright else 0.6)), 1.27, anchor, 90 if upright else 0, "word"
            )


def _label(node: Node) -> Iterator[Mark]:
    """A global label: its text in a flag."""
    x, y, angle = sexpr.numbers(sexpr.child(node, "at"))
    wide, high = len(node[1]) * 1.15 + 1.6, 1.1
    ux, uy = math.cos(math.radians(angle)), -math.sin(math.radians(angle))
    corners = [(0, 0), (0.8, -high), (wide, -high), (wide, high), (0.8, high), (0, 0)]
    yield Stroke(tuple((x + u * ux - v * uy, y + u * uy + v * ux) for u, v in corners), "label", 0.12)
    flat = angle % 180 == 0
    at = (x + 1.1 * ux + (0 if flat else 0.55), y + 1.1 * uy + (0.55 if flat else 0))
    yield Word(node[1], at, 1.15, "left" if angle in (0, 90) else "right", 0 if flat else 90, "label")


def page(tree: Node) -> list[Mark]:
    """Everything on a sheet."""
    library = {s[1]: s for s in sexpr.children(sexpr.child(tree, "lib_symbols") or [], "symbol")}
    out: list[Mark] = [Stroke(((10, 10), (287, 10), (287, 200), (10, 200), (10, 10)), "frame", 0.2)]
    title = sexpr.child(tree, "title_block") or []
    for n, key in enumerate(("title", "comment")):
        if node := sexpr.child(title, key):
            out.append(Word(node[-1], (284, 192 + 5 * n), 2.4 - 0.9 * n, "right", 0, "word"))
    for wire in sexpr.children(tree, "wire"):
        points = [sexpr.numbers(p) for p in sexpr.children(sexpr.child(wire, "pts") or [], "xy")]
        out.append(Stroke(tuple((p[0], p[1]) for p in points), "wire"))
    for junction in sexpr.children(tree, "junction"):
        x, y = sexpr.numbers(sexpr.child(junction, "at"))
        out.append(Stroke(tuple((p[0], p[1]) for p in circle([x, y], [x + 0.45, y], 2 * math.pi)), "wire", 0.1, True))
    for cross in sexpr.children(tree, "no_connect"):
        x, y = sexpr.numbers(sexpr.child(cross, "at"))
        out += [Stroke(((x - 0.45, y - 0.45 * k), (x + 0.45, y + 0.45 * k)), "label") for k in (1, -1)]
    for symbol in sexpr.children(tree, "symbol"):
        out += _symbol(symbol, library)
    for label in sexpr.children(tree, "global_label"):
        out += _label(label)
    for text in sexpr.children(tree, "text"):
        x, y = sexpr.numbers(sexpr.child(text, "at"))[:2]
        size = sexpr.numbers(sexpr.child(sexpr.child(sexpr.child(text, "effects") or [], "font") or [], "size"))[0]
        lines = text[1].split("\n")
        out += [Word(line, (x, y + (i - len(lines) + 1) * size * 1.7), size, "left", 0, "word") for i, line in enumerate(lines)]
    for box in sexpr.children(tree, "sheet"):
        out += _box(box)
    return out


def _box(box: Node) -> Iterator[Mark]:
    """A sheet on the first page."""
    (x, y), (w, h) = sexpr.numbers(sexpr.child(box, "at")), sexpr.numbers(sexpr.child(box, "size"))
    yield Stroke(((x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)), "symbol", 0.2)
    for field in sexpr.children(box, "property"):
        fx, fy = sexpr.numbers(sexpr.child(field, "at"))[:2]
        yield Word(field[2], (fx, fy + (1.5 if field[1] == "Sheet file" else 0)), 1.5, "left", 0, "word")
