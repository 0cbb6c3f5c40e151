"""Input for the placer `place.c`, and what it answers: where parts stand, and which equivalent pins changed places.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import random
from typing import Any

from hardware.board import geometry
from hardware.board.design import Component, nets
from hardware.board.tools.routing import PITCH, RASTER, Place

GRID = 2 * PITCH
SPACE = 0.05  # between courtyards, beside what they hold already
LETTERING = {"resistor": 0.9, "diode": 0.8}  # room below a body for its designator, mm
MARGIN = 0.5  # of courtyards from the board's edge
SCREW = 3.5  # radius of a screw head with its courtyard
NET_WEIGHT = {"GND": 0.0, "V5": 0.05, "VBUS": 0.6, "K": 1.5}  # pours carry GND; K is the measuring node
NEAR = 3.0  # weight of "a capacitor belongs at its chip"
REGISTER_OUTPUTS = ("15", "1", "2", "3", "4", "5", "6", "7")

End = tuple[int, int]  # part, pad, as the placer counts them


def companions(parts: list[Component]) -> list[tuple[str, str]]:
    """Capacitors and what they must stand beside: C31k at Uk, the fast VBUS capacitor at the bulk one."""
    chips = {f"C{310 + int(p.ref[1:])}": p.ref for p in parts if p.ref.startswith("U")}
    here = {p.ref for p in parts if p.role == "decoupling"}
    return [(c, u) for c, u in chips.items() if c in here] + [("C306", "C305")]


def groups(parts: list[Component]) -> list[list[End]]:
    """Pins that may change places: outputs of each register that drives power switches.

    Drive lines and sense channels could, but stay in the order of the positions: with that order kept the wires come
    out 4 % longer (4805 against 4588 mm), and whoever looks for a fault finds position k where it is expected.
    """
    return [
        [(i, k) for k, pad in enumerate(geometry.body(part.library, part.name).pads) if pad.number in REGISTER_OUTPUTS]
        for i, part in enumerate(parts)
        if part.role == "power switches"
    ]


def placer_input(
    parts: list[Component], fixed: dict[str, Place], outline: dict[str, Any], seed: int, start: dict[str, Place] | None = None
) -> str:
    """The text `place` reads; parts that are not fixed begin where `start` has them, or anywhere."""
    chance = random.Random(seed)
    corners = outline["corners"]
    low = [min(c[i] for c in corners) + MARGIN for i in (0, 1)]
    high = [max(c[i] for c in corners) - MARGIN for i in (0, 1)]
    walls = [(a - MARGIN, b - MARGIN, c + MARGIN, d + MARGIN) for a, b, c, d in outline["notches"]]
    walls += [(x - SCREW, y - SCREW, x + SCREW, y + SCREW) for x, y in outline["holes"]]
    walls += [tuple(r) for r in outline["kept_free"]]
    order, pairs = list(nets(parts)), companions(parts)
    index = {name: i for i, name in enumerate(order)}
    out = [f"{GRID!r} {RASTER[0]} {RASTER[1]}", f"{low[0]} {low[1]} {high[0]} {high[1]}"]
    out += [str(len(walls)), *(" ".join(map(str, w)) for w in walls)]
    out.append(str(len(order) + len(pairs)))
    out.append(" ".join(str(NET_WEIGHT.get(n, 1.0)) for n in order) + f" {NEAR}" * len(pairs))
    out.append(str(len(parts)))
    for part in parts:
        x, y, degrees = ((start or {}) | fixed).get(part.ref, (chance.uniform(20, 90), chance.uniform(10, 95), 0.0))
        space = 0.0 if part.ref in fixed else SPACE
        a, b, c, d = geometry.body(part.library, part.name).court
        below = 0.0 if part.ref in fixed else LETTERING.get(part.kind, 0.0)
        pins = [(p.x, p.y, index.get(part.pads.get(p.number, ""), -1)) for p in geometry.body(part.library, part.name).pads]
        for extra, pair in enumerate(pairs):
            if part.ref in pair:
                pins.append(next((x, y, len(order) + extra) for x, y, n in pins if n in (index["V5"], index["VBUS"])))
        out.append(
            f"{part.ref} {int(part.ref in fixed)} {x} {y} {round(degrees / 90)} "
            f"{a - space} {b - space} {c + space} {d + space + below} {len(pins)}"
        )
        out += [f"{x} {y} {net}" for x, y, net in pins]
    exchangeable = groups(parts)
    out += [str(len(exchangeable)), *(f"{len(g)} " + " ".join(f"{i} {k}" for i, k in g) for g in exchangeable)]
    return "\n".join(out) + "\n"


def answer(text: str, parts: list[Component]) -> tuple[dict[str, Place], dict[tuple[str, str], str]]:
    """The placer's answer: ref -> place, and (ref, pad) -> net of every pin that could change places."""
    order = list(nets(parts))
    by_ref = {p.ref: p for p in parts}
    places: dict[str, Place] = {}
    pins: dict[tuple[str, str], str] = {}
    for line in text.splitlines():
        kind, ref, *rest = line.split()
        if kind == "part":
            places[ref] = (float(rest[0]), float(rest[1]), 90.0 * int(rest[2]))
        else:
            number = geometry.body(by_ref[ref].library, by_ref[ref].name).pads[int(rest[0])].number
            pins[ref, number] = order[int(rest[1])] if int(rest[1]) >= 0 else ""
    return places, pins
