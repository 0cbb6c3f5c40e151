"""Pins of logic symbols in the installed KiCad libraries (Debian package kicad-symbols).

The libraries are read where they are installed, nothing is copied from them.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

FOLDER = Path("/usr/share/kicad/symbols")


@dataclass(frozen=True)
class SymbolPin:
    """One pin: unit 0 is common to all units; names as in the library."""

    number: int
    name: str
    kind: str
    unit: int


def _blocks(text: str) -> dict[str, str]:
    heads = list(re.finditer(r'^  \(symbol "([^"]+)"', text, re.M))
    ends = [h.start() for h in heads[1:]] + [len(text)]
    return {h[1]: text[h.start():end] for h, end in zip(heads, ends, strict=True)}


@cache
def _library(name: str) -> dict[str, str]:
    path = FOLDER / f"{name}.kicad_sym"
    if not path.exists():
        raise FileNotFoundError(f"{path} is missing: install Debian's kicad-symbols")
    return _blocks(path.read_text(encoding="utf-8"))


def symbol(library: str, name: str) -> list[SymbolPin] | None:
    """Pins of a symbol, aliases followed, De Morgan bodies left out; None if there is none."""
    block = _library(library).get(name)
    if block is None:
        return None
    parent = re.search(r'\(extends "([^"]+)"', block)
    if parent:
        return symbol(library, parent[1])
    pins = {}
    units = re.split(r'^    \(symbol "', block, flags=re.M)[1:]
    for unit in units:
        place = re.match(r'[^"]*_(\d+)_(\d+)"', unit)
        if place is None or place[2] == "2":
            continue
        for pin in re.finditer(r'\(pin (\w+) \w+.*?\(name "([^"]*)".*?\(number "(\d+)"', unit, re.S):
            number = int(pin[3])
            pins[number] = SymbolPin(number, pin[2], pin[1], int(place[1]))
    return sorted(pins.values(), key=lambda p: p.number)


def names(library: str) -> tuple[str, ...]:
    """All symbols of a library."""
    return tuple(_library(library))
