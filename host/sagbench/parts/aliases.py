"""House numbers: what makers of equipment printed on chips in place of the type.

    [alias]
    "1820-0054" = "7400"

A file `aliases.toml` in a folder of the user's own part files; the library has one too, and the user's rules over it.
Spaces, hyphens and case do not count.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from functools import lru_cache
from pathlib import Path

from ..errors import PartFileError
from . import markings, shape
from .positions import find
from .reader import parse_toml, schema

FILE = "aliases.toml"
OWN = Path(__file__).parent / FILE
# A number between a maker's letters and those of the package.
_CORE = re.compile(r"^[A-Z]{0,4}?(\d[0-9A-Z]*\d)[A-Z]{0,3}$")


def read(path: Path, functions: Collection[str]) -> dict[str, str]:
    """House number (as `plain` makes it) -> type.

    `functions` are those of the library and of the user.  Raises PartFileError with every mistake.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise PartFileError((f"{path}: cannot be read ({error.strerror}); check its name",)) from None
    except UnicodeDecodeError as error:
        line = path.read_bytes()[:error.start].count(b"\n") + 1
        raise PartFileError((f"{path}:{line}:1: found bytes that are not UTF-8, expected plain text in UTF-8",)) from None
    return dict(_read(text, str(path), frozenset(functions)))


@lru_cache(maxsize=16)
def _read(text: str, file: str, functions: frozenset[str]) -> tuple[tuple[str, str], ...]:
    data, wrong = parse_toml(text, file)
    if wrong:
        raise PartFileError(tuple(wrong))
    mistakes = shape.check(data, schema("alias"))
    entries = data.get("alias", {})
    made: dict[str, str] = {}
    for name, part in entries.items() if isinstance(entries, dict) else ():
        path = ("alias", name)
        if not (key := plain(name)):
            mistakes.append(shape.Mistake(path, shape.show(name), "a number as it is printed", at_key=True))
        elif key in made:
            mistakes.append(shape.Mistake(path, f'"{name}" a second time', "each number once",
                                          "spaces, hyphens and case do not count", at_key=True))
        if isinstance(part, str):
            made.setdefault(key, part)
            read_as = markings.parse_marking(part)
            if not any(m.function in functions for m in read_as):
                near = markings.nearest_names(part, read_as, functions)
                mistakes.append(shape.Mistake(path, shape.show(part), "a part of the library",
                                              f"nearest names: {', '.join(near)}" if near else ""))
    if mistakes:
        places = find(text)
        raise PartFileError(tuple(said for _, said in sorted(m.told(file, places) for m in mistakes)))
    return tuple(made.items())


def plain(text: str) -> str:
    """A marking without what does not count."""
    return re.sub(r"[\s\-_]+", "", text.upper())


def files(user_dirs: Iterable[Path] = ()) -> list[Path]:
    """The alias files that hold, the one that rules first."""
    return [path for folder in reversed(list(user_dirs)) if (path := folder / FILE).exists()]


def lookup(text: str, table: dict[str, str]) -> str:
    """The type a marking stands for, "" if none: the whole of it, then its words, then without maker's and package letters."""
    words = [plain(text), *map(plain, text.split())]
    cores = [match[1] for word in words if (match := _CORE.match(word))]
    return next((table[word] for word in words + cores if word in table), "")
