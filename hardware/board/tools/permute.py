"""Carry exchanged pins into wiring.toml: which output of a register drives which power switch.

Only equivalent pins were exchanged (placing.groups), so the circuit does the same; every table is derived anew.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from hardware.board.design import FOOTPRINTS, components

Pins = dict[tuple[str, str], str]  # (designator, pad) -> net


def outputs(pins: Pins) -> dict[str, list[str]]:
    """Register -> nets of QA..QH, NC where nothing is connected."""
    pads = tomllib.loads(FOOTPRINTS.read_text())["hc595"]["pads"]
    return {
        part.ref: [pins.get((part.ref, pads[f"Q{letter}"]), part.pads[pads[f"Q{letter}"]]) or "NC" for letter in "ABCDEFGH"]
        for part in components()
        if part.kind == "hc595" and any(ref == part.ref for ref, _ in pins)
    }


def rewritten(text: str, pins: Pins) -> str:
    """The wiring file's text with the exchanged pins. ValueError if a line that must change is not there."""
    for ref, nets in outputs(pins).items():
        listed = ", ".join(f'"{n}"' for n in nets)
        pattern = rf'(^ref = "{ref}"\n(?:(?!\[\[).*\n)*?outputs = )\[.*\]'
        text, count = re.subn(pattern, lambda m, v=listed: f"{m[1]}[{v}]", text, flags=re.M)
        if count != 1:
            raise ValueError(f"wiring.toml: {count} lists `outputs` of {ref}, expected one")
    return text


def rewrite(path: Path, pins: Pins) -> None:
    """Change the wiring file in place."""
    path.write_text(rewritten(path.read_text(), pins))
