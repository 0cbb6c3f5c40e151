"""Read hardware/wiring.toml and spell it out: one entry a component, one net a terminal.

    >>> fixture = load()
    >>> fixture["fixture"]["name"]
    'bench24'
    >>> fixture.part("R101")["pins"]
    {'1': 'S1', '2': 'Z1'}

Nothing here knows what the fixture is for; `check.py` says whether it is sane,
`derive.py` writes what others need of it.  Used at build time and by tests;
the host package reads only what was derived from it.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import json
import re
import tomllib
import zlib
from pathlib import Path
from typing import Any

from hardware import leave_out
from hardware.errors import WiringError

__all__ = ["PATH", "REDUCED", "Fixture", "WiringError", "load", "spell_out"]

PATH = Path(__file__).with_name("wiring.toml")
REDUCED = Path(__file__).parent / "reduced" / "wiring.toml"      # what the strap says when it is tied to ground
_SLOT = re.compile(r"\{k(?:\+(\d+))?\}")


class Fixture(dict):
    """The wiring file as a dictionary in which every `each` entry of `part` is spelt out."""

    def part(self, ref: str) -> dict[str, Any]:
        """The one component with this designator; KeyError if there is none."""
        return next(p for p in self["part"] if p["ref"] == ref) if any(
            p["ref"] == ref for p in self["part"]) else self._missing(ref)

    @staticmethod
    def _missing(ref: str) -> dict[str, Any]:
        raise KeyError(f"no part {ref} in the wiring file")

    @property
    def positions(self) -> list[int]:
        """Positions of the socket that are there, ascending."""
        absent = self["socket"].get("absent", [])
        return [k for k in range(1, self["socket"]["positions"] + 1) if k not in absent]

    @property
    def id(self) -> int:
        """CRC-32 of the meaning of the file (not of its comments): what the firmware reports as wiring id."""
        return zlib.crc32(json.dumps(self, sort_keys=True, separators=(",", ":")).encode())


def _positions(fixture: dict[str, Any], each: str, ref: str) -> list[int]:
    if each == "positions":
        return Fixture(fixture).positions
    for room in ("power", "lists"):
        if each in fixture.get(room, {}):
            return list(fixture[room][each])
    raise WiringError(f"part {ref}: `each = \"{each}\"` names no list; "
                      "write \"positions\" or a list of [power] or [lists]")


def _fill(value: Any, k: int) -> Any:
    if isinstance(value, str):
        return _SLOT.sub(lambda m: str(k + int(m.group(1) or 0)), value)
    if isinstance(value, dict):
        return {name: _fill(v, k) for name, v in value.items()}
    if isinstance(value, list):
        return [_fill(v, k) for v in value]
    return value


def spell_out(raw: dict[str, Any]) -> Fixture:
    """Replace every part that has `each` by one part a position, {k} filled in; add pins of multiplexers and registers."""
    parts = []
    for entry in raw["part"]:
        entry = dict(entry)
        each = entry.pop("each", None)
        for k in _positions(raw, each, entry["ref"]) if each else [0]:
            part = _fill(entry, k) if each else dict(entry)
            if each:
                part["position"] = k
            parts.append(part)
    fixture = Fixture(raw)
    fixture["part"] = parts
    return fixture


def _read(path: Path) -> dict[str, Any]:
    try:
        return parse(path.read_text())
    except tomllib.TOMLDecodeError as wrong:
        raise WiringError(f"{path}: {wrong}; mend the TOML there") from None


def parse(text: str) -> dict[str, Any]:
    """The data of a TOML text.  Raises TOMLDecodeError, which names the line, also for what the language's reader stumbles over."""
    try:
        return _without_beyond(tomllib.loads(text))
    except tomllib.TOMLDecodeError:
        raise
    except RecursionError:
        raise tomllib.TOMLDecodeError("Arrays or tables too deep within one another (at line 1, column 1)") from None
    except ValueError as wrong:      # a whole number of thousands of digits, a date that is none
        long = re.search(r"0[xob][0-9a-fA-F_]{16,}|\d[\d_]{18,}", text)
        line = text.count("\n", 0, long.start()) + 1 if long else 1
        raise tomllib.TOMLDecodeError(f"{str(wrong)[:60]} (at line {line}, column 1)") from None


def _without_beyond(data: Any) -> Any:
    """The data; ValueError if a whole number is in there that TOML does not have (v1.0.0, "Integer": 64 bits)."""
    for one in data.values() if isinstance(data, dict) else data if isinstance(data, list) else ():
        _without_beyond(one)
    if isinstance(data, int) and not -(2 ** 63) <= data < 2 ** 63:
        raise ValueError("a whole number beyond 64 bits")
    return data


def load(path: Path = PATH) -> Fixture:
    """The fixture described at `path`, which may be based on another file (leave_out.py).

    Raises WiringError with file and line if it is not TOML, and for what a reduced build cannot leave out.
    """
    raw = _read(path)
    if "based_on" not in raw:
        return spell_out(raw)
    base = _read(path.parent / raw["based_on"])
    fixture = spell_out(leave_out.compose(base, raw))
    leave_out.unwire(fixture, spell_out(base))
    return fixture
