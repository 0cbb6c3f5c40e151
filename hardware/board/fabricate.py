"""What a board house gets, and what KiCad's design-rule check says, from the committed board.

    /usr/bin/python3 -m hardware.board.fabricate OUT     # Gerbers, drill file, drc.txt, top.png, bottom.png in OUT

Needs KiCad 6's `pcbnew` and gerbv (Debian: kicad, gerbv).

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
import subprocess
import sys
import zipfile
from collections import Counter
from pathlib import Path

import pcbnew

from hardware.board.build_files import BOARD

# Layer, name of the file. The endings are the ones board houses know (Protel's; common practice).
LAYERS = (
    (pcbnew.F_Cu, "top_copper"),
    (pcbnew.B_Cu, "bottom_copper"),
    (pcbnew.F_Mask, "top_mask"),
    (pcbnew.B_Mask, "bottom_mask"),
    (pcbnew.F_SilkS, "top_silk"),
    (pcbnew.Edge_Cuts, "edge"),
)


def plot(board: pcbnew.BOARD, out: Path) -> list[Path]:
    """Gerbers of every layer and one Excellon drill file."""
    control = pcbnew.PLOT_CONTROLLER(board)
    options = control.GetPlotOptions()
    options.SetOutputDirectory(str(out))
    options.SetPlotFrameRef(False)
    options.SetUseGerberProtelExtensions(True)
    options.SetUseGerberX2format(True)
    options.SetIncludeGerberNetlistInfo(False)  # readers must find the nets from the copper alone
    options.SetUseAuxOrigin(True)
    options.SetSubtractMaskFromSilk(True)
    options.SetPlotValue(True)
    options.SetPlotReference(True)
    for layer, name in LAYERS:
        control.SetLayer(layer)
        control.OpenPlotfile(name, pcbnew.PLOT_FORMAT_GERBER, name)
        control.PlotLayer()
    control.ClosePlot()
    drill = pcbnew.EXCELLON_WRITER(board)
    drill.SetOptions(
        False, False, board.GetDesignSettings().GetAuxOrigin(), False
    )  # holes without plating in a file of their own
    drill.SetFormat(True)
    drill.CreateDrillandMapFilesSet(str(out), True, False)
    return sorted(p for p in out.iterdir() if p.suffix.lower() in (".gtl", ".gbl", ".gts", ".gbs", ".gto", ".gm1", ".drl"))


def check(board: pcbnew.BOARD, report: Path) -> Counter[str]:
    """KiCad's full design-rule check -> kind of violation and how often ("unconnected_items" among them)."""
    if not pcbnew.WriteDRCReport(board, str(report), pcbnew.EDA_UNITS_MILLIMETRES, True):
        sys.exit("KiCad's design-rule check did not run")
    return Counter(re.findall(r"^\[(\w+)\]", report.read_text(), re.M))


def picture(files: list[Path], out: Path, side: str) -> None:
    """A PNG of one side as it will look, by gerbv: parts' outlines and lettering over copper."""
    copper, silk = (".gtl", ".gto") if side == "top" else (".gbl", "")
    wanted = [(silk, "#FFFFFFFF"), (".gm1", "#000000FF"), (".drl", "#000000FF"), (copper, "#2E7D32FF")]
    names, colours = [], []
    for ending, colour in wanted:
        for file in files:
            if ending and file.suffix.lower() == ending:
                names.append(str(file))
                colours.append(f"--foreground={colour}")
    line = ["gerbv", "-x", "png", "-D", "400", "-B", "2", "-b", "#0B3D14", "-a", *colours, "-o", str(out), *names]
    subprocess.run(line, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


def main() -> int:
    """0 if the check finds nothing."""
    out = Path(sys.argv[1] if len(sys.argv) > 1 else "build/board").resolve()
    out.mkdir(parents=True, exist_ok=True)
    board = pcbnew.LoadBoard(str(BOARD))
    found = check(board, out / "drc.txt")
    files = plot(board, out)
    for side in ("top", "bottom"):
        picture(files, out / f"{side}.png", side)
    with zipfile.ZipFile(out / "bench24-gerbers.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        for file in files:
            archive.write(file, file.name)
    print(f"{len(files)} files for the board house in {out}; design-rule check:", dict(found) or "nothing found")
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main())
