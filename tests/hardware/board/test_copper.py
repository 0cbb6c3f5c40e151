"""The committed board by its geometry alone: joined as wired, nothing too near, wide where current flows.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import math
import re
import tomllib
from pathlib import Path

import pytest

from hardware.board import copper, sexpr
from hardware.board.build_files import BOARD, ORIGIN, OUTLINE
from hardware.board.design import components, nets
from hardware.wiring import load

CLEARANCE = 0.2  # mm; board houses offer 0.15 or less (common practice)


@pytest.fixture(scope="module")
def tree() -> sexpr.Node:
    """The committed board."""
    return sexpr.parse(BOARD.read_text())


def test_copper_joins_what_is_wired() -> None:
    """Sets of pads joined by tracks, vias, holes and pours are the nets of wiring.toml."""
    wired = {frozenset(f"{ref}.{pad}" for ref, pad in ends) for ends in nets(components()).values()}
    found = copper.joined(BOARD)
    assert {pads for pads in found if len(pads) > 1} == {pads for pads in wired if len(pads) > 1}
    assert frozenset().union(*found) >= frozenset().union(*wired)


def test_a_cut_track_and_a_bridge_are_found(tmp_path: Path) -> None:
    """The comparison above can fail: a signal track taken out parts a net, one drawn across the socket joins nets."""
    text, wired = BOARD.read_text(), set(copper.joined(BOARD))
    number = next(n[1] for n in sexpr.children(sexpr.parse(text), "net") if n[2] == "K")
    segments = [s for s in re.findall(r"^\s*\(segment .*\)$", text, re.M) if f"(net {number})" in s]
    cut = tmp_path / "cut.kicad_pcb"
    cut.write_text(text.replace(segments[0], ""))
    assert len(copper.joined(cut)) > len(wired)
    (x1, y1), (x2, y2) = ((p[0] + ORIGIN[0], p[1] + ORIGIN[1]) for p in ((46.6, 90.6), (74.5, 90.6)))
    bridge = f'(segment (start {x1} {y1}) (end {x2} {y2}) (width 0.3) (layer "F.Cu") (net 0))'
    joined = tmp_path / "joined.kicad_pcb"
    joined.write_text(text.rstrip().removesuffix(")") + bridge + ")")
    assert len(copper.joined(joined)) < len(wired)


def test_nothing_is_nearer_than_the_clearance() -> None:
    """Between copper that is not joined, by our own geometry."""
    assert copper.narrowest_gap(BOARD) >= CLEARANCE - 0.001


def test_size_of_the_board() -> None:
    """At most 100 x 100 mm."""
    corners = tomllib.loads(OUTLINE.read_text())["corners"]
    assert all(max(c[i] for c in corners) - min(c[i] for c in corners) <= 100.0001 for i in (0, 1))


def test_supplies_are_wide(tree: sexpr.Node) -> None:
    """Most of V5 and VBUS runs in tracks of 0.5 mm and more; none is below 0.4 mm (IPC-2221: 0.4 mm of 35 um carries over 1 A at 20 K)."""
    names = {n[1]: n[2] for n in sexpr.children(tree, "net")}
    length: dict[float, float] = {}
    for track in sexpr.children(tree, "segment"):
        if names[str(int(sexpr.numbers(sexpr.child(track, "net"))[0]))] in ("V5", "VBUS"):
            width = sexpr.numbers(sexpr.child(track, "width"))[0]
            a, b = sexpr.numbers(sexpr.child(track, "start")), sexpr.numbers(sexpr.child(track, "end"))
            length[width] = length.get(width, 0.0) + math.dist(a, b)
    assert min(length) >= 0.4
    assert sum(mm for width, mm in length.items() if width >= 0.5) > 0.6 * sum(length.values())


def test_capacitors_stand_at_their_chips(tree: sexpr.Node) -> None:
    """Each decoupling capacitor's supply pad is within 15 mm of its chip's."""
    where: dict[str, list[tuple[float, float]]] = {}
    for line in copper.read(BOARD).lines:
        if line.joint and " " not in line.joint:
            where.setdefault(line.joint, []).append(line.a)
    parts = {p.ref: p for p in components()}
    for n in range(1, 9):
        ends = []
        for ref in (f"U{n}", f"C{310 + n}"):
            pad = next(pad for pad, net in parts[ref].pads.items() if net == "V5")
            points = where[f"{ref}.{pad}"]
            ends.append((sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points)))
        assert math.dist(*ends) < 15, f"C{310 + n}"


def lettering(tree: sexpr.Node) -> list[str]:
    """What can be read on the upper silk screen."""
    out = [t[1] for t in sexpr.children(tree, "gr_text") if (sexpr.child(t, "layer") or ["", ""])[1] == "F.SilkS"]
    for foot in sexpr.children(tree, "footprint"):
        out += [
            t[2]
            for t in sexpr.children(foot, "fp_text")
            if t[1] != "user" and "hide" not in t and (sexpr.child(t, "layer") or ["", ""])[1] == "F.SilkS"
        ]
    return out


def test_lettering_names_every_part_and_seat(tree: sexpr.Node) -> None:
    """Every designator once; values of resistors and capacitors; every chip size beside the socket; the revision; that nobody built it."""
    said = lettering(tree)
    for part in components():
        assert said.count(part.ref) == 1, part.ref
    for kind in ("resistor", "capacitor"):
        for value in {p.value for p in components() if p.kind == kind}:
            assert said.count(value) == sum(p.value == value for p in components()), value
    fixture = load()
    assert all(str(size) in said for size in fixture["socket"]["sizes"])
    title = next(s for s in said if fixture["fixture"]["name"] in s)
    assert f"rev {fixture['fixture']['revision']}" in title and "not yet built" in title


def test_size_marks_stand_at_the_ends_of_the_chips() -> None:
    """The number N stands under position N / 2, where the lower row of a chip of N pins ends (seating "top")."""
    outline = tomllib.loads(OUTLINE.read_text())
    x, y, degrees = outline["fixed"]["J1"]
    assert degrees == 90.0  # position 1 to 12 from left to right
    for size in load()["socket"]["sizes"]:
        mark = next(t for t in outline["text"] if t["say"] == str(size) and t["at"][1] > y)
        assert mark["at"][0] == pytest.approx(x + 2.54 * (size // 2 - 1), abs=0.01)
