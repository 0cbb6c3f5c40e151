"""The makers' guaranteed limits for one part of one family, pin by pin.

Numbers are in databook.toml; this resolves classes, patterns and unit loads.  Units:
volts, amperes.  Currents are magnitudes.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from fnmatch import fnmatchcase
from functools import cache
from pathlib import Path
from typing import Any

from . import timing
from .behaviour import PARTS, Part, part_of
from .behaviour.monostables import Monostable

FILE = Path(__file__).with_name("databook.toml")
CMOS = ("HC", "HCT", "4000")


Rows = tuple[tuple[float, ...], ...]      # a supply, and the limits there


def at_supply(rows: Rows, vcc: float) -> tuple[float, ...]:
    """Limits at a supply: between the book's rows, beyond them as between the nearest two; one row holds at any."""
    if len(rows) == 1:
        return rows[0][1:]
    above = min(max(1, sum(row[0] < vcc for row in rows)), len(rows) - 1)
    (low, *here), (high, *there) = rows[above - 1], rows[above]
    share = (vcc - low) / (high - low)
    return tuple(a + share * (b - a) for a, b in zip(here, there, strict=True))


@dataclass(frozen=True)
class OutputLimits:
    """Of one output.  `vol`: (load A, most V); `voh`: (load A, least V, True if below VCC)."""

    vol: list[tuple[float, float]]
    voh: list[tuple[float, float, bool]]
    ios: tuple[float, float] | None      # A at ios_at volts
    ios_at: float
    icex: float                          # A of an off open collector
    ioz: float                           # A of an output switched off
    open_collector: bool
    three_state: bool


@dataclass(frozen=True)
class InputLimits:
    """Of one input: its unit loads counted in.  A limit that the book does not give is None."""

    iil: tuple[float, float] | None      # test volts, most A out of the pin
    iih: tuple[float, float] | None      # test volts, most A into the pin
    ii: float | None                     # CMOS: either way, A
    vik: tuple[float, float] | None      # test A, most volts below GND
    vil: tuple[float, bool]              # volts, or share of VCC if True
    vih: tuple[float, bool]
    up: Rows = ()                        # Schmitt: supply, least and most VT+
    down: Rows = ()
    gap: Rows = ()                       # supply, least hysteresis

    def level(self, which: str, vcc: float) -> float:
        """VIL ("low") or VIH ("high") in volts at a supply voltage."""
        value, share = self.vil if which == "low" else self.vih
        return value * vcc if share else value

    def span(self, which: str, vcc: float) -> tuple[float, float]:
        """Least and most of VT+ ("up") or VT- ("down") in volts at a supply voltage: a Schmitt input's own, else VIL, VIH."""
        rows = self.up if which == "up" else self.down
        least, most = at_supply(rows, vcc) if rows else (self.level("low", vcc), self.level("high", vcc))
        return least, most


@dataclass(frozen=True)
class Limits:
    """All limits of a part.  `icc`: most A by state ("high", "low", "off", "worst")."""

    part: str
    family: str
    vcc: tuple[float, float]
    outputs: dict[str, OutputLimits]
    inputs: dict[str, InputLimits]
    icc: dict[str, float]
    source: str = ""
    notes: list[str] = field(default_factory=list)


@cache
def tables() -> dict[str, Any]:
    """databook.toml as written."""
    return tomllib.loads(FILE.read_text(encoding="utf-8"))


def _entry(number: str, family: str) -> dict[str, Any]:
    return dict(tables()["cmos_part" if family in CMOS else "part"].get(number, {}))


def known(number: str, family: str) -> bool:
    """True if the data book has this part in this family (as far as it is transcribed).

    It has none of the parts that name their `families` themselves.
    """
    if family not in tables()["family"] or number not in PARTS or PARTS[number].families:
        return False
    if issubclass(PARTS[number], Monostable) and family not in timing.families_of(number):
        return False
    if family in CMOS:
        return (len(number) == 4) == (family == "4000")
    return family in _entry(number, family).get("icc", {})


def families_of(number: str) -> list[str]:
    """Families that have limits for a part number, in the file's order."""
    return [f for f in tables()["family"] if known(number, f)]


def supply_limit(number: str, family: str) -> dict[str, float]:
    """Most supply current in amperes by state; empty without an entry."""
    if family in CMOS:
        groups = tables()["cmos_class"]
        kind = next((k for k in groups if number in groups[k].split()), "other")
        return {"worst": float(tables()["cmos_ua"][family][kind]) * 1e-6}
    values = [x * 1e-3 for x in _entry(number, family).get("icc", {}).get(family, [])]
    if len(values) < 2:
        return {"worst": values[0]} if values else {}
    named = dict(zip(("high", "low", "off"), values, strict=False))
    return named | {"worst": max(values)}


def _pattern(table: str, name: str, default: float) -> float:
    """Value of the first group "pattern pattern=value" that fits a pin name."""
    patterns: list[str] = []
    for word in table.split():
        head, equals, value = word.partition("=")
        patterns.append(head)
        if equals:
            if any(fnmatchcase(name, p) for p in patterns):
                return float(value)
            patterns = []
    return default


def unit_loads(number: str, family: str, name: str) -> float:
    """How many unit loads the book allows an input."""
    load = _entry(number, family).get("load", {})
    return _pattern(load.get(family, load.get("*", "")), name, 1.0)


def _class(number: str, family: str, name: str) -> dict[str, Any]:
    """What an output's class changes of the family's limits; {} for a plain gate output."""
    out = _entry(number, family).get("out", {})
    if family in ("HC", "HCT"):   # three-state parts have bus outputs, as their TTL sisters
        part = part_of(number, family)
        out = {"*": "bus"} if part and part.three_state else {}
    own: Any = out.get(family, out.get("*"))
    if isinstance(own, dict):
        own = next((c for p, c in own.items() if fnmatchcase(name, p)), None)
    return dict(tables()["output"][own].get(family, {})) if own else {}


def _output(part: type[Part], number: str, family: str, name: str) -> OutputLimits:
    t = tables()["family"][family] | _class(number, family, name)
    if "voh" in _class(number, family, name):
        t.pop("voh_drop", None)
    voh = [(a * 1e-3, v, False) for a, v in t.get("voh", [])]
    voh += [(a * 1e-3, v, True) for a, v in t.get("voh_drop", [])]
    ios = t.get("ios")
    return OutputLimits([(a * 1e-3, v) for a, v in t["vol"]], voh,
                        (ios[0] * 1e-3, ios[1] * 1e-3) if ios else None, t.get("ios_at", 0.0),
                        t["icex"] * 1e-6, t["ioz"] * 1e-6,
                        name in part.open_collector.split(), name in part.three_state_names())


def _input(number: str, family: str, name: str) -> InputLimits:
    t = tables()["family"][family] | {k: v for k, v in _entry(number, family).items()
                                      if k in ("vil_share", "vih_share")}
    loads = unit_loads(number, family, name)
    vil = (t["vil_share"], True) if "vil_share" in t else (t["vil"], False)
    vih = (t["vih_share"], True) if "vih_share" in t else (t["vih"], False)
    schmitt: dict[str, Any] = {}
    own = _entry(number, family).get("schmitt") or (
        tables()["part"].get(number, {}).get("schmitt") if family in CMOS else None)
    if own and any(fnmatchcase(name, p) for p in own["pins"].split()):
        schmitt = tables()["schmitt"][own["class"]].get(family, {})
    return InputLimits(
        (t["iil"][0], t["iil"][1] * 1e-3 * loads) if "iil" in t else None,
        (t["iih"][0], t["iih"][1] * 1e-6 * max(loads * t.get("iih_share", 1.0), 1.0))
        if "iih" in t else None,
        t["ii"] * 1e-6 if "ii" in t else None,
        (t["vik"][0] * 1e-3, t["vik"][1]) if "vik" in t else None, vil, vih,
        *(tuple(tuple(row) for row in schmitt.get(name, ())) for name in ("up", "down", "gap")))


@cache
def limits(number: str, family: str) -> Limits:
    """Limits of a part.  KeyError if the book does not have it (see `known`)."""
    if not known(number, family):
        raise KeyError(f"no limits for {number} of family {family} in {FILE.name}")
    part, t = part_of(number, family) or PARTS[number], tables()["family"][family]
    names = [n.removeprefix("<>") for n in part.output_names()]
    return Limits(number, family, (t["vcc"][0], t["vcc"][1]),
                  {n: _output(part, number, family, n) for n in names},
                  {n: _input(number, family, n) for n in part.input_names()},
                  supply_limit(number, family), t["source"])
