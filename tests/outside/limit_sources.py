"""How many of the library's numbers are from a document, and how many from memory.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from sagbench.parts import load_part, ratings
from sagbench.parts.lookup import file_names, load_file

FAMILIES = Path(ratings.__file__).parent / "families"
FIGURES = {"min", "max", "min54", "max54", "typ", "below_supply", "off_ua", "ma", "ma54"}


def numbers() -> Iterator[tuple[str, str]]:
    """(where, source) of every number of a limit as it stands in a file, typical values and rated currents too."""
    for path in sorted(FAMILIES.glob("*.toml")):
        data = tomllib.loads(path.read_text(encoding="utf-8"))
        yield from _within(path.name, {key: data.get(key, {}) for key in ("input", "output", "drive")}, "")
    for function, path in file_names().items():
        for family, entry in load_file(path).families.items():
            where = f"{function} {family}"
            for key, source in (("icc_ma", "icc_source"), ("icc_ua", "icc_source"), ("iil_ma", "load_source"), ("iih_ua", "load_source")):
                for figure in entry.get(key, {}).values():
                    yield from _within(where, ratings.as_table(figure, "max"), entry.get(source, ""))
            for key in ("vih", "vil"):
                if key in entry:
                    yield from _within(where, ratings.as_table(entry[key], "max"), entry.get("level_source", ""))
            yield from _within(where, entry.get("output", ()), "")


def _within(where: str, data: Any, source: str) -> Iterator[tuple[str, str]]:
    """Numbers below an entry; the nearest `source` above each holds."""
    if isinstance(data, Mapping):
        source = data.get("source", source)
        for key, value in data.items():
            if key in FIGURES and isinstance(value, int | float):
                yield where, source
            elif key != "pins":
                yield from _within(where, value, source)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _within(where, value, source)


def judging(types: Iterator[str]) -> Iterator[tuple[str, str]]:
    """(type and quantity, source) of every limit a type is judged by: each quantity, bound and source of it once."""
    for name in types:
        part = load_part(name)
        seen = set()
        for has in part.limits.values():
            seen |= {("VIH", has.vih), ("VIL", has.vil), ("IIH", has.iih), ("IIL", has.iil)}
            seen |= {(r.quantity, r.limit) for r in (*has.vol, *has.voh)}
            seen |= {("off", has.off_leakage)} if has.off_leakage else set()
        seen |= {(state.name, state.limit) for state in part.supply_states if state.limit}
        yield from ((f"{part.name} {quantity}", limit.source) for quantity, limit in seen)


def sourced_percent(rows: list[tuple[str, str]]) -> float:
    """Share of the rows whose source is a document."""
    return 100 * sum(source != "memory" for _, source in rows) / len(rows)
