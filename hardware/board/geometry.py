"""Sizes of bodies and pads, read from KiCad's footprint library as text: what placer and router work with.

Lengths in mm, y down, relative to the footprint's origin (its first pad).

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from hardware.board import sexpr

FOOTPRINTS = Path("/usr/share/kicad/footprints")  # Debian: kicad-footprints


@dataclass(frozen=True)
class Pad:
    """One pad: centre, size, drill; `shape` is circle, oval, rect or roundrect."""

    number: str
    x: float
    y: float
    width: float
    height: float
    drill: float
    shape: str


@dataclass(frozen=True)
class Body:
    """A footprint: its pads, and the rectangle no other part may enter (courtyard x0, y0, x1, y1)."""

    pads: tuple[Pad, ...]
    court: tuple[float, float, float, float]


@cache
def body(library: str, name: str) -> Body:
    """A footprint of KiCad's library. FileNotFoundError if it is not installed or has no such footprint."""
    tree = sexpr.parse((FOOTPRINTS / f"{library}.pretty" / f"{name}.kicad_mod").read_text())
    pads = []
    for node in sexpr.children(tree, "pad"):
        x, y, *_ = sexpr.numbers(sexpr.child(node, "at"))
        width, height = sexpr.numbers(sexpr.child(node, "size"))
        pads.append(Pad(node[1], x, y, width, height, max(sexpr.numbers(sexpr.child(node, "drill")) or [0.0]), node[3]))
    corners = [end for a, b, _ in drawn(tree, "F.CrtYd") for end in (a, b)]
    xs, ys = [c[0] for c in corners], [c[1] for c in corners]
    return Body(tuple(pads), (min(xs), min(ys), max(xs), max(ys)))


Line = tuple[list[float], list[float], float]  # from, to, pen


def drawn(tree: sexpr.Node, layer: str) -> list[Line]:
    """What is drawn on a layer of a footprint, as straight lines; circles and arcs in pieces of at most 15 degrees."""
    out: list[Line] = []
    for kind in ("fp_line", "fp_rect", "fp_circle", "fp_arc"):
        for node in sexpr.children(tree, kind):
            if (on := sexpr.child(node, "layer")) is None or on[1] != layer:
                continue
            pen = sexpr.numbers(sexpr.child(node, "width"))[0]
            a = sexpr.numbers(sexpr.child(node, "center" if kind == "fp_circle" else "start"))
            b = sexpr.numbers(sexpr.child(node, "end"))
            corners = [a, b]
            if kind == "fp_rect":
                corners = [a, [b[0], a[1]], b, [a[0], b[1]], a]
            elif kind == "fp_circle":
                corners = circle(a, b, 2 * math.pi)
            elif kind == "fp_arc":
                corners = arc(a, sexpr.numbers(sexpr.child(node, "mid")), b)
            out += [(p, q, pen) for p, q in zip(corners, corners[1:], strict=False)]
    return out


def circle(centre: list[float], start: list[float], sweep: float) -> list[list[float]]:
    radius = math.dist(centre, start)
    first = math.atan2(start[1] - centre[1], start[0] - centre[0])
    pieces = max(1, math.ceil(abs(sweep) / math.radians(15)))
    return [
        [centre[0] + radius * math.cos(first + sweep * i / pieces), centre[1] + radius * math.sin(first + sweep * i / pieces)]
        for i in range(pieces + 1)
    ]


def arc(a: list[float], m: list[float], b: list[float]) -> list[list[float]]:
    """An arc through three points."""
    d = 2 * (a[0] * (m[1] - b[1]) + m[0] * (b[1] - a[1]) + b[0] * (a[1] - m[1]))
    if abs(d) < 1e-9:
        return [a, b]
    squares = [p[0] ** 2 + p[1] ** 2 for p in (a, m, b)]
    centre = [
        (squares[0] * (m[1] - b[1]) + squares[1] * (b[1] - a[1]) + squares[2] * (a[1] - m[1])) / d,
        (squares[0] * (b[0] - m[0]) + squares[1] * (a[0] - b[0]) + squares[2] * (m[0] - a[0])) / d,
    ]
    angles = [math.atan2(p[1] - centre[1], p[0] - centre[0]) for p in (a, m, b)]
    to_middle, sweep = ((angles[k] - angles[0]) % (2 * math.pi) for k in (1, 2))
    return circle(centre, a, sweep if to_middle < sweep else sweep - 2 * math.pi)


def turn(x: float, y: float, degrees: float) -> tuple[float, float]:
    """A point of a footprint turned as KiCad turns it: counter-clockwise as seen, with y down."""
    a = math.radians(degrees)
    return x * math.cos(a) + y * math.sin(a), y * math.cos(a) - x * math.sin(a)
