"""Build the KiCad board from what is wired, where parts stand, and how the tracks run.

    /usr/bin/python3 -m hardware.board.build [FILE]     # default: hardware/board/bench24.kicad_pcb, and its .kicad_pro

Needs KiCad 6's `pcbnew` (Debian: kicad, kicad-footprints), which lives in the system's Python only.  `placement.toml`
and `routes.txt` are results of the tools in `tools/`.  Lengths are millimetres from the upper left corner of the
controller board, y down, as KiCad counts.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import json
import sys
import tomllib
from pathlib import Path

import pcbnew

from hardware.board import lettering, settle
from hardware.board.build_files import BOARD, ORIGIN, OUTLINE, PLACEMENT, ROUTES
from hardware.board.design import Component, components
from hardware.board.geometry import FOOTPRINTS

# Rules of the check, mm: within what the cheapest board makers offer (0.15 mm tracks and gaps, 0.3 mm drills; common practice).
RULES = {
    "min_clearance": 0.2,
    "min_track_width": 0.2,
    "min_via_diameter": 0.6,
    "min_through_hole_diameter": 0.3,
    "min_via_annular_width": 0.13,
    "min_hole_clearance": 0.25,
    "min_hole_to_hole": 0.25,
    "min_copper_edge_clearance": 0.4,
    "min_silk_clearance": 0.0,
}


def at(x: float, y: float) -> pcbnew.wxPoint:
    """Board millimetres -> KiCad's point."""
    return pcbnew.wxPointMM(ORIGIN[0] + x, ORIGIN[1] + y)


class Builder:
    """One board under construction."""

    def __init__(self, path: Path) -> None:
        self.board = pcbnew.NewBoard(str(path))
        self.outline = tomllib.loads(OUTLINE.read_text())
        self.nets: dict[str, pcbnew.NETINFO_ITEM] = {}
        self.footprints: dict[str, pcbnew.FOOTPRINT] = {}
        self.board.GetDesignSettings().SetCopperLayerCount(2)
        corners = self.outline["corners"]
        self.board.GetDesignSettings().SetAuxOrigin(at(min(c[0] for c in corners), max(c[1] for c in corners)))

    def net(self, name: str) -> pcbnew.NETINFO_ITEM:
        """The net of that name, made when first asked for."""
        if name not in self.nets:
            self.nets[name] = pcbnew.NETINFO_ITEM(self.board, name)
            self.board.Add(self.nets[name])
        return self.nets[name]

    def edges(self) -> None:
        """Board outline and mounting holes."""
        corners = self.outline["corners"]
        for a, b in zip(corners, corners[1:] + corners[:1], strict=True):
            line = pcbnew.PCB_SHAPE(self.board)
            line.SetShape(pcbnew.SHAPE_T_SEGMENT)
            line.SetStart(at(*a))
            line.SetEnd(at(*b))
            line.SetLayer(pcbnew.Edge_Cuts)
            line.SetWidth(pcbnew.FromMM(0.1))
            self.board.Add(line)
        for number, hole in enumerate(self.outline["holes"], 1):
            part = pcbnew.FootprintLoad(str(FOOTPRINTS / "MountingHole.pretty"), "MountingHole_3.2mm_M3")
            part.SetReference(f"H{number}")
            part.SetPosition(at(*hole))
            part.Reference().SetVisible(False)
            part.Value().SetVisible(False)
            self.board.Add(part)

    def place(self, component: Component, x: float, y: float, degrees: float) -> None:
        """One part: its footprint, nets on its pads."""
        part = pcbnew.FootprintLoad(str(FOOTPRINTS / f"{component.library}.pretty"), component.name)
        if part is None:
            sys.exit(f"{component.ref}: KiCad's libraries have no {component.library}:{component.name}; install kicad-footprints")
        part.SetReference(component.ref)
        part.SetValue(component.value)
        part.SetPosition(at(x, y))
        part.SetOrientationDegrees(degrees)
        part.SetFPID(pcbnew.LIB_ID(component.library, component.name))
        for text in (part.Reference(), part.Value()):
            text.SetVisible(False)
        for item in list(part.GraphicalItems()):
            if isinstance(item, pcbnew.FP_TEXT) and item.GetLayer() == pcbnew.F_SilkS:
                part.Delete(item)                           # the "K" of diodes: their band says it, and it may lie on other silk
        for pad in part.Pads():
            if net := component.pads.get(pad.GetNumber(), ""):
                pad.SetNet(self.net(net))
        self.footprints[component.ref] = part
        self.board.Add(part)

    def letter(self, labels: list[lettering.Label]) -> None:
        """Designators and values of the parts, and what a builder and a user must read."""
        for label in labels:
            text, turned = pcbnew.PCB_TEXT(self.board), 0.0
            if label.what == "reference":
                text, turned = self.footprints[label.ref].Reference(), self.footprints[label.ref].GetOrientation()
                text.SetVisible(True)
                text.SetKeepUpright(False)
            else:
                text.SetText(label.say)
                self.board.Add(text)
            text.SetLayer(pcbnew.F_SilkS)
            text.SetTextSize(pcbnew.wxSizeMM(label.size, label.size))
            text.SetTextThickness(pcbnew.FromMM(lettering.PEN if label.size < 1.1 else 0.18))
            text.SetPosition(at(label.x, label.y))
            text.SetTextAngle(label.degrees * 10 - turned)

    def draw(self) -> None:
        """Lines on the silk screen."""
        for x1, y1, x2, y2 in self.outline.get("line", []):
            line = pcbnew.PCB_SHAPE(self.board)
            line.SetShape(pcbnew.SHAPE_T_SEGMENT)
            line.SetStart(at(x1, y1))
            line.SetEnd(at(x2, y2))
            line.SetLayer(pcbnew.F_SilkS)
            line.SetWidth(pcbnew.FromMM(0.15))
            self.board.Add(line)

    def tracks(self) -> None:
        """Tracks and vias of routes.txt: `net layer width x1 y1 x2 y2`, `net via diameter drill x y`."""
        for line in ROUTES.read_text().splitlines():
            if not line or line.startswith("#"):
                continue
            net, what, *numbers = line.split()
            values = [float(n) for n in numbers]
            if what == "via":
                item = pcbnew.PCB_VIA(self.board)
                item.SetWidth(pcbnew.FromMM(values[0]))
                item.SetDrill(pcbnew.FromMM(values[1]))
                item.SetPosition(at(*values[2:4]))
            else:
                item = pcbnew.PCB_TRACK(self.board)
                item.SetLayer(pcbnew.F_Cu if what == "top" else pcbnew.B_Cu)
                item.SetWidth(pcbnew.FromMM(values[0]))
                item.SetStart(at(*values[1:3]))
                item.SetEnd(at(*values[3:5]))
            item.SetNet(self.net(net))
            self.board.Add(item)

    def pours(self) -> None:
        """Ground on both sides, wherever there is room."""
        for layer in (pcbnew.F_Cu, pcbnew.B_Cu):
            zone = pcbnew.ZONE(self.board)
            zone.SetLayer(layer)
            zone.SetNet(self.net("GND"))
            outline = zone.Outline()
            outline.NewOutline()
            for x, y in self.outline["corners"]:
                point = at(x, y)
                outline.Append(point.x, point.y)
            zone.SetLocalClearance(pcbnew.FromMM(0.25))
            zone.SetMinThickness(pcbnew.FromMM(0.25))
            zone.SetThermalReliefGap(pcbnew.FromMM(0.3))
            zone.SetThermalReliefSpokeWidth(pcbnew.FromMM(0.5))
            zone.SetPadConnection(pcbnew.ZONE_CONNECTION_THERMAL)
            zone.SetIslandRemovalMode(pcbnew.ISLAND_REMOVAL_MODE_ALWAYS)
            self.board.Add(zone)
        pcbnew.ZONE_FILLER(self.board).Fill(self.board.Zones())


def rules(project: Path) -> None:
    """The project file: nothing but the rules of the check (KiCad fills in the rest)."""
    project.write_text(
        json.dumps(
            {
                "board": {"design_settings": {"rules": RULES, "rule_severities": {}}},
                "meta": {"filename": project.name, "version": 1},
                "net_settings": {
                    "classes": [
                        {"name": "Default", "clearance": 0.2, "track_width": 0.25, "via_diameter": 0.6, "via_drill": 0.3}
                    ],
                    "meta": {"version": 2},
                },
            },
            indent=1,
        )
        + "\n"
    )


def build(path: Path = BOARD) -> None:
    """Write the board file and its project."""
    builder = Builder(path)
    builder.edges()
    where = {ref: tuple(place) for ref, place in tomllib.loads(PLACEMENT.read_text()).items()}
    parts = components()
    if lost := [p.ref for p in parts if p.ref not in where]:
        sys.exit(f"{PLACEMENT.name} says nothing of {', '.join(lost)}: run the placer again or add a line")
    for component in parts:
        builder.place(component, *where[component.ref])
    builder.tracks()
    labels, unnamed = lettering.letter(parts, where, builder.outline)
    if unnamed:
        print(f"no room for the lettering of {', '.join(unnamed)}", file=sys.stderr)
    builder.letter(labels)
    builder.draw()
    builder.pours()
    pcbnew.SaveBoard(str(path), builder.board)
    path.write_text(settle.settled(path.read_text()))
    rules(path.with_suffix(".kicad_pro"))
    path.with_suffix(".kicad_prl").unlink(missing_ok=True)


if __name__ == "__main__":
    build(*(Path(p) for p in sys.argv[1:2]))
