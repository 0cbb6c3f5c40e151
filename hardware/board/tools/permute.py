"""Carry exchanged pins into wiring.toml: which line is at which pin of the controller, which position at which channel.

Only equivalent pins were exchanged (placing.groups), so the circuit does the same; every table is derived anew.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from hardware.board.design import FOOTPRINTS, components

Pins = dict[tuple[str, str], str]  # (ref, pad) -> net
REGISTER = tuple("QA QB QC QD QE QF QG QH".split())


def controller_nets(pins: Pins) -> dict[str, str]:
    """Board pin of the controller ("D22") -> net, for every header pad that was exchanged."""
    headers = {h["ref"]: h["pins"] for h in tomllib.loads(FOOTPRINTS.read_text())["header"]}
    return {headers[ref][int(pad) - 1]: net for (ref, pad), net in pins.items() if ref in headers}


def chip_lists(pins: Pins) -> dict[str, tuple[str, list[str]]]:
    """Chip -> (key of its list in wiring.toml, nets in the list's order), NC where nothing is connected."""
    table: dict[str, Any] = tomllib.loads(FOOTPRINTS.read_text())
    out = {}
    for part in components():
        if part.kind not in ("hc4051", "hc595") or not any(ref == part.ref for ref, _ in pins):
            continue
        terminals = [f"Y{i}" for i in range(8)] if part.kind == "hc4051" else list(REGISTER)
        pads = [table[part.kind]["pads"][t] for t in terminals]
        nets = [pins.get((part.ref, pad), part.pads[pad]) or "NC" for pad in pads]
        out[part.ref] = ("channels" if part.kind == "hc4051" else "outputs", nets)
    return out


def rewritten(text: str, pins: Pins) -> str:
    """The wiring file's text with the exchanged pins. ValueError if a line that must change is not there."""
    for pin, net in controller_nets(pins).items():
        text, count = re.subn(rf'^({pin}\s*= {{ port = "\w+", net = )"\w*"', rf'\1"{net}"', text, flags=re.M)
        if count != 1:
            raise ValueError(f"wiring.toml: {count} lines for {pin} in [controller.wires], expected one")
    for ref, (key, nets) in chip_lists(pins).items():
        listed = ", ".join(f'"{n}"' for n in nets)
        text, count = re.subn(
            rf'(^ref = "{ref}"\n(?:(?!\[\[).*\n)*?{key} = )\[.*\]', lambda m, v=listed: f"{m[1]}[{v}]", text, flags=re.M
        )
        if count != 1:
            raise ValueError(f"wiring.toml: {count} lists `{key}` of {ref}, expected one")
    return text


def rewrite(path: Path, pins: Pins) -> None:
    """Change the wiring file in place."""
    path.write_text(rewritten(path.read_text(), pins))
