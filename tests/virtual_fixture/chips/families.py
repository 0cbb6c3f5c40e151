"""Electrical parameters of a specimen, drawn around its family's typicals.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
import re
import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from . import databook
from .behaviour import PARTS
from .behaviour.model import key_parts

HERE = Path(__file__).parent
TYPICAL_SHARE = 0.62             # of the books' largest supply current (common practice)
VOLTS = ("_v", "_vf", "_vbe", "_vt")   # parameters whose spread is absolute
PIN_SHARE = 0.1                  # of the spread: mismatch between pins of one chip
NUMBER = re.compile(r"^[A-Z]{0,4}(?P<series>54|74)(?P<family>ALS|ACT|HCT|LS|AS|AC|HC|L|H|S|F|)"
                    r"(?P<number>\d{2,5})[A-Z]?$")
MSI_NUMBER = re.compile(r"^[A-Z]{0,3}(?P<head>9[36])(?P<family>LS|L|H|S|)(?P<tail>\d{2})(DC|PC)?$")   # 9602, 96L02, 93L11
CMOS_NUMBER = re.compile(r"^[A-Z]{0,3}(?P<number>4[057]\d{2}|40\d{3})(U?B)?[A-Z]?$")


def split_name(name: str) -> tuple[str, str] | None:
    """Family and number of a part name: "74LS04" -> ("LS", "04"), "CD4011B" -> ("4000", "4011"),
    "96LS02" -> ("LS", "9602"), and "8T26" -> the class's own family, "8T26"."""
    if name in PARTS and PARTS[name].own:
        return PARTS[name].own, name
    match = NUMBER.match(name)
    if match:
        return match["family"] or "TTL", match["number"]
    match = MSI_NUMBER.match(name)
    if match:
        low_power = "93L" if match["head"] == "93" and match["family"] == "L" else match["family"]
        return low_power or "TTL", match["head"] + match["tail"]
    match = CMOS_NUMBER.match(name)
    return ("4000", match["number"]) if match else None


def made_in(key: str) -> list[str]:
    """Families in which the part of a key of PARTS is made, as its class says or the data book has limits."""
    return PARTS[key].families.split() or databook.families_of(key)


def name_of(number: str, family: str) -> str:
    """Part name: ("00", "LS") -> "74LS00", ("9311", "93L") -> "93L11", ("8T26", "TTL") -> "8T26"."""
    own = PARTS[number].own if number in PARTS else ""
    if family == "4000" or own == family:
        return number
    return f"{number[:2]}{family.removeprefix('93')}{number[2:]}" if own else f"74{'' if family == 'TTL' else family}{number}"


def every_name() -> list[tuple[str, str, str]]:
    """Key of PARTS, family and part name of every part in every family that it is made in."""
    return [(key, family, name_of(key_parts(key)[1], family)) for key in sorted(PARTS) for family in made_in(key)]


@cache
def _tables() -> dict[str, dict[str, Any]]:
    raw = tomllib.loads((HERE / "families.toml").read_text(encoding="utf-8"))
    done: dict[str, dict[str, Any]] = {}
    for name, table in raw.items():
        done[name] = done[table["like"]] | table if "like" in table else dict(table)
    return done


@cache
def _supply() -> dict[str, Any]:
    return tomllib.loads((HERE / "supply.toml").read_text(encoding="utf-8"))


def names() -> list[str]:
    return list(_tables())


def typical(family: str) -> dict[str, Any]:
    """The family's table as written, inheritance resolved."""
    return _tables()[family]


@dataclass
class Specimen:
    """One chip's draw.  `value(name)` gives a new pin's value of a parameter."""

    family: str
    rng: random.Random
    overrides: dict[str, float]
    spread: float = 1.0          # 0: every parameter typical
    centre: dict[str, float] = field(default_factory=dict)   # the chip's draw, where it is given

    def __post_init__(self) -> None:
        self.table = typical(self.family)
        self._chip: dict[str, float] = dict(self.centre)

    @property
    def bipolar(self) -> bool:
        return bool(self.table["technology"] == "bipolar")

    def value(self, name: str) -> float:
        """A pin's value: the chip's draw plus the pin's mismatch."""
        if name in self.overrides:
            return self.overrides[name]
        entry = self.table[name]
        if not isinstance(entry, list):
            return float(entry)
        typ, spread = float(entry[0]), float(entry[1])
        if name == "beta":
            return self._beta(typ, spread)
        spread *= self.spread
        if name not in self._chip:
            self._chip[name] = self._spread(typ, spread * (1 - PIN_SHARE), name)
        return self._spread(self._chip[name], spread * PIN_SHARE, name)

    def drive(self, kind: str) -> tuple[float, float]:
        """Sink and source of an output class, as multiples of the family's gate outputs."""
        sink, source = self.table["drive"].get(kind, (1.0, 1.0))
        return float(sink), float(source)

    def _spread(self, centre: float, spread: float, name: str) -> float:
        draw = self.rng.triangular(-1, 1, 0) * spread
        return centre + draw if name.endswith(VOLTS) else centre * (1 + draw)

    def _beta(self, low: float, high: float) -> float:
        if "beta" not in self._chip:
            middle = (low * high) ** 0.5
            drawn = self.rng.uniform(low / (1 - PIN_SHARE), high / (1 + PIN_SHARE))
            self._chip["beta"] = middle + self.spread * (drawn - middle)
        return self._chip["beta"] * (1 + self.spread * self.rng.uniform(-PIN_SHARE, PIN_SHARE))

    def supply_a(self, number: str) -> tuple[float, float, float]:
        """Typical package current (low, high, off) in amperes, with this chip's spread."""
        factor = self.value("supply_scale")
        low, high, off = package_current(self.family, number)
        return low * factor, high * factor, off * factor


def package_current(family: str, number: str) -> tuple[float, float, float]:
    """Typical supply current of a package (low, high, off) in amperes.

    From supply.toml; without an entry there, TYPICAL_SHARE of the data book's maximum;
    without that, the figure of another family by the ratio of their gates.
    """
    supply = _supply()
    if family in supply["cmos_ua"]:
        current = float(supply["cmos_ua"][family]) * 1e-6
        return current, current, current
    entries = supply["part"].get(number, {})
    entry, factor = entries.get(family), 1e-3
    most = databook.supply_limit(number, family)
    if entry is None and most:
        worst = most["worst"]
        entry = [most.get(k, worst) * TYPICAL_SHARE for k in ("low", "high", "off")]
        factor = 1.0
    elif entry is None:
        entry, base = entries.get("LS", entries.get("TTL", 5.0)), supply["default"]
        from_ls = "LS" in entries or not entries
        factor *= float(base.get(family, 1.0)) / (1.0 if from_ls else float(base["TTL"]))
    values = [float(x) * factor for x in (entry if isinstance(entry, list) else [entry])]
    low, high = values[0], values[min(1, len(values) - 1)]
    return low, high, values[2] if len(values) > 2 else max(low, high)
