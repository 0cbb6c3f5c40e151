"""Where in the wiring file a thing is said, so that a mistake can be named by its line.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from hardware.wiring import Fixture, spell_out

HEADER = re.compile(r"^\s*(\[+[^\[\]]+\]+)")


class Places:
    """Line numbers of tables, entries of arrays of tables, and keys."""

    def __init__(self, text: str) -> None:
        self._entries: dict[str, list[int]] = {}
        self._keys: dict[tuple[str, str], int] = {}
        table = ""
        for number, line in enumerate(text.splitlines(), 1):
            if header := HEADER.match(line):
                table = header[1].strip("[]")
                self._entries.setdefault(table, []).append(number)
            elif "=" in line and not line.lstrip().startswith("#"):
                self._keys.setdefault((table, line.split("=")[0].strip().strip('"')), number)

    def keep(self, table: str, indexes: list[int]) -> None:
        """Forget entries of an array of tables but these: the file is read for a build that leaves the others out."""
        self._entries[table] = [self.entry(table, index) for index in indexes]

    def entry(self, table: str, index: int = 0) -> int:
        """Line of the index-th header of a table; 1 if there is none."""
        lines = self._entries.get(table, [])
        return lines[index] if index < len(lines) else 1

    def key(self, table: str, key: str) -> int:
        """Line of a key, or else of its table."""
        return self._keys.get((table, key), self.entry(table))


@dataclass(frozen=True)
class Part:
    """One component and the line that brings it."""

    ref: str
    kind: str
    line: int
    raw: dict[str, Any]

    @property
    def role(self) -> str:
        """What it is for."""
        return str(self.raw.get("role", ""))

    def pin(self, name: str) -> str:
        """Net of a pin, "" if it has none."""
        return str(self.raw.get("pins", {}).get(name, ""))


@dataclass(frozen=True)
class Terminal:
    """One end of a net."""

    net: str
    what: str                  # "R101.1", "A1.D4"
    line: int
    drives: bool


def parts(raw: dict[str, Any], places: Places) -> list[Part]:
    """Every component, spelt out."""
    out = []
    for index, entry in enumerate(raw["part"]):
        line = places.entry("part", index)
        out += [Part(p["ref"], p["kind"], line, p) for p in spell_out({**raw, "part": [entry]})["part"]]
    return out


SUPPLY = "the supply"
# Outputs that push both ways. Transistors pull one way only and may share a net.
OUTPUT_PINS = {"hc595": ("QH2",), "mcp6004": ("AO", "BO", "CO", "DO")}
# Controller wires that only listen, beside those of the converter.
LISTENING = ("RXD", "OE_N", "BUTTON", "SER_BACK")


def terminals(raw: dict[str, Any], components: list[Part], places: Places) -> list[Terminal]:
    """Every end of every net; nets "" and "NC" are left out."""
    out = []
    quiet = {*LISTENING, *raw["adc"]["channels"]}
    for name, wire in raw["controller"]["wires"].items():
        line = places.key("controller.wires", name)
        out.append(Terminal(wire["net"], f"{raw['controller']['ref']}.{name}", line, wire["net"] not in quiet))
    for part in components:
        for pin, net in part.raw.get("pins", {}).items():
            out.append(Terminal(net, f"{part.ref}.{pin}", part.line, pin in OUTPUT_PINS.get(part.kind, ())))
        for index, net in enumerate(part.raw.get("outputs", [])):
            out.append(Terminal(net, f"{part.ref}.Q{'ABCDEFGH'[index % 8]}", part.line, True))
        for index, net in enumerate(part.raw.get("channels", [])):
            out.append(Terminal(net, f"{part.ref}.X{index}", part.line, False))
        if "common" in part.raw:
            out.append(Terminal(part.raw["common"], f"{part.ref}.X", part.line, False))
        if part.kind == "zif_socket":
            for k in fixture(raw).positions:
                out.append(Terminal(part.raw["net"].replace("{k}", str(k)), f"{part.ref}.{k}", part.line, False))
    for net in (raw["supply"]["net"], "GND"):
        out += [Terminal(net, SUPPLY, places.entry("supply"), True)]
    return [t for t in out if t.net not in ("", "NC")]


def fixture(raw: dict[str, Any]) -> Fixture:
    """The same file as `tables` wants it."""
    return spell_out(raw)
