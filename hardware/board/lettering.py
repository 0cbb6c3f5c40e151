"""Where designators and values are printed so that they can be read: off pads, outlines, bodies and each other.

A designator stands beside its part, where it can still be seen when the part is in: the self-test names parts by it.
A value stands under the body: it is needed while soldering only.

Lengths in mm from the corner of the controller board, y down.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from hardware.board import geometry, sexpr
from hardware.board.design import Component

Place = tuple[float, float, float]
Rect = tuple[float, float, float, float]
Wish = tuple[str, str]  # designator; "reference" or "value"
WIDE = 0.88               # advance of KiCad's stroke font by text size, rounded up
PEN = 0.13
OFF_PADS = 0.2  # silk to copper: 0.15 is common practice of board makers
OFF_SILK = 0.12
BIN = 4.0
SMALL = 0.8
ATTEMPTS = 12


@dataclass(frozen=True)
class Label:
    """One piece of lettering: centre, text size, 0 or 90 degrees; `what` is "reference", "value" or "text"."""

    ref: str
    what: str
    say: str
    x: float
    y: float
    size: float
    degrees: float

    def rect(self) -> Rect:
        """What it covers."""
        w, h = (len(self.say) * WIDE * self.size + PEN) / 2, (self.size + PEN) / 2
        if self.degrees:
            w, h = h, w
        return self.x - w, self.y - h, self.x + w, self.y + h


class Surface:
    """What is on the board's upper side already."""

    def __init__(self) -> None:
        self._bins: dict[tuple[int, int], list[Rect]] = {}

    @staticmethod
    def _keys(r: Rect) -> Iterator[tuple[int, int]]:
        for i in range(math.floor(r[0] / BIN), math.floor(r[2] / BIN) + 1):
            for j in range(math.floor(r[1] / BIN), math.floor(r[3] / BIN) + 1):
                yield i, j

    def add(self, r: Rect, more: float = 0.0) -> None:
        """Take a rectangle, grown by `more` on each side."""
        r = (r[0] - more, r[1] - more, r[2] + more, r[3] + more)
        for key in self._keys(r):
            self._bins.setdefault(key, []).append(r)

    def free(self, r: Rect) -> bool:
        """Nothing there yet."""
        others = (o for key in self._keys(r) for o in self._bins.get(key, ()))
        return not any(r[0] < o[2] and o[0] < r[2] and r[1] < o[3] and o[1] < r[3] for o in others)


def turned(r: Rect, place: Place) -> Rect:
    """A footprint's rectangle as it lies on the board."""
    a, b = geometry.turn(r[0], r[1], place[2]), geometry.turn(r[2], r[3], place[2])
    return (place[0] + min(a[0], b[0]), place[1] + min(a[1], b[1]), place[0] + max(a[0], b[0]), place[1] + max(a[1], b[1]))


def printed(part: Component) -> list[Rect]:
    """The silk outline of a footprint: rectangles about its lines; of slanted lines and curves, about short pieces."""
    tree = sexpr.parse((geometry.FOOTPRINTS / f"{part.library}.pretty" / f"{part.name}.kicad_mod").read_text())
    out = []
    for a, b, pen in geometry.drawn(tree, "F.SilkS"):
        pieces = 1 if a[0] == b[0] or a[1] == b[1] else max(1, round(math.dist(a, b) / 0.5))
        for i in range(pieces):
            p, q = ([a[k] + (b[k] - a[k]) * t / pieces for k in (0, 1)] for t in (i, i + 1))
            out.append(
                (min(p[0], q[0]) - pen / 2, min(p[1], q[1]) - pen / 2, max(p[0], q[0]) + pen / 2, max(p[1], q[1]) + pen / 2)
            )
    return out


def _body(part: Component, place: Place) -> Rect:
    a, b, c, d = geometry.body(part.library, part.name).court
    return turned((a + 0.25, b + 0.25, c - 0.25, d - 0.25), place)


SMALL_ROUND = {"BC327-40": "BC327", "BC337-40": "BC337", "LM4040-2.5": "LM4040"}  # as much as a TO-92 outline holds
SOUGHT = ("diode", "button", "led")  # kinds whose value finds no room under the body
WORDS = {"button": "NEXT", "led": "LIVE"}  # said instead of a value: to the user


def _value(part: Component, place: Place) -> Label | None:
    """A value's label, under the body; None where it must be sought a place or need not be said."""
    x0, y0, x1, y1 = _body(part, place)
    x, y, degrees = (x0 + x1) / 2, (y0 + y1) / 2, 0 if x1 - x0 >= y1 - y0 else 90
    if part.kind in ("header", "zif_socket") or seeks(part):
        return None
    if part.kind in ("hc4051", "hc595", "mcp6004"):
        return Label(part.ref, "value", part.value, x, y, 1.2, degrees)
    if part.kind in ("pnp", "npn", "lm4040"):  # between the row of pads and the round side
        dx, dy = geometry.turn(2.54, -1.35, place[2])
        say = SMALL_ROUND.get(part.value, part.value)
        lying = 0 if place[2] % 180 == 0 else 90
        return Label(part.ref, "value", say, place[0] + dx, place[1] + dy, 3.7 / len(say), lying)
    return Label(part.ref, "value", part.value, x, y, SMALL, degrees)


def seeks(part: Component) -> bool:
    """Whether the value is printed beside the part, as the designator is."""
    return part.kind in SOUGHT or part.name.startswith("CP_Radial")


def _beside(part: Component, place: Place, what: str) -> Iterator[Label]:
    """Places for a designator or a value, best first: close to the middle of a long side."""
    say = part.ref if what == "reference" else WORDS.get(part.kind, part.value)
    x0, y0, x1, y1 = _body(part, place)
    size = 1.0 if part.kind in ("hc4051", "hc595", "mcp6004", "zif_socket", "header") else SMALL
    found = []
    for degrees in (0, 90):
        half = Label(part.ref, what, say, 0, 0, size, degrees).rect()
        w, h = half[2], half[3]
        for away in (0.02, 0.17, 0.32, 0.5, 0.8, 1.2, 1.8, 2.6):
            for step in range(-40, 41):
                t = step * 0.3
                for x, y, along in (
                    ((x0 + x1) / 2 + t, y1 + h + away, x1 - x0),
                    ((x0 + x1) / 2 + t, y0 - h - away, x1 - x0),
                    (x0 - w - away, (y0 + y1) / 2 + t, y1 - y0),
                    (x1 + w + away, (y0 + y1) / 2 + t, y1 - y0),
                ):
                    if abs(t) <= along / 2 + 1.0:
                        worse = away * 2 + abs(t) * 0.4 + 0.3 * (degrees == 90)
                        found.append((worse, Label(part.ref, what, say, x, y, size, degrees)))
    yield from (label for _, label in sorted(found, key=lambda f: f[0]))


def _occupied(parts: list[Component], places: dict[str, Place], outline: dict[str, Any]) -> Surface:
    """Pads, outlines, holes and edges."""
    surface = Surface()
    for part in parts:
        place = places[part.ref]
        for pad in geometry.body(part.library, part.name).pads:
            w, h = pad.width / 2, pad.height / 2
            surface.add(turned((pad.x - w, pad.y - h, pad.x + w, pad.y + h), place), OFF_PADS)
        for line in printed(part):
            surface.add(turned(line, place), OFF_SILK)
    for x, y in outline["holes"]:
        surface.add((x - 3.4, y - 3.4, x + 3.4, y + 3.4))
    xs, ys = ([c[i] for c in outline["corners"]] for i in (0, 1))
    low_x, high_x, low_y, high_y = min(xs) + 0.5, max(xs) - 0.5, min(ys) + 0.5, max(ys) - 0.5
    beyond = 20.0
    surface.add((low_x - beyond, low_y - beyond, low_x, high_y + beyond))
    surface.add((high_x, low_y - beyond, high_x + beyond, high_y + beyond))
    surface.add((low_x - beyond, low_y - beyond, high_x + beyond, low_y))
    surface.add((low_x - beyond, high_y, high_x + beyond, high_y + beyond))
    for x0, y0, x1, y1 in outline["notches"] + outline.get("line", []):
        surface.add((x0, y0, x1, y1), 0.3)
    return surface


def _try(
    parts: list[Component], places: dict[str, Place], outline: dict[str, Any], first: list[Wish]
) -> tuple[list[Label], list[Wish]]:
    """Lettering, those of `first` before the others; and what found no place."""
    surface = _occupied(parts, places, outline)
    labels = [Label("", "text", t["say"], *t["at"], t.get("size", 1.0), t.get("degrees", 0)) for t in outline.get("text", [])]
    labels += [v for part in parts if (v := _value(part, places[part.ref]))]
    for label in labels:
        surface.add(label.rect(), OFF_SILK)
    for part in parts:
        surface.add(_body(part, places[part.ref]))
    wanted = [(part, "reference") for part in parts] + [(part, "value") for part in parts if seeks(part)]
    lost = []
    for part, what in sorted(wanted, key=lambda w: ((w[0].ref, w[1]) not in first, w[1] == "value", w[0].kind != "resistor")):
        label = next((c for c in _beside(part, places[part.ref], what) if surface.free(c.rect())), None)
        if label is None:
            lost.append((part.ref, what))
            continue
        labels.append(label)
        surface.add(label.rect(), OFF_SILK)
    return labels, lost


def letter(parts: list[Component], places: dict[str, Place], outline: dict[str, Any]) -> tuple[list[Label], list[str]]:
    """All lettering, and the designators and values for which no place was found.

    What finds no place comes first in the next attempt.
    """
    first: list[Wish] = []
    best, lost = _try(parts, places, outline, first)
    for _ in range(ATTEMPTS):
        if not lost:
            break
        first += [one for one in lost if one not in first]
        labels, missing = _try(parts, places, outline, first)
        if len(missing) < len(lost):
            best, lost = labels, missing
        elif set(missing) <= set(first):
            break
        first += [one for one in missing if one not in first]
    return best, [f"{ref} ({what})" for ref, what in lost]
