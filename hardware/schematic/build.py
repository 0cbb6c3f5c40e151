"""Write the schematic: hardware/board/bench24.kicad_sch and a sheet for each function beside it.

    python -m hardware.schematic.build            # write
    python -m hardware.schematic.build --check    # exit 1, naming each stale file

Needs KiCad's symbols (Debian: kicad-symbols), not KiCad.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import copy
import sys
import uuid

from hardware.board import sexpr
from hardware.board.design import components
from hardware.board.sexpr import Node, Quoted
from hardware.schematic import library
from hardware.schematic.sheet import SPACE, Sheet
from hardware.schematic.sheets import SHEETS
from hardware.wiring import load
from protocol import emit

FOLDER = "hardware/board"


def drawn() -> list[Sheet]:
    """All sheets, finished. ValueError if a part stands nowhere."""
    parts = {p.ref: p for p in components()}
    sheets = [make(parts) for make in SHEETS]
    for sheet in sheets:
        sheet.finish()
    if lost := parts.keys() - {one.part.ref for sheet in sheets for one in sheet.placed}:
        raise ValueError(f"schematic: {', '.join(sorted(lost))} stand on no sheet; place them in hardware/schematic/sheets.py")
    return sheets


def _root(name: str, title: str, sheets: list[tuple[Sheet, Node]]) -> Node:
    """The first page: a box for each sheet."""
    ident = str(uuid.uuid5(SPACE, name))
    boxes: list[Node] = []
    pages: list[Node] = [["path", Quoted("/"), ["page", Quoted("1")]]]
    symbols: list[Node] = []
    for n, (sheet, tree) in enumerate(sheets):
        box = str(uuid.uuid5(SPACE, f"{name} {sheet.name}"))
        x, y = 25.4 + 81.28 * (n % 3), 38.1 + 45.72 * (n // 3)
        boxes.append(
            [
                "sheet",
                ["at", f"{x:g}", f"{y:g}"],
                ["size", "71.12", "30.48"],
                ["fields_autoplaced"],
                ["stroke", ["width", "0.1524"], ["type", "solid"], ["color", "0", "0", "0", "0"]],
                ["fill", ["color", "0", "0", "0", "0.0000"]],
                ["uuid", box],
                _text("Sheet name", sheet.title, 0, x, y - 0.8),
                _text("Sheet file", f"{sheet.name}.kicad_sch", 1, x, y + 32.5),
            ]
        )
        pages.append(["path", Quoted(f"/{box}"), ["page", Quoted(str(n + 2))]])
        for node in sexpr.children(tree, "symbol"):
            fields = {p[1]: p[2] for p in sexpr.children(node, "property")}
            inner = sexpr.child(node, "uuid") or ["", ""]
            unit = sexpr.child(node, "unit") or ["", "1"]
            symbols.append(
                [
                    "path",
                    Quoted(f"/{box}/{inner[1]}"),
                    ["reference", Quoted(fields["Reference"])],
                    ["unit", unit[1]],
                    ["value", Quoted(fields["Value"])],
                    ["footprint", Quoted(fields["Footprint"])],
                ]
            )
    remark = [
        "text",
        Quoted("Labels are global: a net has the same name on every sheet, in hardware/wiring.toml and on the board."),
        ["at", "25.4", "25.4", "0"],
        ["effects", ["font", ["size", "2", "2"]], ["justify", "left"]],
        ["uuid", str(uuid.uuid5(SPACE, f"{name} remark"))],
    ]
    return [
        "kicad_sch",
        ["version", "20211123"],
        ["generator", "sagbench"],
        ["uuid", ident],
        ["paper", Quoted("A4")],
        [
            "title_block",
            ["title", Quoted(title)],
            ["company", Quoted("sagbench")],
            ["comment", "1", Quoted("written by hardware/schematic from hardware/wiring.toml; CERN-OHL-S-2.0")],
        ],
        ["lib_symbols"],
        remark,
        *boxes,
        ["sheet_instances", *pages],
        ["symbol_instances", *symbols],
    ]


def _text(name: str, value: str, number: int, x: float, y: float) -> Node:
    return [
        "property",
        Quoted(name),
        Quoted(value),
        ["id", str(number)],
        ["at", f"{x:g}", f"{y:g}", "0"],
        ["effects", ["font", ["size", "1.27", "1.27"]], ["justify", "left", "bottom" if number == 0 else "top"]],
    ]


def _own_symbols(name: str) -> dict[str, str]:
    """Our supplies' symbols as a library beside the project, so that KiCad's rule check knows where they are from."""
    symbols = copy.deepcopy([library.symbol(name, supply) for supply in library.OWN_POWER])
    for symbol in symbols:
        symbol[1] = Quoted(symbol[1].removeprefix(f"{name}:"))
    own: Node = ["lib", ["name", Quoted(name)], ["type", Quoted("KiCad")], ["uri", Quoted(f"${{KIPRJMOD}}/{name}.kicad_sym")],
                 ["options", Quoted("")], ["descr", Quoted("supplies, named as hardware/wiring.toml names them")]]
    return {
        f"{FOLDER}/{name}.kicad_sym": sexpr.write(["kicad_symbol_lib", ["version", "20211014"], ["generator", "sagbench"], *symbols]) + "\n",
        f"{FOLDER}/sym-lib-table": sexpr.write(["sym_lib_table", own]) + "\n",
    }


def files() -> dict[str, str]:
    """Every file of the schematic: name from the checkout's root -> text."""
    fixture = load()["fixture"]
    sheets = [(sheet, sheet.tree()) for sheet in drawn()]
    out = {f"{FOLDER}/{sheet.name}.kicad_sch": sexpr.write(tree) + "\n" for sheet, tree in sheets}
    title = f"{fixture['title']}, revision {fixture['revision']}"
    out[f"{FOLDER}/{fixture['name']}.kicad_sch"] = sexpr.write(_root(fixture["name"], title, sheets)) + "\n"
    return {**out, **_own_symbols(fixture["name"])}


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "hardware.schematic.build"))
