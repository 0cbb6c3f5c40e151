"""Where things stand in a TOML file: path of keys and indices -> line and column.

`tomllib` says what a file means but not where.  This scanner walks text that
`tomllib` has accepted, so it need not check anything: it only counts.

    >>> find('a = 1\\n[[b]]\\nc = ["x", "y"]\\n').value(("b", 0, "c", 1))
    (3, 11)

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from dataclasses import dataclass, field

Path = tuple[str | int, ...]
Place = tuple[int, int]

_SPACE = re.compile(r"(?:\s|#[^\n]*)*")
_BARE = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN = re.compile(r"[^,\]}\n#]+")
_ESCAPES = {"n": "\n", "t": "\t", "r": "\r", "b": "\b", "f": "\f", '"': '"', "\\": "\\"}


@dataclass
class Places:
    """Lines and columns (both from 1) of keys and values."""

    keys: dict[Path, Place] = field(default_factory=dict)
    values: dict[Path, Place] = field(default_factory=dict)

    def key(self, path: Path) -> Place:
        """Where the key stands; where the nearest thing around it stands if the path is not in the file."""
        return self._near(path, self.keys, self.values)

    def value(self, path: Path) -> Place:
        """Where the value stands, or the nearest thing around it."""
        return self._near(path, self.values, self.keys)

    @staticmethod
    def _near(path: Path, *tables: dict[Path, Place]) -> Place:
        for end in range(len(path), -1, -1):
            for table in tables:
                if path[:end] in table:
                    return table[path[:end]]
        return (1, 1)


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text, self.at, self.places = text, 0, Places()
        self.starts = [0] + [i + 1 for i, char in enumerate(text) if char == "\n"]
        self.counts: dict[Path, int] = {}

    def here(self) -> Place:
        low, high = 0, len(self.starts)
        while high - low > 1:
            middle = (low + high) // 2
            low, high = (middle, high) if self.starts[middle] <= self.at else (low, middle)
        return low + 1, self.at - self.starts[low] + 1

    def space(self) -> None:
        if match := _SPACE.match(self.text, self.at):
            self.at = match.end()

    def starts_with(self, what: str) -> bool:
        return self.text.startswith(what, self.at)

    def file(self) -> Places:
        table: Path = ()
        self.space()
        while self.at < len(self.text):
            if self.starts_with("["):
                table = self.header()
            else:
                self.pair(table)
            self.space()
        return self.places

    def header(self) -> Path:
        place, double = self.here(), self.starts_with("[[")
        self.at += 2 if double else 1
        dotted = self.dotted()
        self.space()
        self.at += 2 if double else 1
        path = self.resolve(dotted[:-1]) + dotted[-1:]
        for end in range(1, len(path) + 1):            # tables that are only named on the way
            self.places.keys.setdefault(path[:end], place)
        if double:
            index = self.counts.get(path, 0)
            self.counts[path] = index + 1
            path += (index,)
        self.places.keys[path] = place
        return path

    def resolve(self, dotted: Path) -> Path:
        """A table name with the index of the last element put in wherever it is an array of tables."""
        path: Path = ()
        for part in dotted:
            path += (part,)
            if path in self.counts:
                path += (self.counts[path] - 1,)
        return path

    def dotted(self) -> Path:
        parts: list[str] = []
        while True:
            self.space()
            if self.text[self.at] in "\"'":
                parts.append(self.string())
            elif match := _BARE.match(self.text, self.at):
                parts.append(match[0])
                self.at = match.end()
            self.space()
            if not self.starts_with("."):
                return tuple(parts)
            self.at += 1

    def pair(self, table: Path) -> None:
        place = self.here()
        dotted = self.dotted()
        for end in range(1, len(dotted) + 1):
            self.places.keys.setdefault(table + dotted[:end], place)
        self.at += 1                                   # the equals sign
        self.value(table + dotted)

    def value(self, path: Path) -> None:
        self.space()
        self.places.values[path] = self.here()
        first = self.text[self.at]
        if first in "\"'":
            self.string()
        elif first == "[":
            self.items(path, "]")
        elif first == "{":
            self.items(path, "}")
        elif match := _PLAIN.match(self.text, self.at):
            self.at = match.end()

    def items(self, path: Path, close: str) -> None:
        self.at += 1
        index = 0
        self.space()
        while not self.starts_with(close):
            if close == "]":
                self.value(path + (index,))
                index += 1
            else:
                self.pair(path)
            self.space()
            if self.starts_with(","):
                self.at += 1
                self.space()
        self.at += 1

    def string(self) -> str:
        quote = self.text[self.at]
        mark = quote * 3 if self.starts_with(quote * 3) else quote
        self.at += len(mark)
        out: list[str] = []
        while not self.starts_with(mark):
            char = self.text[self.at]
            if char == "\\" and quote == '"':
                self.at += 1
                char = _ESCAPES.get(self.text[self.at], self.text[self.at])
            out.append(char)
            self.at += 1
        self.at += len(mark)
        while len(mark) == 3 and self.starts_with(quote):   # up to two quotes may precede the closing three
            self.at += 1
        return "".join(out)


def find(text: str) -> Places:
    """The places of every key and value of a valid TOML text."""
    return _Scanner(text).file()
