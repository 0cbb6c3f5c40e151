"""From the text of a part file to a Definition, or to a list of everything that is wrong with it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import re
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

from ..errors import PartFileError
from . import shape
from .assembly import Builder
from .definition import Definition
from .positions import find

_ROOM = Path(__file__).parent
_TOML_PLACE = re.compile(r"^(.*) \(at (?:line (\d+), column (\d+)|end of document)\)$", re.S)
_BEYOND = re.compile(r"0[xob][0-9a-fA-F_]{16,}|\d[\d_]{18,}")      # may be beyond the 64 bits of TOML's whole numbers
_MAX_SYNTAX = 20


@cache
def schema(name: str = "part") -> dict[str, Any]:
    """The JSON Schema of part files or ("family") family tables."""
    loaded: dict[str, Any] = json.loads((_ROOM / f"{name}.schema.json").read_text())
    return loaded


def parse_toml(text: str, file: str) -> tuple[dict[str, Any], list[str]]:
    """The data and one sentence a syntax mistake; lines with a mistake are left out so that later ones show too."""
    lines = text.split("\n")
    wrong: list[str] = []
    while True:
        try:
            data = tomllib.loads("\n".join(lines))
            if _BEYOND.search(text) and _has_beyond(data):
                raise ValueError("beyond 64 bits")
            return data, wrong
        except RecursionError:
            return {}, [*wrong, f"{file}:1:1: found arrays or tables too deep within one another, expected a few"]
        except tomllib.TOMLDecodeError as error:
            match = _TOML_PLACE.match(str(error))
            what = match[1] if match else str(error)
            line, column = (int(match[2]), int(match[3])) if match and match[2] else (len(lines), 1)
            wrong.append(f"{file}:{line}:{column}: found {_excerpt(lines, line, column)}, expected valid TOML "
                         f"({what[0].lower() + what[1:]}); mend the line, all after it may follow from it")
            if not lines[line - 1].strip() or len(wrong) >= _MAX_SYNTAX:
                return {}, wrong
            lines[line - 1] = ""
        except ValueError as error:      # of the language's own: a whole number of thousands of digits, a date that is none
            line, start = next(((n, m.start()) for n, one in enumerate(lines, 1) if (m := _BEYOND.search(one))), (1, 0))
            return {}, [*wrong, f"{file}:{line}:{start + 1}: found a number that cannot be ({str(error)[:60]}), expected one that can be"]


def _has_beyond(data: Any) -> bool:
    """Is a whole number in there that TOML does not have (v1.0.0, "Integer")?  Python would take it."""
    if isinstance(data, dict | list):
        return any(map(_has_beyond, data.values() if isinstance(data, dict) else data))
    return isinstance(data, int) and not -(2 ** 63) <= data < 2 ** 63


def _excerpt(lines: list[str], line: int, column: int) -> str:
    rest = lines[line - 1][column - 1:].strip()
    return f"'{rest[:20]}'" if rest else "the end of the line"


def read(text: str, file: str, origin: str = "library") -> Definition:
    """The definition in `text`; `file` is only for messages.  Raises PartFileError with every mistake found."""
    data, wrong = parse_toml(text, file)
    data, mistakes = _filled(data)
    mistakes += shape.check(data, schema())
    if not wrong and data.keys() >= _HELD_TOGETHER and not any(m.is_gap and m.path for m in mistakes):
        bad = {m.path for m in mistakes if m.path}
        definition, more = Builder(_without(data, bad), bad).build(origin)
        mistakes += more
        if not mistakes:
            return definition
    if wrong:
        raise PartFileError(tuple(wrong))
    places = find(text)
    told: dict[tuple[str | int | None, ...], tuple[tuple[int, int], str]] = {}
    for m in shape.once(mistakes):                     # one a place: copies of a block repeat a mistake
        told.setdefault((*m.path, m.column, m.found if m.is_gap else None), m.told(file, places))
    raise PartFileError(tuple(sentence for _, sentence in sorted(told.values())))


_HELD_TOGETHER = {"pinout", "block", "family"}     # without one of them, what the others say cannot be looked at
_LIBRARY = _ROOM / "library"
_SHARED = ("pinout", "bus", "block", "idle", "program", "march", "sources")


def _filled(data: dict[str, Any]) -> tuple[dict[str, Any], list[shape.Mistake]]:
    """`like = "161"`: what the file leaves out of pins and behaviour is that of the library's 161."""
    other = data.get("like")
    if not isinstance(other, str):
        return data, []
    path = _LIBRARY / f"{other}.toml"
    if not other.isalnum() or not path.exists():
        known = [p.stem for p in _LIBRARY.glob("*.toml")]
        return data, [shape.Mistake(("like",), shape.show(other), "a function of the library", shape.nearest(other, known), is_gap=True)]
    taken, _ = _filled(tomllib.loads(path.read_text(encoding="utf-8")))
    shared = {key: taken[key] for key in _SHARED if key in taken}
    for key in ("pinout", "block"):
        shared[key] = [entry for entry in taken[key] if "families" not in entry]
    return shared | data, []


_TABLES = frozenset({"pinout", "block", "output", "vol", "voh", "also", "pulse"})


def _without(data: Any, bad: set[tuple[str | int, ...]], path: tuple[str | int, ...] = ()) -> Any:
    """The data with everything of the wrong shape left out, so that the rest can be looked at (and keeps its place)."""
    if isinstance(data, dict):
        return {k: _without(v, bad, (*path, k)) for k, v in data.items() if (*path, k) not in bad}
    if isinstance(data, list):
        empty: Any = {} if path and path[-1] in _TABLES else ""
        return [empty if (*path, i) in bad else _without(v, bad, (*path, i)) for i, v in enumerate(data)]
    return data
