"""Pictures of the board for each step of soldering, drawn from the committed board file.

Bodies are KiCad's F.Fab outlines, pads and places those of the file; lengths in mm, ten drawing units to the millimetre.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from hardware.board import geometry, sexpr
from hardware.board.build_files import BOARD
from hardware.book.steps import Step
from hardware.svg import MARK, Drawing

NOTICE = "Written by python -m hardware.book.build from the board file. SPDX-License-Identifier: CERN-OHL-S-2.0"
SCALE, MARGIN, HEAD = 10.0, 2.0, 46.0
BOARD_GREEN, COPPER, BARE = "#dfe9e0", "#c9a94f", "#9db8a2"
BODY, BODY_INK, DONE, DONE_INK = "#ffcf5c", "#5a3b00", "#eef2ee", "#8fa695"
NAME_SIZE = 11.5
POLARISED = ("diode", "led", "hc4051", "hc595", "mcp6004", "zif_socket")

Point = tuple[float, float]


@dataclass(frozen=True)
class Shape:
    """A part as it lies on the board: outline strokes, pads (number, x, y, diameter), centre of its lettering."""

    strokes: list[tuple[Point, Point]]
    pads: list[tuple[str, float, float, float]]
    name_at: Point
    name_turn: float


@cache
def shapes() -> tuple[dict[str, Shape], list[Point]]:
    """Designator -> shape, and the board's corners, all in mm on KiCad's sheet."""
    tree = sexpr.parse(BOARD.read_text())
    out = {}
    for part in sexpr.children(tree, "footprint"):
        x, y, *turned = sexpr.numbers(sexpr.child(part, "at"))
        degrees = turned[0] if turned else 0.0

        def put(px: float, py: float, x: float = x, y: float = y, degrees: float = degrees) -> Point:
            dx, dy = geometry.turn(px, py, degrees)
            return x + dx, y + dy

        names = [t for t in sexpr.children(part, "fp_text") if t[1] == "reference"]
        tx, ty, *angle = sexpr.numbers(sexpr.child(names[0], "at"))
        strokes = [(put(*a), put(*b)) for a, b, _ in geometry.drawn(part, "F.Fab")]
        pads = []
        for pad in sexpr.children(part, "pad"):
            px, py, *_ = sexpr.numbers(sexpr.child(pad, "at"))
            pads.append((str(pad[1]), *put(px, py), min(sexpr.numbers(sexpr.child(pad, "size")))))
        out[str(names[0][2])] = Shape(strokes, pads, put(tx, ty), angle[0] if angle else 0.0)
    edges = [(sexpr.numbers(sexpr.child(line, "start")), sexpr.numbers(sexpr.child(line, "end")))
             for line in sexpr.children(tree, "gr_line") if (on := sexpr.child(line, "layer")) and on[1] == "Edge.Cuts"]
    ring = [(edges[0][0][0], edges[0][0][1])]
    rest = [((a[0], a[1]), (b[0], b[1])) for a, b in edges]
    while rest:
        edge = next(e for e in rest if ring[-1] in e)
        rest.remove(edge)
        ring.append(edge[1] if edge[0] == ring[-1] else edge[0])
    return out, ring[:-1]


def _lines(strokes: list[tuple[Point, Point]]) -> list[list[Point]]:
    """Strokes that begin where another ends, joined to lines, so that closed ones can be filled."""
    rest = [tuple((round(x, 4), round(y, 4)) for x, y in stroke) for stroke in strokes]
    out = []
    while rest:
        line = list(rest.pop(0))
        while more := next((stroke for stroke in rest if line[-1] in stroke), None):
            rest.remove(more)
            line.append(more[1] if more[0] == line[-1] else more[0])
        out.append(line)
    return out


class Sheet:
    """The board on paper."""

    def __init__(self, title: str, under: str) -> None:
        self.shapes, self.ring = shapes()
        xs, ys = [p[0] for p in self.ring], [p[1] for p in self.ring]
        self.origin = min(xs) - MARGIN, min(ys) - MARGIN - HEAD / SCALE
        self.on = Drawing((max(xs) - min(xs) + 2 * MARGIN) * SCALE, (max(ys) - min(ys) + 2 * MARGIN) * SCALE + HEAD)
        self.on.text(20, 28, title, size=22, bold=True)
        self.on.text(20, 46, under, size=14)
        corners = [self.at(*p) for p in self.ring]
        self.on.path("M " + " L ".join(f"{x:g} {y:g}" for x, y in corners) + " Z", fill=BOARD_GREEN, ink="#47624c", pen=2)

    def at(self, x: float, y: float) -> Point:
        """Millimetres of the board's sheet -> drawing units."""
        return round((x - self.origin[0]) * SCALE, 1), round((y - self.origin[1]) * SCALE, 1)

    def pads(self) -> None:
        """Every pad, bare: one path for all of a size, of strokes without length and with round ends."""
        by_size: dict[float, list[str]] = {}
        for shape in self.shapes.values():
            for _, x, y, across in shape.pads:
                px, py = self.at(x, y)
                by_size.setdefault(across, []).append(f"M{px:g} {py:g}h0")
        for across, dots in by_size.items():
            self.on.path("".join(dots), ink=BARE, pen=across * SCALE, round_ends=True)

    def part(self, ref: str, *, now: bool) -> None:
        """A part's body; `now`: it is the step's."""
        shape = self.shapes[ref]
        outline = "".join("M" + " ".join(f"{x:g} {y:g}" for x, y in (self.at(*p) for p in line)) for line in _lines(shape.strokes))
        self.on.path(outline, fill=BODY if now else DONE, ink=BODY_INK if now else DONE_INK, pen=1.6 if now else 1)
        if now:
            for _, x, y, across in shape.pads:
                self.on.circle(*self.at(x, y), across * SCALE / 2, fill=COPPER, ink=BODY_INK, pen=1)

    def first_pad(self, ref: str) -> None:
        """The pad that tells which way round, red: pin 1, cathode, or plus."""
        _, x, y, across = self.shapes[ref].pads[0]
        side = across * SCALE
        px, py = self.at(x, y)
        self.on.rect(px - side / 2, py - side / 2, side, side, fill=MARK, ink=BODY_INK, pen=1)

    def name(self, ref: str) -> None:
        """The designator where the board has it."""
        shape = self.shapes[ref]
        x, y = self.at(*shape.name_at)
        self.on.text(x, y, ref, size=NAME_SIZE, at="middle", ink=MARK, bold=True, turn=-shape.name_turn, middle=True)

    def inside(self, ref: str, say: str) -> None:
        """Words in the middle of a body."""
        points = [self.at(x, y) for _, x, y, _ in self.shapes[ref].pads]
        x, y = (sum(p[axis] for p in points) / len(points) for axis in (0, 1))
        self.on.text(round(x, 1), round(y, 1), say, size=11, at="middle", bold=True, middle=True)


def step_picture(step: Step, before: list[Step], number: int) -> str:
    """The board with the step's parts in colour and those of the steps before it pale.

    Parts with a wrong way round have the pad that tells it in red.
    """
    sheet = Sheet(f"{number}. {step.title}", "bench24 from above; the USB socket of the controller board is at the upper left")
    sheet.pads()
    for old in before:
        for part in old.parts:
            sheet.part(part.ref, now=False)
    for part in step.parts:
        sheet.part(part.ref, now=True)
    for part in step.parts:
        if part.kind in POLARISED or part.name.startswith("CP_"):
            sheet.first_pad(part.ref)
    for part in step.parts:
        sheet.name(part.ref)
        if part.name.startswith("DIP-"):
            sheet.inside(part.ref, part.value)
    return sheet.on.done(NOTICE)

