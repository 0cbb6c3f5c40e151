"""The DC limits of a family, and what a part's own file changes in them.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from functools import cache
from pathlib import Path
from typing import Any

from .definition import PLAIN
from .model import FamilyLimits, Limit, Rated, Role

_ROOM = Path(__file__).parent / "families"
ORDER = ("74", "H", "L", "S", "LS", "AS", "ALS", "F", "HC", "HCT", "AC", "ACT", "4000B", "TTL", "93L", "DTL")
_LIKE = {"TTL": PLAIN}                   # whole type numbers with the limits of the plain series
MILLI, MICRO = 1e-3, 1e-6


@cache
def table(family: str) -> dict[str, Any]:
    """The family's table as in its file; `family` as in part files ("74" for the plain one)."""
    return tomllib.loads((_ROOM / f"{_LIKE.get(family, family)}.toml").read_text())


def limits(family: str, grade: int, role: Role, own: Iterable[Mapping[str, Any]] = ()) -> FamilyLimits:
    """Limits of a pin of this role, with the part's own `output` entries for that pin laid over.

    Volts and amperes, positive into the pin.
    """
    data = table(family)
    vol = _rated("VOL", data["output"]["vol"], grade)
    voh = _rated("VOH", data["output"]["voh"], grade)
    off = _leak(data, role)
    for entry in own:
        source = entry["source"]
        if "vol" in entry:
            vol = _rated("VOL", [{**r, "source": source} for r in entry["vol"]], grade)
        if "voh" in entry:
            voh = _rated("VOH", [{**r, "source": source} for r in entry["voh"]], grade)
        if "off_ua" in entry:
            off = Limit(entry["off_ua"] * MICRO, source)
    if role is Role.OPEN_COLLECTOR:
        voh = ()
    inputs = data["input"]
    return FamilyLimits(
        "" if family == PLAIN else family, grade, data["technology"],
        vih=_figure(inputs["vih"], "min", grade), vil=_figure(inputs["vil"], "max", grade),
        iih=_figure(inputs["iih_ua"], "max", grade, MICRO), iil=_figure(inputs["iil_ma"], "min", grade, MILLI),
        vol=vol, voh=voh, off_leakage=off)


def _figure(entry: Mapping[str, Any], kind: str, grade: int, unit: float = 1.0) -> Limit:
    """The figure, or that of another source (`also`) if that is looser."""
    said = [(each.get(f"{kind}54", each[kind]) if grade == 54 else each[kind], each["source"])
            for each in (entry, *entry.get("also", ()))]
    value, source = (max if kind == "max" else min)(said, key=lambda pair: pair[0])
    return Limit(value * unit, source, kind)


def _leak(data: Mapping[str, Any], role: Role) -> Limit | None:
    key = "open_collector_ua" if role is Role.OPEN_COLLECTOR else "off_ua"
    entry = data["output"].get(key) if role not in (Role.OUTPUT, Role.INPUT) else None
    return _figure(entry, "max", 0, MICRO) if entry else None


def _rated(quantity: str, entries: Iterable[Mapping[str, Any]], grade: int) -> tuple[Rated, ...]:
    """Output levels that hold for this grade, the light current first."""
    made = []
    for entry in entries:
        if entry.get("grade", grade) != grade:
            continue
        entry = _looser(entry, "max" if quantity == "VOL" else "min")
        old = grade == 54
        amperes = (entry.get("ma54", entry["ma"]) if old else entry["ma"]) * MILLI
        kind = "max" if quantity == "VOL" else "min"
        if "below_supply" in entry:
            volts, relative = -entry["below_supply"], True
        else:
            volts = entry.get(f"{kind}54", entry[kind]) if old else entry[kind]
            relative = "at_supply" in entry
            volts -= entry.get("at_supply", 0.0)
        limit = Limit(round(volts, 6), entry["source"], kind)
        made.append(Rated(quantity, amperes, limit, entry.get("typ"), relative))
    return tuple(sorted(made, key=lambda r: abs(r.amperes)))


def _looser(entry: Mapping[str, Any], kind: str) -> Mapping[str, Any]:
    """The entry with what other sources (`also`) give instead, where that asks less of the part: a worse level at the
    same current, or the same level at less current."""
    made = dict(entry)
    for other in entry.get("also", ()):
        if kind in other and (other[kind] > made[kind] if kind == "max" else other[kind] < made[kind]):
            made |= {kind: other[kind], "source": other["source"]}
        if "ma" in other and abs(other["ma"]) < abs(made["ma"]):
            made |= {"ma": other["ma"], "source": other["source"]}
    return made
