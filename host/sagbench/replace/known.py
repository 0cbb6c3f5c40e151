# SPDX-License-Identifier: MIT
"""What equations and limits do not tell: the speed of families, what outputs may be pulled up to, parts with timing outside.

The figures stand in speed.toml and known.toml, each table with its source.
"""
from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

_ROOM = Path(__file__).parent


@dataclass(frozen=True)
class Speed:
    """A family's class: typical delay of a gate, typical duration of an edge, in seconds."""

    gate: float
    edge: float
    gate_source: str
    edge_source: str


@cache
def _table(name: str) -> dict[str, Any]:
    return tomllib.loads((_ROOM / f"{name}.toml").read_text(encoding="utf-8"))


def speed(family: str) -> Speed:
    """Of a family as part files call it ("74" for the plain series)."""
    entry = _table("speed")[family]
    entry = _table("speed")[entry["like"]] if "like" in entry else entry
    return Speed(entry["gate"] * 1e-9, entry["edge"] * 1e-9, entry["source"]["gate"], entry["source"]["edge"])


def off_volts(function: str) -> float:
    """To what an open collector of this function may be pulled up; volts, from memory."""
    table = _table("known")["off_volts"]
    return float(table.get(function, table["STANDARD"]))


def supply(family: str) -> tuple[float, float]:
    """Least and most volts of supply a family is made for; from memory."""
    table = _table("known")["supply"]
    least, most = table.get(family, table["STANDARD"])
    return float(least), float(most)


def near(function: str) -> dict[str, str]:
    """Functions with timing outside that are near one: number -> how they differ from it."""
    return {entry["other"]: entry["text"] for entry in _table("known")["near"] if entry["one"] == function}


def resembling(function: str) -> str:
    """What a function really does if its equations only resemble it; "" for others."""
    entry = _table("known")["passes"]
    return str(entry["text"]) if function in entry["functions"] else ""
