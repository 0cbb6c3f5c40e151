"""The board: what KiCad's check finds (where KiCad is), what copper and wiring disagree about, size, parts, price.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import subprocess
import tempfile
import tomllib
from collections.abc import Iterator
from pathlib import Path

from hardware import parts_list
from hardware.board import copper
from hardware.board.build_files import BOARD, OUTLINE
from hardware.board.design import components, nets
from hardware.schematic import reader
from rig import ROOT

SYSTEM_PYTHON = "/usr/bin/python3"  # KiCad's pcbnew is built for it
CHECK = (
    "import sys; from pathlib import Path; import pcbnew; from hardware.board import fabricate; "
    "found = fabricate.check(pcbnew.LoadBoard(sys.argv[1]), Path(sys.argv[2])); "
    "print(sum(found.values()) - found['unconnected_items'], found['courtyards_overlap'], found['unconnected_items'])"
)


def design_rules() -> Iterator[tuple[str, float, str]]:
    """KiCad's full check of the committed board; nothing where KiCad is not installed (`make board` installs it)."""
    if subprocess.run([SYSTEM_PYTHON, "-c", "import pcbnew"], capture_output=True, check=False).returncode:
        return
    with tempfile.TemporaryDirectory() as folder:
        done = subprocess.run(
            [SYSTEM_PYTHON, "-c", CHECK, str(BOARD), str(Path(folder) / "drc.txt")],
            cwd=ROOT,
            text=True,
            capture_output=True,
            check=True,
        )
    for name, value in zip(("drc_errors", "courtyard_overlaps", "unconnected"), done.stdout.split()[-3:], strict=True):
        yield name, float(value), "1"


def design() -> Iterator[tuple[str, float, str]]:
    """Nets that differ: wiring against copper, and wiring against schematic; the outline; the parts list."""
    wired = nets(components())
    sets = {frozenset(f"{ref}.{pad}" for ref, pad in ends) for ends in wired.values() if len(ends) > 1}
    joined = {pads for pads in copper.joined(BOARD) if len(pads) > 1}
    drawn = reader.netlist(BOARD.with_suffix(".kicad_sch"))
    one_pin = {("U9", "1")}  # the reference's second anode pad has no pin in the symbol
    differ = len(sets ^ joined) + sum(drawn.get(net) != set(ends) - one_pin for net, ends in wired.items())
    yield "netlist_differences", differ, "1"
    corners = tomllib.loads(OUTLINE.read_text())["corners"]
    for axis, name in enumerate(("board_width_mm", "board_height_mm")):
        yield name, max(c[axis] for c in corners) - min(c[axis] for c in corners), "mm"
    listed = parts_list.lines()
    yield "bom_parts", parts_list.fitted(listed), "1"
    yield "bom_usd_estimate", parts_list.total_usd(listed), "USD"
