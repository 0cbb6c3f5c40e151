"""The committed schematic is wiring.toml, net by net, as read back by a reader that knows nothing of what drew it.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from hardware.board import sexpr
from hardware.board.design import FOOTPRINTS, HERE, components, nets, pad_list
from hardware.schematic import build, paper, reader
from protocol import emit

ROOT = HERE / "bench24.kicad_sch"
# Pads that belong to a terminal of another pad (LM4040's second anode) have no pin in the symbol.
TABLE = tomllib.loads(FOOTPRINTS.read_text())
SECOND = {
    (p.ref, pad)
    for p in components()
    if p.kind == "lm4040"
    for where in TABLE["lm4040"]["pads"].values()
    for pad in pad_list(where)[1:]
}


def test_schematic_is_current() -> None:
    """A fresh drawing equals the committed files."""
    assert emit.stale(build.files()) == []


def test_netlist_of_the_schematic_is_the_wiring() -> None:
    """Same nets, same names, same pins; pins without a net stand alone."""
    read = reader.netlist(ROOT)
    wired = {net: set(ends) - SECOND for net, ends in nets(components()).items()}
    assert {net: ends for net, ends in read.items() if net in wired} == wired
    assert all(len(ends) == 1 for net, ends in read.items() if net not in wired)


def test_values_tolerances_footprints() -> None:
    """Every part has them in the schematic, as the board has."""
    seen = {}
    for _, tree in reader.sheets(ROOT):
        for symbol in sexpr.children(tree, "symbol"):
            fields = {p[1]: p[2] for p in sexpr.children(symbol, "property")}
            if not fields["Reference"].startswith("#"):
                seen[fields["Reference"]] = (fields["Value"], fields["Footprint"])
    assert seen == {p.ref: (f"{p.value} {p.tolerance}".strip(), f"{p.library}:{p.name}") for p in components()}


def sheet(*body: str) -> str:
    """A schematic of two resistors-like symbols, pins at (10, 10) and (20, 10), with that in it."""
    symbol = '(symbol "L:T" (symbol "T_1_1" (pin passive line (at 0 0 0) (length 1) (name "~") (number "1"))))'
    places = " ".join(
        f'(symbol (lib_id "L:T") (at {x} 10 0) (unit 1) (property "Reference" "{ref}") (property "Value" ""))'
        for ref, x in (("A", 10), ("B", 20))
    )
    return f"(kicad_sch (lib_symbols {symbol}) {places} {' '.join(body)})"


@pytest.mark.parametrize(
    ("body", "joined"),
    [
        (["(wire (pts (xy 10 10) (xy 20 10)))"], True),
        (["(wire (pts (xy 10 10) (xy 19 10)))"], False),
        (
            ["(wire (pts (xy 10 10) (xy 10 20)))", "(wire (pts (xy 20 10) (xy 20 20)))", "(wire (pts (xy 0 15) (xy 30 15)))"],
            False,
        ),
        (
            [
                "(wire (pts (xy 10 10) (xy 10 20)))",
                "(wire (pts (xy 20 10) (xy 20 20)))",
                "(wire (pts (xy 0 15) (xy 30 15)))",
                "(junction (at 10 15))",
                "(junction (at 20 15))",
            ],
            True,
        ),
        (['(global_label "N" (at 10 10 0))', '(global_label "N" (at 20 10 0))'], True),
        (['(global_label "N" (at 10 10 0))', '(global_label "M" (at 20 10 0))'], False),
    ],
)
def test_reader_joins_what_kicad_joins(tmp_path: Path, body: list[str], joined: bool) -> None:
    """Wires join at ends, crossings only with a junction, labels by name."""
    (tmp_path / "a.kicad_sch").write_text(sheet(*body))
    together = any(ends == {("A", "1"), ("B", "1")} for ends in reader.netlist(tmp_path / "a.kicad_sch").values())
    assert together == joined


def test_a_moved_label_is_found(tmp_path: Path) -> None:
    """One label of the drive sheet renamed: the comparison above would fail."""
    for file in HERE.glob("*.kicad_sch"):
        (tmp_path / file.name).write_text(file.read_text())
    drive = tmp_path / "drive.kicad_sch"
    drive.write_text(drive.read_text().replace('(global_label "S7"', '(global_label "S8"', 1))
    assert reader.netlist(tmp_path / ROOT.name) != reader.netlist(ROOT)


def test_pdf_has_every_page_and_designator() -> None:
    """Pages in the PDF as sheets in the schematic; each designator is a word on some page."""
    pages = [paper.page(tree) for _, tree in reader.sheets(ROOT)]
    data = paper.pdf(pages)
    assert data.count(b"/Type /Page ") == len(pages) == len(build.drawn()) + 1
    words = {m.say for marks in pages for m in marks if isinstance(m, paper.Word)}
    assert {p.ref for p in components() if p.ref != "U8"} <= words
    assert {f"U8{unit}" for unit in "ABCDE"} <= words


# ------------------------------------------------------------ what an electrical rule check looks at (KiCad 6 runs its own by hand only)
def kinds() -> dict[tuple[str, str], list[str]]:
    """(designator, pin) -> electrical types that its symbol gives the pin, of every sheet."""
    out: dict[tuple[str, str], list[str]] = {}
    for _, tree in reader.sheets(ROOT):
        library = {s[1]: s for s in sexpr.children(sexpr.child(tree, "lib_symbols") or [], "symbol")}
        for symbol in sexpr.children(tree, "symbol"):
            ref = next(p[2] for p in sexpr.children(symbol, "property") if p[1] == "Reference")
            for unit in sexpr.children(library[(sexpr.child(symbol, "lib_id") or ["", ""])[1]], "symbol"):
                for pin in sexpr.children(unit, "pin"):
                    out.setdefault((ref, (sexpr.child(pin, "number") or ["", ""])[1]), []).append(pin[1])
    return out


def test_every_pin_is_joined_or_marked_as_open() -> None:
    """A cross stands at each pin without a net, and at no other."""
    wired = {end for ends in nets(components()).values() for end in ends}
    for _, tree in reader.sheets(ROOT):
        crosses = {reader.place(sexpr.numbers(sexpr.child(c, "at"))) for c in sexpr.children(tree, "no_connect")}
        assert {pin.at for pin in reader.pins(tree) if not pin.ref.startswith("#") and (pin.ref, pin.number) not in wired} == crosses


def test_supplies_have_a_flag_and_nothing_else_drives_them() -> None:
    """Nets with supply pins are fed by one flag (KiCad: "power input pin not driven"); no net has two outputs."""
    types, flagged = kinds(), set()
    for _, tree in reader.sheets(ROOT):
        joined = reader.Union()
        points = reader.join_sheet(joined, "s", tree)
        for pin, point in points:
            if pin.ref.startswith("#FLG"):
                flagged |= {net for net in ("V5", "GND", "VBUS") if joined.root(("net", net)) == joined.root(point)}
    assert flagged == {"V5", "GND", "VBUS"}
    for net, ends in reader.netlist(ROOT).items():
        on = [kind for end in ends for kind in set(types[end])]
        assert "power_in" not in on or net in flagged, net
        assert sum(kind == "output" for kind in on) <= 1, net


def test_titles_fit_kicads_title_block() -> None:
    """Sixty letters are what KiCad 6's title block of an A4 sheet takes (looked at in its editor)."""
    for name, tree in reader.sheets(ROOT):
        title = sexpr.child(sexpr.child(tree, "title_block") or [], "title") or ["", "?" * 99]
        assert len(title[1]) <= 60, name
