"""The committed board: current, without a finding of KiCad's check, and, as the board house gets it, joined as wired.

Gerbers and drill file are read by gerbonara (PyPI) and joined by shapely (PyPI, the GEOS library): neither knows KiCad,
our router, or our own reader of copper.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import subprocess
import warnings
from pathlib import Path

import numpy
import pytest
from conftest import ROOT, SYSTEM_PYTHON
from shapely import STRtree, unary_union
from shapely.geometry import LineString, MultiPolygon, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from hardware.board import copper, sexpr
from hardware.board.build_files import BOARD
from hardware.board.design import components, nets

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from gerbonara import LayerStack
    from gerbonara.graphic_objects import Flash, Line, Region


def test_board_is_current(tmp_path: Path) -> None:
    """Built anew from wiring, placement and routes it is the committed file."""
    fresh = tmp_path / "bench24.kicad_pcb"
    subprocess.run([SYSTEM_PYTHON, "-m", "hardware.board.build", str(fresh)], cwd=ROOT, check=True)
    assert fresh.read_text() == BOARD.read_text()
    assert fresh.with_suffix(".kicad_pro").read_text() == BOARD.with_suffix(".kicad_pro").read_text()


def test_design_rule_check_finds_nothing(fabricated: Path) -> None:
    """KiCad's full check: no error, no warning, nothing unconnected, no courtyard overlap."""
    report = (fabricated / "drc.txt").read_text()
    assert "** Found 0 DRC violations **" in report
    assert "** Found 0 unconnected pads **" in report
    assert not re.findall(r"^\[\w+\]", report, re.M)


def test_design_rule_check_can_find_something(tmp_path: Path) -> None:
    """The same check on a board with a part moved onto another and a track taken out."""
    text = BOARD.read_text()
    places = [m for m in re.finditer(r'\(footprint "Resistor_THT[^\n]*\n(?:[^\n]*\n){0,6}?\s*\(at ([\d.]+) ([\d.]+)', text)]
    first, second = places[0], places[1]
    text = text[: second.start(1)] + first[1] + " " + first[2] + text[second.end(2) :]
    text = re.sub(r"\n\s*\(segment [^\n]*\)", "", text, count=5)
    (tmp_path / "worse.kicad_pcb").write_text(text)
    (tmp_path / "worse.kicad_pro").write_text(BOARD.with_suffix(".kicad_pro").read_text())
    script = (
        "import sys; from pathlib import Path; import pcbnew; from hardware.board import fabricate; "
        "found = fabricate.check(pcbnew.LoadBoard(sys.argv[1]), Path(sys.argv[2])); print(' '.join(sorted(found)))"
    )
    done = subprocess.run(
        [SYSTEM_PYTHON, "-c", script, str(tmp_path / "worse.kicad_pcb"), str(tmp_path / "drc.txt")],
        cwd=ROOT,
        text=True,
        capture_output=True,
        check=True,
    )
    assert {"courtyards_overlap", "unconnected_items"} <= set(done.stdout.split())


# ---------------------------------------------------------------- what the board house gets
def shape(item: object) -> BaseGeometry:
    """A graphic object as an area, mm."""
    if isinstance(item, Region):
        return Polygon(item.outline).buffer(0)
    if isinstance(item, Line):
        return LineString([(item.x1, item.y1), (item.x2, item.y2)]).buffer(item.aperture.diameter / 2, quad_segs=8)
    assert isinstance(item, Flash), f"{type(item).__name__} is not understood"
    if hasattr(item.aperture, "diameter"):
        return Point(item.x, item.y).buffer(item.aperture.diameter / 2, quad_segs=8)
    w, h = item.aperture.w / 2, item.aperture.h / 2
    if type(item.aperture).__name__ == "ObroundAperture":
        r = min(w, h)
        return LineString([(item.x - w + r, item.y - h + r), (item.x + w - r, item.y + h - r)]).buffer(r, quad_segs=8)
    return box(item.x - w, item.y - h, item.x + w, item.y + h)


def copper_areas(layer: object) -> list[Polygon]:
    """Areas of joined copper of one side."""
    assert all(o.polarity_dark for o in layer.objects)
    whole = unary_union([shape(o) for o in layer.objects])
    return list(whole.geoms) if isinstance(whole, MultiPolygon) else [whole]


@pytest.fixture(scope="module")
def stack(fabricated: Path) -> LayerStack:
    """The Gerbers as gerbonara reads them."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return LayerStack.open(fabricated)


def holes(stack: LayerStack, plated: bool) -> list[tuple[float, float, float]]:
    """x, y, diameter of every hole."""
    out = []
    for layer in stack.drill_layers:
        for o in layer.objects:
            if ("NPTH" not in str(layer.original_path)) == plated:
                out.append((o.x, o.y, o.aperture.diameter))
    return out


def pads_of_board() -> dict[str, tuple[float, float]]:
    """ "R101.1" -> place, in the Gerbers' coordinates (from the auxiliary origin, y up)."""
    tree = sexpr.parse(BOARD.read_text())
    ox, oy = sexpr.numbers(sexpr.child(sexpr.child(tree, "setup"), "aux_axis_origin"))
    out = {}
    for piece in copper.read(BOARD).lines:
        if "." in piece.joint:
            out.setdefault(piece.joint, []).extend((piece.a, piece.b))
    return {
        name: (sum(p[0] for p in ends) / len(ends) - ox, oy - sum(p[1] for p in ends) / len(ends)) for name, ends in out.items()
    }


def test_gerbers_join_what_is_wired(stack: LayerStack) -> None:
    """Copper of both sides and plated holes -> sets of pads; they are the nets of wiring.toml, no more and no less."""
    areas = [(side, area) for side in ("top", "bottom") for area in copper_areas(stack[(side, "copper")])]
    parent = list(range(len(areas)))

    def root(n: int) -> int:
        while parent[n] != n:
            n = parent[n]
        return n

    tree = STRtree([a for _, a in areas])
    drilled = holes(stack, plated=True)
    at_hole = []
    for x, y, diameter in drilled:
        touched = [int(n) for n in tree.query(Point(x, y).buffer(diameter / 2 + 0.05), predicate="intersects")]
        assert {areas[n][0] for n in touched} == {"top", "bottom"}, f"hole at {x}, {y} has no copper on one side"
        for n in touched[1:]:
            parent[root(n)] = root(touched[0])
        at_hole.append(touched[0])
    places = numpy.array([(x, y) for x, y, _ in drilled])
    joined: dict[int, set[str]] = {}
    double = {"SW1.1", "SW1.2"}  # a button has each contact twice
    for name, (x, y) in pads_of_board().items():
        if name in double:
            continue
        away = numpy.hypot(*(places - (x, y)).T)
        assert away.min() < 0.02, f"{name} has no hole"
        joined.setdefault(root(at_hole[int(away.argmin())]), set()).add(name)
    wired = [frozenset(f"{ref}.{pad}" for ref, pad in ends) - double for ends in nets(components()).values()]
    assert {frozenset(s) for s in joined.values() if len(s) > 1} == {s for s in wired if len(s) > 1}


def test_holes_fit_what_goes_through(stack: LayerStack) -> None:
    """A hole a pad, of at least 0.7 mm (leads of 0.5 to 0.6 mm, common practice), a via of 0.3 mm; two screws of 3.2 mm."""
    sizes = [round(d, 2) for _, _, d in holes(stack, plated=True)]
    leads = len([d for d in sizes if d > 0.3])
    assert leads == len(pads_of_board()) + 2  # the button's second contacts
    assert min(d for d in sizes if d > 0.3) >= 0.7
    assert [round(d, 2) for _, _, d in holes(stack, plated=False)] == [3.2, 3.2]


def test_size_of_the_outline(stack: LayerStack) -> None:
    """At most 100 x 100 mm, the price step of board houses (common practice)."""
    points = [(p, q) for o in stack[("mechanical", "outline")].objects for p, q in ((o.x1, o.y1), (o.x2, o.y2))]
    width, height = (max(p[i] for p in points) - min(p[i] for p in points) for i in (0, 1))
    assert width <= 100.001 and height <= 100.001


def test_pictures_of_both_sides(fabricated: Path) -> None:
    """PNG files, not empty (PNG specification, 11.2.2: width and height)."""
    for side in ("top", "bottom"):
        data = (fabricated / f"{side}.png").read_bytes()
        assert data[:8] == b"\x89PNG\r\n\x1a\n"
        assert int.from_bytes(data[16:20], "big") > 1000 and len(data) > 50_000
