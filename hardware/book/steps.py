"""The steps of soldering the board, each with its parts and what is printed on them.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hardware.board.design import Component, components
from hardware.parts_list import ranges
from hardware.wiring import Fixture, WiringError, load

STEPS = Path(__file__).with_name("steps.toml")
COLOURS = ("black", "brown", "red", "orange", "yellow", "green", "blue", "violet", "grey", "white")
MULTIPLIER = {-2: "silver", -1: "gold", **dict(enumerate(COLOURS))}
TOLERANCE = {"0.1%": "violet", "1%": "brown", "5%": "gold"}      # IEC 60062


@dataclass
class Step:
    """One step: its name (of the picture), title, what to mind, its parts in the order of the wiring."""

    name: str
    title: str
    say: str
    parts: list[Component] = field(default_factory=list)


def _fits(entry: dict[str, Any], part: Component) -> bool:
    own = {"kind": part.kind, "value": part.value, "tolerance": part.tolerance, "refs": part.ref}
    return all(own[key] in entry[key] for key in own.keys() & entry.keys())


def steps(fixture: Fixture | None = None) -> list[Step]:
    """All steps in order.  WiringError if a part is in none, or a step has no part."""
    table = tomllib.loads(STEPS.read_text())["step"]
    out = [Step(entry["name"], entry["title"], entry["say"]) for entry in table]
    for part in components(fixture or load()):
        at = next((step for step, entry in zip(out, table, strict=True) if _fits(entry, part)), None)
        if at is None:
            raise WiringError(f"part {part.ref}: book/steps.toml has no step for kind {part.kind!r}, value {part.value!r}; add one")
        at.parts.append(part)
    if empty := [step.name for step in out if not step.parts]:
        raise WiringError(f"book/steps.toml: no part fits step {empty[0]!r}, or all that do are taken before; correct it")
    return out


def ohms_of(value: str) -> float:
    """The other way from `design.ohms`: "8k2" -> 8200, "1R0" -> 1."""
    for letter, factor in (("R", 1.0), ("k", 1e3), ("M", 1e6)):
        if letter in value:
            whole, _, part = value.partition(letter)
            return float(f"{whole}.{part or 0}") * factor
    return float(value)


def bands(value: str, tolerance: str) -> str:
    """Colour bands (IEC 60062): five for 1 % and better, four for 5 %.

    >>> bands("270", "1%"), bands("10k", "5%")
    ('red violet black black brown', 'brown black orange gold')
    """
    ohm, digits = ohms_of(value), 2 if tolerance == "5%" else 3
    power = math.floor(math.log10(ohm) + 1e-9) - digits + 1
    figures = str(round(ohm / 10**power))
    return " ".join([*(COLOURS[int(f)] for f in figures), MULTIPLIER[power], TOLERANCE[tolerance]])


PRINT = {"100n": "104", "1u": "105, 1u or 1.0", "10u": "10uF and volts"}


def marking(part: Component) -> str:
    """How a builder knows it: colours of a resistor, code of a capacitor, type of the rest."""
    if part.kind == "resistor":
        return bands(part.value, part.tolerance)
    return PRINT.get(part.value, part.value)


def rows(step: Step) -> Iterator[tuple[int, str, str, str]]:
    """(how many, value, how it is marked, designators) of each line of a step's table."""
    groups: dict[tuple[str, str], list[Component]] = {}
    for part in step.parts:
        shape = part.name.removeprefix("PinHeader_").split("_")[0] if part.kind == "header" else part.value
        groups.setdefault((shape, part.tolerance), []).append(part)
    for (value, tolerance), members in groups.items():
        how = "cut from a strip" if members[0].kind == "header" else marking(members[0])
        yield len(members), f"{value} {tolerance}".strip(), how, ranges([m.ref for m in members])
