"""After routing: every track as wide as its surroundings allow, up to its net's wish; then the text that is committed.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

from hardware.board.design import Component
from hardware.board.tools import routing
from hardware.board.tools.routing import CLEARANCE, DRILL, EDGE, HOLE, Place, Track

SUPPLY_WIDTHS = (1.2, 1.0, 0.8, 0.6, 0.5)
SIGNAL_WIDTHS = (0.3, 0.25)
SUPPLIES = ("GND", "V5", "VBUS")
BIN = 3.0
SPARE = 0.003  # so that rounding to a micrometre never falls below the clearance


@dataclass(frozen=True)
class Copper:
    """A piece of copper: a rounded line of that radius, or a rectangle (half sizes, radius 0)."""

    net: str
    layers: frozenset[str]
    x1: float
    y1: float
    x2: float
    y2: float
    radius: float
    half: tuple[float, float] | None = None


BOTH = frozenset(("top", "bottom"))


def copper_of(track: Track) -> Copper:
    """A track or via as copper."""
    layers = BOTH if track.layer == "via" else frozenset((track.layer,))
    return Copper(track.net, layers, track.x1, track.y1, track.x2, track.y2, track.width / 2)


def _point_line(px: float, py: float, c: Copper) -> float:
    dx, dy = c.x2 - c.x1, c.y2 - c.y1
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else max(0.0, min(1.0, ((px - c.x1) * dx + (py - c.y1) * dy) / square))
    return math.hypot(px - c.x1 - t * dx, py - c.y1 - t * dy)


def _cross(a: Copper, b: Copper) -> bool:
    def side(c: Copper, x: float, y: float) -> float:
        return (c.x2 - c.x1) * (y - c.y1) - (c.y2 - c.y1) * (x - c.x1)

    return side(a, b.x1, b.y1) * side(a, b.x2, b.y2) < 0 and side(b, a.x1, a.y1) * side(b, a.x2, a.y2) < 0


def _lines(a: Copper, b: Copper) -> float:
    if _cross(a, b):
        return 0.0
    return min(_point_line(a.x1, a.y1, b), _point_line(a.x2, a.y2, b), _point_line(b.x1, b.y1, a), _point_line(b.x2, b.y2, a))


def gap(a: Copper, b: Copper) -> float:
    """Millimetres between two pieces of copper; one of them may be a rectangle."""
    if b.half is None:
        return _lines(a, b) - a.radius - b.radius
    hx, hy = b.half
    if abs(a.x1 - b.x1) <= hx and abs(a.y1 - b.y1) <= hy:
        return -a.radius
    corners = [(b.x1 + sx * hx, b.y1 + sy * hy) for sx, sy in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    sides = [
        replace(b, x1=p[0], y1=p[1], x2=q[0], y2=q[1], half=None) for p, q in zip(corners, corners[1:] + corners[:1], strict=True)
    ]
    return min(_lines(a, side) for side in sides) - a.radius


def surroundings(tracks: list[Track], parts: list[Component], places: dict[str, Place], outline: dict[str, Any]) -> list[Copper]:
    """Everything a track must keep off: pads, tracks, vias, the edge, holes."""
    out = [copper_of(t) for t in tracks]
    for part in parts:
        for number, x, y, hx, hy, circle in routing.pads_of(part, places[part.ref]):
            net = part.pads.get(number, "") or f"{part.ref}.{number}"
            out.append(Copper(net, BOTH, x, y, x, y, hx) if circle else Copper(net, BOTH, x, y, x, y, 0.0, (hx, hy)))
    corners = outline["corners"]
    for (ax, ay), (bx, by) in zip(corners, corners[1:] + corners[:1], strict=True):
        out.append(Copper("the edge", BOTH, ax, ay, bx, by, EDGE - CLEARANCE))
    return out + [Copper("a hole", BOTH, x, y, x, y, HOLE - CLEARANCE) for x, y in outline["holes"]]


class Bins:
    """Copper by place, so that a track asks its neighbours only."""

    def __init__(self, items: list[Copper]) -> None:
        self.bins: dict[tuple[int, int], list[int]] = {}
        self.items = list(items)
        for number, item in enumerate(items):
            for key in self._keys(item, 0.0):
                self.bins.setdefault(key, []).append(number)

    @staticmethod
    def _keys(c: Copper, more: float) -> Iterator[tuple[int, int]]:
        reach_x, reach_y = c.half or (c.radius, c.radius)
        xs = (min(c.x1, c.x2) - reach_x - more, max(c.x1, c.x2) + reach_x + more)
        ys = (min(c.y1, c.y2) - reach_y - more, max(c.y1, c.y2) + reach_y + more)
        for i in range(math.floor(xs[0] / BIN), math.floor(xs[1] / BIN) + 1):
            for j in range(math.floor(ys[0] / BIN), math.floor(ys[1] / BIN) + 1):
                yield i, j

    def near(self, item: Copper) -> list[int]:
        """Numbers of the pieces that could be too near to this one."""
        return sorted({n for key in self._keys(item, 1.0) for n in self.bins.get(key, ())})


def widen(tracks: list[Track], parts: list[Component], places: dict[str, Place], outline: dict[str, Any]) -> list[Track]:
    """The same tracks, each at the greatest width its neighbours leave; supplies first."""
    around = Bins(surroundings(tracks, parts, places, outline))
    out = list(tracks)
    for number in sorted(range(len(tracks)), key=lambda i: tracks[i].net not in SUPPLIES):
        track = tracks[number]
        if track.layer == "via":
            continue
        thin = copper_of(track)
        rivals = [
            around.items[n]
            for n in around.near(thin)
            if around.items[n].net != track.net and around.items[n].layers & thin.layers
        ]
        room = min((gap(thin, r) for r in rivals), default=9.0) + thin.radius - CLEARANCE - SPARE
        for width in SUPPLY_WIDTHS if track.net in SUPPLIES else SIGNAL_WIDTHS:
            if width > track.width and width / 2 <= room:
                out[number] = replace(track, width=width)
                around.items[number] = copper_of(out[number])
                break
    return out


def text(tracks: list[Track]) -> str:
    """routes.txt: one track or via a line."""
    lines = [
        "# Tracks and vias, written by tools/layout.py; millimetres.",
        "# net, layer, width, from x y, to x y; or net, via, width, drill, x y",
    ]
    for t in tracks:
        if t.layer == "via":
            lines.append(f"{t.net} via {t.width:g} {DRILL:g} {t.x1:.4f} {t.y1:.4f}")
        else:
            lines.append(f"{t.net} {t.layer} {t.width:g} {t.x1:.4f} {t.y1:.4f} {t.x2:.4f} {t.y2:.4f}")
    return "\n".join(lines) + "\n"
