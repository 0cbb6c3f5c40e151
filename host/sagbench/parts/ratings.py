"""The DC limits of a family, and what a part's own file changes in them.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import replace
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
    for said in own:
        entry = {**drives(family).get(said.get("drive", ""), {}), **said}
        source = entry.get("source", "")
        if "vol" in entry:
            vol = _rated("VOL", entry["vol"], grade, source)
        if "voh" in entry:
            voh = _rated("VOH", entry["voh"], grade, source)
        if "off_ua" in entry:
            off = figure(entry["off_ua"], "max", source, MICRO)
    if role is Role.OPEN_COLLECTOR:
        voh = ()
    inputs = data["input"]
    return FamilyLimits(
        "" if family == PLAIN else family, grade, data["technology"],
        vih=figure(inputs["vih"], "min", grade=grade), vil=figure(inputs["vil"], "max", grade=grade),
        iih=figure(inputs["iih_ua"], "max", "", MICRO, grade), iil=figure(inputs["iil_ma"], "min", "", MILLI, grade),
        vol=vol, voh=voh, off_leakage=off)


def drives(family: str) -> Mapping[str, Any]:
    """The family's outputs that are stronger than the ordinary one, by name ("bus")."""
    named: Mapping[str, Any] = table(family).get("drive", {})
    return named


def as_table(said: Any, kind: str) -> Mapping[str, Any]:
    """A figure as its longest form: a number is a bound ("max" or "min"), a pair [typical, bound]."""
    if isinstance(said, Mapping):
        return said
    return {"typ": said[0], kind: said[1]} if isinstance(said, list) else {kind: said}


def figure(said: Any, kind: str, source: str = "", unit: float = 1.0, grade: int = 0) -> Limit:
    """The bound that judges, in volts or amperes: of all that sources give (`also`) the loosest; the others are kept.

    `source`: whose the figure is if it does not say so itself; `unit`: volts or amperes of one unit of the file.
    """
    entry = as_table(said, kind)
    every = [Limit((each.get(f"{kind}54", each[kind]) if grade == 54 else each[kind]) * unit, each.get("source", source), kind)
             for each in (entry, *entry.get("also", ()))]
    judging = (max if kind == "max" else min)(every, key=lambda limit: limit.value)
    return replace(judging, also=tuple(limit for limit in every if limit is not judging))


def _leak(data: Mapping[str, Any], role: Role) -> Limit | None:
    key = "open_collector_ua" if role is Role.OPEN_COLLECTOR else "off_ua"
    entry = data["output"].get(key) if role not in (Role.OUTPUT, Role.INPUT) else None
    return figure(entry, "max", unit=MICRO) if entry else None


def _rated(quantity: str, entries: Iterable[Mapping[str, Any]], grade: int, source: str = "") -> tuple[Rated, ...]:
    """Output levels that hold for this grade, the light current first."""
    made = []
    for entry in entries:
        if entry.get("grade", grade) != grade:
            continue
        entry = {"source": source, **entry}
        every = [_point(quantity, each, grade) for each in (entry, *({**entry, **other} for other in entry.get("also", ())))]
        judging = _point(quantity, _looser(entry, "max" if quantity == "VOL" else "min"), grade)
        others = list(every)
        if judging in others:
            others.remove(judging)
        made.append(replace(judging, also=tuple(others)))
    return tuple(sorted(made, key=lambda r: abs(r.amperes)))


def _point(quantity: str, entry: Mapping[str, Any], grade: int) -> Rated:
    """One source's level at its current, for this grade."""
    old, kind = grade == 54, "max" if quantity == "VOL" else "min"
    amperes = (entry.get("ma54", entry["ma"]) if old else entry["ma"]) * MILLI
    if "below_supply" in entry:
        volts, relative = -entry["below_supply"], True
    else:
        volts = entry.get(f"{kind}54", entry[kind]) if old else entry[kind]
        relative = "at_supply" in entry
        volts -= entry.get("at_supply", 0.0)
    return Rated(quantity, amperes, Limit(round(volts, 6), entry["source"], kind), entry.get("typ"), relative)


def _looser(entry: Mapping[str, Any], kind: str) -> Mapping[str, Any]:
    """The entry with what other sources (`also`) give instead, where that asks less of the part: a worse level at the
    same current, or the same level at less current.  The source is the level's if that is another's, else the current's."""
    also = entry.get("also", ())
    lightest = min((entry, *(other for other in also if "ma" in other)), key=lambda each: abs(each["ma"]))
    loosest = entry
    for other in also:
        if kind in other and (other[kind] > loosest[kind] if kind == "max" else other[kind] < loosest[kind]):
            loosest = other
    source = (lightest if loosest is entry else loosest)["source"]
    return {**entry, "ma": lightest["ma"], **({kind: loosest[kind]} if kind in loosest else {}), "source": source}
