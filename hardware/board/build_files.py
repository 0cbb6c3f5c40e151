"""Where the board's files are and how its sheet is laid out: what builders, checkers and tests share.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from hardware.board.design import HERE

BOARD = HERE / "bench24.kicad_pcb"
PLACEMENT, ROUTES, OUTLINE = HERE / "placement.toml", HERE / "routes.txt", HERE / "outline.toml"
ORIGIN = (50.0, 50.0)  # where the corner of the controller board lies on the sheet, mm
