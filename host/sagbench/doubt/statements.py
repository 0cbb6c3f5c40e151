# SPDX-License-Identifier: MIT
"""The statements of a part file, each with its line, its copies, and the outputs it reaches."""
from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from sagbench.parts import equations
from sagbench.parts.definition import Definition
from sagbench.parts.equations import Statement
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.model import Role
from sagbench.parts.positions import find


@dataclass(frozen=True)
class Line:
    """One statement as it stands in the file."""

    block: int
    place: int                           # index in the block's `logic`
    number: int                          # line in the file, from 1
    text: str                            # with {} as written
    each: tuple[str, ...]                # its copies; ("",) if the block is not repeated
    file: str = ""                       # the library's file it stands in, if the part's own says `like`

    @property
    def where(self) -> str:
        """For a sentence: "line 13", "line 13 of 00.toml"."""
        return f"line {self.number} of {self.file}" if self.file else f"line {self.number}"

    def targets(self) -> tuple[str, ...]:
        """The signals it defines, one a copy."""
        return tuple(equations.parse(self.text.replace("{}", copy)).target.text for copy in self.each)


def lines(path: Path, family: str) -> tuple[Line, ...]:
    """All statements of a part file without mistakes that hold for a family ("74" for plain), in order."""
    text = path.read_text(encoding="utf-8-sig")
    data, file = tomllib.loads(text), ""
    while "block" not in data:                           # they are those of another function
        other = LIBRARY / f"{data['like']}.toml"
        text, file = other.read_text(encoding="utf-8"), other.name
        data = tomllib.loads(text)
    places = find(text)
    return tuple(
        Line(block, place, places.value(("block", block, "logic", place))[0], said, tuple(entry.get("each", ("",))), file)
        for block, entry in enumerate(data["block"]) if family in entry.get("families", (family,))
        for place, said in enumerate(entry["logic"]))


def reached(definition: Definition, signals: Iterable[str]) -> set[str]:
    """The outputs that these signals have influence on, through wires and state bits too."""
    every: list[Statement] = [s for block in definition.blocks for s in block.statements]
    reads = [(s.target.text, {n.text for n in equations.statement_names(s)}) for s in every]
    found = set(signals)
    while new := {target for target, names in reads if target not in found and names & found}:
        found |= new
    return {name for name in found if (role := definition.roles.get(name)) and role.is_output}


def read_by(definition: Definition, signal: str) -> frozenset[str]:
    """Every signal that has influence on this one, itself among them; a bidirectional pin is read from outside."""
    statements = {s.target.text: s for block in definition.blocks for s in block.statements}
    found, waiting = {signal}, [signal]
    while waiting:
        name = waiting.pop()
        if name != signal and definition.roles.get(name) is Role.BIDIRECTIONAL or name not in statements:
            continue
        new = {n.text for n in equations.statement_names(statements[name])} - found
        found |= new
        waiting += new
    return frozenset(found)


def independent(definition: Definition, line: Line) -> bool:
    """True if its copies are gates of their own: beside what all of them read, no two read the same."""
    sets = [read_by(definition, target) for target in line.targets()]
    common = frozenset.intersection(*sets)
    return len(sets) > 1 and len({len(s) for s in sets}) == 1 and sum(len(s - common) for s in sets) == len(frozenset.union(*sets) - common)
