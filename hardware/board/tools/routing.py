"""Input for the router `route.c`, and what it answers as tracks.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from hardware.board import geometry
from hardware.board.design import Component, nets

PITCH = 2.54 / 12
CLEARANCE = 0.2
VIA, DRILL = 0.6, 0.3
WIDTHS = (0.22, 0.4)  # signals; supplies
WIDE = {"V5", "VBUS"}
LATE = {"GND"}  # laid when the others have found their ways: pours carry most of it
RASTER = (93.98, 45.72)  # the lattice lies on the double header, whose pads leave the least room
EDGE = 0.45  # copper from the board's edge
HOLE = 2.3  # copper from a mounting hole's centre: screw head is wider, on purpose only the hole

Place = tuple[float, float, float]  # x, y, degrees


@dataclass(frozen=True)
class Track:
    """A piece of copper: layer "top" or "bottom", width, corners; or a via (layer "via", width, x, y twice)."""

    net: str
    layer: str
    width: float
    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True)
class Lattice:
    """The router's grid over the board's outline."""

    x0: float
    y0: float
    columns: int
    rows: int

    @classmethod
    def over(cls, corners: list[list[float]]) -> Lattice:
        """The lattice within an outline's bounds; a via on it keeps EDGE off."""
        low = [math.ceil((min(c[i] for c in corners) + EDGE + VIA / 2 - RASTER[i]) / PITCH) for i in (0, 1)]
        high = [math.floor((max(c[i] for c in corners) - EDGE - VIA / 2 - RASTER[i]) / PITCH) for i in (0, 1)]
        return cls(RASTER[0] + low[0] * PITCH, RASTER[1] + low[1] * PITCH, high[0] - low[0] + 1, high[1] - low[1] + 1)


def names(parts: list[Component]) -> list[str]:
    """Nets in the order the router counts them."""
    return list(nets(parts))


def pads_of(part: Component, place: Place) -> list[tuple[str, float, float, float, float, bool]]:
    """Pads as they lie on the board: number, x, y, half width, half height, round."""
    out = []
    for pad in geometry.body(part.library, part.name).pads:
        x, y = geometry.turn(pad.x, pad.y, place[2])
        half = (pad.width / 2, pad.height / 2) if place[2] % 180 == 0 else (pad.height / 2, pad.width / 2)
        out.append(
            (pad.number, place[0] + x, place[1] + y, *half, pad.shape == "circle" or (pad.shape == "oval" and half[0] == half[1]))
        )
    return out


def router_input(parts: list[Component], places: dict[str, Place], outline: dict[str, list[list[float]]]) -> str:
    """The text `route` reads. `outline`: corners, holes and notches as in outline.toml."""
    grid = Lattice.over(outline["corners"])
    index = {name: i for i, name in enumerate(names(parts))}
    off = EDGE + VIA / 2
    forbidden = [(a - off, b - off, c + off, d + off) for a, b, c, d in outline["notches"]]
    forbidden += [(x - HOLE, y - HOLE, x + HOLE, y + HOLE) for x, y in outline["holes"]]
    out = [f"{grid.columns} {grid.rows} {PITCH!r} {grid.x0!r} {grid.y0!r} {CLEARANCE}"]
    out.append(" ".join(str(w / 2) for w in (*WIDTHS, VIA)))
    out += [str(len(forbidden)), *(" ".join(map(repr, r)) for r in forbidden)]
    out += [str(len(index)), *(f"{int(n in WIDE)} {int(n in LATE)}" for n in index)]
    pads = [(*pad, part.pads.get(pad[0], "")) for part in parts for pad in pads_of(part, places[part.ref])]
    out.append(str(len(pads)))
    out += [f"{x!r} {y!r} {hx} {hy} {index.get(net, -1)} {int(circle)}" for _, x, y, hx, hy, circle, net in pads]
    return "\n".join(out) + "\n"


def tracks(answer: str, parts: list[Component], corners: list[list[float]]) -> list[Track]:
    """The router's answer as straight tracks and vias, each once, sorted."""
    grid = Lattice.over(corners)
    order = names(parts)
    out: set[Track] = set()
    for piece in answer.split("net ")[1:]:
        head, *lines = piece.splitlines()
        net = order[int(head)]
        width = WIDTHS[net in WIDE]
        nodes = [tuple(map(int, line.split())) for line in lines]
        start = 0
        for i in range(1, len(nodes)):
            (l0, xa, ya), (l1, xb, yb) = nodes[i - 1], nodes[i]
            if l0 != l1:
                x, y = grid.x0 + xb * PITCH, grid.y0 + yb * PITCH
                out.add(Track(net, "via", VIA, x, y, x, y))
                start = i
                continue
            following = nodes[i + 1] if i + 1 < len(nodes) else None
            if following and following[0] == l1 and (following[1] - xb, following[2] - yb) == (xb - xa, yb - ya):
                continue
            ends = sorted((nodes[start][1:], nodes[i][1:]))
            (x1, y1), (x2, y2) = ((grid.x0 + x * PITCH, grid.y0 + y * PITCH) for x, y in ends)
            out.add(Track(net, ("top", "bottom")[l1], width, x1, y1, x2, y2))
            start = i
    return sorted(out, key=lambda t: (t.net, t.layer, t.x1, t.y1, t.x2, t.y2))
