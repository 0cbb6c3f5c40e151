"""Pins of logic symbols in Debian's lepton-eda, which `make setup` unpacks into build/outside.

The symbols are read where they lie, nothing is copied from them.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

from kicad_symbols import SymbolPin

FOLDER = Path(__file__).resolve().parents[2] / "build/outside/usr/share/lepton-eda/sym"
# Their words for directions in the words of the KiCad libraries ("tp" is totem-pole).
KINDS = {"in": "input", "clk": "input", "out": "output", "tp": "output", "oc": "open_collector", "oe": "open_emitter",
         "tri": "tri_state", "io": "bidirectional", "pas": "passive", "pwr": "power_in"}


@cache
def _files() -> dict[str, tuple[Path, ...]]:
    """Device -> its drawings, the first one first."""
    if not FOLDER.exists():
        raise FileNotFoundError(f"{FOLDER} is missing: run `make setup`")
    found: dict[str, tuple[Path, ...]] = {}
    for path in sorted((*FOLDER.glob("74/*.sym"), *FOLDER.glob("4000/*.sym"))):
        device = path.stem.rsplit("-", 1)[0]
        found[device] = (*found.get(device, ()), path)
    return found


def devices() -> tuple[str, ...]:
    """All there are: "7400", "4011", "74HC244"."""
    return tuple(_files())


def symbol(device: str) -> list[SymbolPin] | None:
    """Pins of a device by its first drawing; a slot is a unit (0: no slots).  None if there is none."""
    paths = _files().get(device)
    if not paths:
        return None
    text = paths[0].read_text(encoding="latin-1")
    pins = {pin.number: pin for pin in _drawn(text)}
    for net in re.finditer(r"^net=(\w+):([\d,]+)", text, re.M):
        for number in map(int, net[2].split(",")):
            pins[number] = SymbolPin(number, net[1].upper(), "power_in", 0)
    return sorted(pins.values(), key=lambda p: p.number)


def _drawn(text: str) -> Iterator[SymbolPin]:
    """The pins of the drawing, once for each slot."""
    slots = [(int(s[1]), s[2].split(",")) for s in re.finditer(r"^slotdef=(\d+):([\d,]+)", text, re.M)]
    for body in re.findall(r"^P .*?\n\{\n(.*?)^\}", text, re.M | re.S):
        said = dict(re.findall(r"^(pinnumber|pinseq|pinlabel|pintype)=(.*)$", body, re.M))
        name = re.sub(r"\\_(.*?)\\_", r"~{\1}", said.get("pinlabel", "~"))
        kind = KINDS[said.get("pintype", "pas").strip()]
        if not slots:
            yield SymbolPin(int(said["pinnumber"]), name, kind, 0)
        for unit, numbers in slots:
            yield SymbolPin(int(numbers[int(said["pinseq"]) - 1]), name, kind, unit)
