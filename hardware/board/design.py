"""What is to be on the board: every part of wiring.toml with its footprint, and which net each pad is on.

Runs under the system's Python as well (KiCad's `pcbnew` lives there), so it needs the standard library only.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hardware.wiring import Fixture, WiringError, load

HERE = Path(__file__).parent
FOOTPRINTS = HERE / "footprints.toml"


@dataclass(frozen=True)
class Component:
    """One part on the board. `pads`: pad number -> net ("" is not connected)."""

    ref: str
    value: str
    kind: str
    role: str
    library: str
    name: str
    pads: dict[str, str]
    tolerance: str = ""  # "1%"
    fixed: tuple[float, float, float] | None = None  # x, y of the first pin, mm from the controller board's corner; degrees


def value_of(part: dict[str, Any]) -> str:
    """What is printed beside the part and stands in the parts list: "270", "8k2", "100n", "74HC4051"."""
    kind = part["kind"]
    if kind == "resistor":
        return ohms(part["ohm"])
    if kind == "capacitor":
        nf = part["nf"]
        return f"{nf / 1000:g}u" if nf >= 1000 else f"{nf:g}n"
    named = {
        "hc4051": "74HC4051",
        "hc595": "74HC595",
        "mcp6004": "MCP6004",
        "lm4040": "LM4040-2.5",
        "led": "LED",
        "button": "button",
        "zif_socket": "ZIF 24",
    }
    return str(part.get("type") or named[kind])


def ohms(ohm: float) -> str:
    """The RKM code of IEC 60062: 8200 -> "8k2", 1.0 -> "1R0", 270 -> "270"."""
    if ohm < 100:
        return f"{ohm:.1f}".replace(".", "R")
    if ohm < 1000:
        return f"{ohm:g}"
    thousand = f"{ohm / 1000:g}"
    return thousand.replace(".", "k") if "." in thousand else f"{thousand}k"


def _footprint(table: dict[str, Any], part: dict[str, Any]) -> dict[str, Any]:
    if part["kind"] not in table:
        raise WiringError(f"part {part['ref']}: board/footprints.toml has no body for kind {part['kind']!r}; add one")
    entry = dict(table[part["kind"]])
    return dict(entry.get("by_nf", {}).get(str(part.get("nf")), entry))


def pad_list(where: str | list[str]) -> list[str]:
    """A terminal's pads: one, or several that belong together."""
    return [where] if isinstance(where, str) else where


def _terminals(part: dict[str, Any]) -> dict[str, str]:
    """Terminal -> net, channels and outputs of the multi-pin kinds among them."""
    pins = dict(part.get("pins", {}))
    if part["kind"] == "hc4051":
        pins["COM"] = part["common"]
        pins |= {f"Y{i}": net for i, net in enumerate(part["channels"])}
    if part["kind"] == "hc595":
        pins |= {f"Q{letter}": net for letter, net in zip("ABCDEFGH", part["outputs"], strict=True)}
    return {name: "" if net == "NC" else net for name, net in pins.items()}


def components(fixture: Fixture | None = None) -> list[Component]:
    """Everything that is soldered, in the order of wiring.toml, then the headers."""
    fixture = fixture or load()
    table = tomllib.loads(FOOTPRINTS.read_text())
    out = []
    for part in fixture["part"]:
        body = _footprint(table, part)
        if part["kind"] == "zif_socket":
            pads = {str(k): f"Z{k}" for k in range(1, part["positions"] + 1)}
        else:
            terminals = _terminals(part)
            pads = {pad: terminals.get(name, "") for name, where in body["pads"].items() for pad in pad_list(where)}
            if lost := terminals.keys() - body["pads"].keys():
                raise WiringError(f"part {part['ref']}: no pad for its pins {', '.join(sorted(lost))}; see board/footprints.toml")
        out.append(
            Component(
                part["ref"],
                value_of(part),
                part["kind"],
                part.get("role", ""),
                body["library"],
                body["name"],
                pads,
                f"{part['tolerance'] * 100:g}%" if "tolerance" in part else "",
            )
        )
    return out + [_header(fixture, entry) for entry in table["header"]]


def _header(fixture: Fixture, entry: dict[str, Any]) -> Component:
    wires = fixture["controller"]["wires"]
    rails = {"V5", "GND"}
    pads = {str(i + 1): pin if pin in rails else wires[pin]["net"] if pin else "" for i, pin in enumerate(entry["pins"])}
    shape = f"2x{len(entry['pins']) // 2:02d}" if entry.get("rows") == 2 else f"1x{len(entry['pins']):02d}"
    return Component(
        entry["ref"],
        "controller",
        "header",
        "controller board",
        "Connector_PinHeader_2.54mm",
        f"PinHeader_{shape}_P2.54mm_Vertical",
        pads,
        "",
        (*entry["at"], entry["degrees"]),
    )


def nets(parts: list[Component]) -> dict[str, list[tuple[str, str]]]:
    """Net -> (ref, pad), nets of one pad included."""
    out: dict[str, list[tuple[str, str]]] = {}
    for part in parts:
        for pad, net in part.pads.items():
            if net:
                out.setdefault(net, []).append((part.ref, pad))
    return out
