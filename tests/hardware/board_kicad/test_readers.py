"""Our readers of schematics and copper against boards that others drew with KiCad: its demonstrations and templates.

In each the schematic's netlist, read by us, must be the one that KiCad itself wrote into the board beside it.
Debian packages kicad-demos (unpacked into build/outside by tests/prepare.py) and kicad-templates, both 6.0.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware.board import copper, sexpr
from hardware.board.build_files import BOARD
from hardware.schematic import reader

ROOT = Path(__file__).resolve().parents[3]
DEMOS = ROOT / "build/outside/usr/share/kicad/demos"
TEMPLATES = Path("/usr/share/kicad/template")
# Drawings without hierarchical pins, which our reader does not follow because our own drawing has none.
DRAWINGS = [
    DEMOS / name
    for name in (
        "ecc83/ecc83-pp.kicad_sch",
        "ecc83/ecc83-pp_v2.kicad_sch",
        "flat_hierarchy/flat_hierarchy.kicad_sch",
        "interf_u/interf_u.kicad_sch",
        "sonde xilinx/sonde xilinx.kicad_sch",
        "stickhub/StickHub.kicad_sch",
        "test_xil_95108/carte_test.kicad_sch",
    )
]
DRAWINGS += [
    TEMPLATES / name / f"{name}.kicad_sch"
    for name in ("Arduino_Mega", "Arduino_Uno", "Arduino_Nano", "Arduino_Micro", "Arduino_Pro_Mini")
]


def board_nets(file: Path) -> set[frozenset[tuple[str, str]]]:
    """What the board file itself says: pads (designator, number) by net name."""
    out: dict[str, set[tuple[str, str]]] = {}
    for foot in sexpr.children(sexpr.parse(file.read_text()), "footprint"):
        ref = next((t[2] for t in sexpr.children(foot, "fp_text") if t[1] == "reference"), "")
        for pad in sexpr.children(foot, "pad"):
            net = sexpr.child(pad, "net")
            if net and net[2]:
                out.setdefault(net[2], set()).add((ref, pad[1]))
    return {frozenset(pads) for pads in out.values()}


@pytest.mark.parametrize("drawing", DRAWINGS, ids=lambda d: d.stem)
def test_netlist_is_the_one_kicad_wrote(drawing: Path) -> None:
    """Net by net, over the pins both know (mechanical pads and unplaced parts are on one side only)."""
    ours = {frozenset(ends) for ends in reader.netlist(drawing).values()}
    theirs = board_nets(drawing.with_suffix(".kicad_pcb"))
    both = frozenset().union(*ours) & frozenset().union(*theirs)
    assert len(both) > 3
    assert {e & both for e in ours} - {frozenset()} == {e & both for e in theirs} - {frozenset()}


def test_copper_of_our_board_is_what_kicad_names() -> None:
    """The net names in the board file, which our reader of copper ignores, agree with what it finds."""
    found = {frozenset(tuple(pad.split(".")) for pad in pads) for pads in copper.joined(BOARD)}
    named = board_nets(BOARD)
    assert {f for f in found if len(f) > 1} == {n for n in named if len(n) > 1}
