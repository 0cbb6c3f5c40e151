"""Which pads the copper of a board file joins, by geometry alone: a second opinion on the netlist.

Reads pads, tracks, vias and filled pours of a .kicad_pcb file as text; the net names in it are not looked at.
Plated holes join both sides.  Shares nothing with KiCad, the router or the tools that wrote the file.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from hardware.board import sexpr

Point = tuple[float, float]
BIN = 1.5
TOUCH = 1e-4  # pieces nearer than this are joined, mm


@dataclass(frozen=True)
class Piece:
    """Copper on one side: a rounded line; `joint` joins pieces through a plated hole, or those of one area's border."""

    side: str
    a: Point
    b: Point
    radius: float
    joint: str = ""

    def bounds(self) -> tuple[float, float, float, float]:
        """x0, y0, x1, y1."""
        return (
            min(self.a[0], self.b[0]) - self.radius,
            min(self.a[1], self.b[1]) - self.radius,
            max(self.a[0], self.b[0]) + self.radius,
            max(self.a[1], self.b[1]) + self.radius,
        )


class Area:
    """Copper within a ring of points: a pour's fill, a rectangular pad."""

    def __init__(self, side: str, ring: list[Point], joint: str) -> None:
        self.side, self.joint = side, joint
        self.sides = list(zip(ring, ring[1:] + ring[:1], strict=True))
        self._bands: dict[int, list[tuple[Point, Point]]] = {}
        for p, q in self.sides:
            for band in range(math.floor(min(p[1], q[1])), math.floor(max(p[1], q[1])) + 1):
                self._bands.setdefault(band, []).append((p, q))

    def border(self) -> Iterator[Piece]:
        """Its sides as lines without width."""
        return (Piece(self.side, p, q, 0.0, self.joint) for p, q in self.sides)

    def holds(self, point: Point) -> bool:
        """Whether a point lies within: even-odd rule."""
        x, y = point
        return (
            sum(
                (p[1] > y) != (q[1] > y) and x < (q[0] - p[0]) * (y - p[1]) / (q[1] - p[1]) + p[0]
                for p, q in self._bands.get(math.floor(y), ())
            )
            % 2
            == 1
        )


@dataclass(frozen=True)
class Copper:
    """All copper of a board: lines, among them the borders of the areas."""

    lines: list[Piece]
    areas: list[Area]


def _at(node: sexpr.Node, name: str) -> Point:
    x, y, *_ = sexpr.numbers(sexpr.child(node, name))
    return x, y


def _pad(pad: sexpr.Node, foot: list[float], joint: str) -> Iterator[Piece | Area]:
    """A through-hole pad on both sides. KiCad writes its angle as it lies on the board, its place as the footprint does."""
    x, y, *rest = sexpr.numbers(sexpr.child(pad, "at"))
    turn, lying = math.radians(foot[2] if len(foot) > 2 else 0.0), math.radians(rest[0] if rest else 0.0)
    centre = (foot[0] + x * math.cos(turn) + y * math.sin(turn), foot[1] + y * math.cos(turn) - x * math.sin(turn))
    width, height = sexpr.numbers(sexpr.child(pad, "size"))

    def corner(u: float, v: float) -> Point:
        return (centre[0] + u * math.cos(lying) + v * math.sin(lying), centre[1] + v * math.cos(lying) - u * math.sin(lying))

    for side in ("F.Cu", "B.Cu"):
        if pad[3] in ("circle", "oval"):
            radius, long = min(width, height) / 2, abs(width - height) / 2
            ends = (corner(-long, 0), corner(long, 0)) if width > height else (corner(0, -long), corner(0, long))
            yield Piece(side, *ends, radius, joint)
        elif pad[3] == "rect":
            yield Area(side, [corner(u * width / 2, v * height / 2) for u, v in ((-1, -1), (1, -1), (1, 1), (-1, 1))], joint)
        else:
            raise ValueError(f"{joint}: a pad of shape {pad[3]} is not understood; teach hardware/board/copper.py")


def read(board: Path) -> Copper:
    """All copper of a board file."""
    tree = sexpr.parse(board.read_text())
    found: list[Piece | Area] = []
    for foot in sexpr.children(tree, "footprint"):
        reference = next(t[2] for t in sexpr.children(foot, "fp_text") if t[1] == "reference")
        for pad in sexpr.children(foot, "pad"):
            if pad[2] == "thru_hole":
                found += _pad(pad, sexpr.numbers(sexpr.child(foot, "at")), f"{reference}.{pad[1]}")
    for track in sexpr.children(tree, "segment"):
        side = (sexpr.child(track, "layer") or ["", ""])[1]
        found.append(Piece(side, _at(track, "start"), _at(track, "end"), sexpr.numbers(sexpr.child(track, "width"))[0] / 2))
    for number, via in enumerate(sexpr.children(tree, "via")):
        where, radius = _at(via, "at"), sexpr.numbers(sexpr.child(via, "size"))[0] / 2
        found += [Piece(side, where, where, radius, f"via {number}") for side in ("F.Cu", "B.Cu")]
    fills = (fill for zone in sexpr.children(tree, "zone") for fill in sexpr.children(zone, "filled_polygon"))
    for number, fill in enumerate(fills):
        side = (sexpr.child(fill, "layer") or ["", ""])[1]
        ring = [(x, y) for p in sexpr.children(sexpr.child(fill, "pts") or [], "xy") for x, y in [sexpr.numbers(p)]]
        found.append(Area(side, ring, f"fill {number}"))
    areas = [f for f in found if isinstance(f, Area)]
    return Copper([f for f in found if isinstance(f, Piece)] + [p for a in areas for p in a.border()], areas)


def _point_line(p: Point, a: Point, b: Point) -> float:
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    t = 0.0 if square == 0 else max(0.0, min(1.0, ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square))
    return math.hypot(p[0] - a[0] - t * dx, p[1] - a[1] - t * dy)


def distance(one: Piece, other: Piece) -> float:
    """Millimetres between two lines' edges; 0 or less where they touch."""
    a, b, c, d = one.a, one.b, other.a, other.b

    def side(p: Point, q: Point, r: Point) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    if side(a, b, c) * side(a, b, d) < 0 and side(c, d, a) * side(c, d, b) < 0:
        return -one.radius - other.radius
    return min(_point_line(a, c, d), _point_line(b, c, d), _point_line(c, a, b), _point_line(d, a, b)) - one.radius - other.radius


def neighbours(lines: list[Piece], more: float) -> Iterator[tuple[int, int]]:
    """Pairs on one side whose bounds are nearer than `more`; a pair may come twice."""
    bins: dict[tuple[str, int, int], list[int]] = {}
    boxes = [p.bounds() for p in lines]
    for n, (x0, y0, x1, y1) in enumerate(boxes):
        for i in range(math.floor((x0 - more) / BIN), math.floor((x1 + more) / BIN) + 1):
            for j in range(math.floor((y0 - more) / BIN), math.floor((y1 + more) / BIN) + 1):
                bins.setdefault((lines[n].side, i, j), []).append(n)
    for members in bins.values():
        for k, n in enumerate(members):
            x0, y0, x1, y1 = boxes[n][0] - more, boxes[n][1] - more, boxes[n][2] + more, boxes[n][3] + more
            for m in members[:k]:
                b = boxes[m]
                if x0 <= b[2] and b[0] <= x1 and y0 <= b[3] and b[1] <= y1:
                    yield m, n


def _groups(copper: Copper) -> list[int]:
    """Number of the joined group each line is in."""
    lines = copper.lines
    parent = list(range(len(lines)))

    def root(n: int) -> int:
        while parent[n] != n:
            parent[n] = n = parent[parent[n]]
        return n

    joints: dict[str, int] = {}
    for n, piece in enumerate(lines):
        if piece.joint:
            parent[root(n)] = root(joints.setdefault(piece.joint, n))
    for area in copper.areas:
        for n, piece in enumerate(lines):
            if piece.side == area.side and piece.joint != area.joint and area.holds(piece.a):
                parent[root(n)] = root(joints[area.joint])
    for m, n in neighbours(lines, TOUCH):
        if root(m) != root(n) and distance(lines[m], lines[n]) < TOUCH:
            parent[root(m)] = root(n)
    return [root(n) for n in range(len(lines))]


def joined(board: Path) -> list[frozenset[str]]:
    """Sets of pads ("R101.1") that copper joins; a pad joined to nothing is a set of its own."""
    copper = read(board)
    out: dict[int, set[str]] = {}
    for piece, group in zip(copper.lines, _groups(copper), strict=True):
        if piece.joint and " " not in piece.joint:
            out.setdefault(group, set()).add(piece.joint)
    return sorted(map(frozenset, out.values()), key=sorted)


def narrowest_gap(board: Path, up_to: float = 0.5) -> float:
    """Least distance between copper that is not joined, mm; `up_to` if there is none below."""
    copper = read(board)
    group = _groups(copper)
    pairs = ((m, n) for m, n in neighbours(copper.lines, up_to) if group[m] != group[n])
    return min((distance(copper.lines[m], copper.lines[n]) for m, n in pairs), default=up_to)
