"""A function table with clocks, carried out row by row: the second description of a chip, apart from the library's equations.

A table is text: columns left of the bar are conditions, right of it what follows.  `does` tables say what becomes of
the state when a pin changes; `shows` tables what the pins show.  Symbols on the left: L, H, X either, ^ and v the edge
that just came.  On the right: L, H, Z; a pin or bit: its level, before the change; ! its complement; = as it was;
+ and - the next and the last of the counting order (a column of these moves all columns together); ? open.
The first row that fits rules; if none fits, nothing changes.  State bits that are no pins have small letters.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from paper_bench import Bench

INVERSE = {"L": "H", "H": "L", "?": "?"}
LEVELS = {"L": False, "H": True}


@dataclass(frozen=True)
class Book:
    """One type: pins in order from pin 1 (rails and NC included), tables, and how to walk."""

    part: str
    pins: str
    does: tuple[str, ...]                    # each: a header line, then rows
    shows: tuple[str, ...] = ()
    counts: str = ""                         # the counting order, as written under the columns with + and -
    never: tuple[str, ...] = ()              # "UP=L DOWN=L": what the data sheet does not define or forbids
    rest: str = ""                           # "CLR=H LOAD=H": pins that are mostly there
    lead: str = ""                           # what to begin with: "CLR=L, CLR=H, CLK^200"
    data: str = ""                           # pins that go both ways
    drives: str = ""                         # and the levels with which the chip drives them: "G=L"
    steps: int = 500


@dataclass
class Rows:
    """A parsed table."""

    given: list[str]
    follows: list[str]
    rows: list[tuple[list[str], list[str]]]
    hits: list[int]


def parse(text: str) -> Rows:
    """A table from its text."""
    head, *lines = text.strip().splitlines()
    given, follows = (part.split() for part in head.split("|"))
    rows = []
    for line in lines:
        left, right = (part.split() for part in line.split("|"))
        assert len(left) == len(given), line
        right = right * len(follows) if len(right) == 1 else right
        assert len(right) == len(follows), line
        rows.append((left, right))
    return Rows(given, follows, rows, [0] * len(rows))


class Chip:
    """The chip of the library and the table's own reckoning, side by side."""

    def __init__(self, book: Book) -> None:
        self.book = book
        self.bench = Bench(book.part)
        self.pins = {name: number for number, name in enumerate(book.pins.split(), 1)}
        roles = self.bench.definition.roles
        names = self.bench.names
        self.both = book.data.split()
        self.inputs = [n for n, p in self.pins.items() if (role := roles.get(names[p - 1])) and role.is_input]
        self.outputs = [n for n, p in self.pins.items() if (role := roles.get(names[p - 1])) and role.is_output]
        self.does = [parse(t) for t in book.does]
        self.shows = [parse(t) for t in book.shows]
        self.order = [tuple(word) for word in book.counts.split()]
        self.now: dict[str, str] = {n: "L" for n in self.inputs if n not in self.both}
        self.now |= {n: "Z" for n in self.both}
        self.state: dict[str, str] = {n: "?" for table in self.does for n in table.follows}
        self.checked = 0
        self.bench.machine.set({names[self.pins[n] - 1]: False for n in self.inputs if n not in self.both}
                               | {names[self.pins[n] - 1]: None for n in self.both})
        self._settle("", "L")

    def level(self, name: str) -> str:
        return self.state[name] if name in self.state else self.now[name]

    def set(self, name: str, level: str) -> None:
        """Change one input pin and look at all outputs."""
        if self.now[name] == level:
            return
        before = self.now[name]
        self.now[name] = level
        self.bench.set_pin(self.pins[name], LEVELS.get(level))
        self._settle(name, before)
        self.look()

    def _fits(self, table: Rows, left: list[str], changed: str, before: str) -> bool:
        for name, symbol in zip(table.given, left, strict=True):
            level = self.level(name)
            if symbol in "^v":
                if name != changed or before + level != {"^": "LH", "v": "HL"}[symbol]:
                    return False
            elif symbol != "X" and level != symbol:
                return False
        return True

    def _settle(self, changed: str, before: str) -> None:
        """All tables from the same state; then those without an edge again, for a latch open to another's change."""
        while True:
            new = dict(self.state)
            for table in self.does:
                for index, (left, right) in enumerate(table.rows):
                    if self._fits(table, left, changed, before):
                        table.hits[index] += 1
                        new.update(self._follow(table, right))
                        break
            if new == self.state:
                return
            self.state, changed = new, ""

    def _follow(self, table: Rows, right: list[str]) -> Iterator[tuple[str, str]]:
        if right[0] in "+-":
            was = tuple(self.state[n] for n in table.follows)
            after = ("?",) * len(was)
            if was in self.order:
                after = self.order[(self.order.index(was) + (1 if right[0] == "+" else -1)) % len(self.order)]
            yield from zip(table.follows, after, strict=True)
            return
        for name, symbol in zip(table.follows, right, strict=True):
            yield name, self._symbol(symbol, name)

    def _symbol(self, symbol: str, own: str = "") -> str:
        if symbol in ("L", "H", "Z", "?"):
            return symbol
        if symbol == "=":
            return self.state[own]
        level = self.level(symbol.lstrip("!"))
        return "?" if level == "Z" else INVERSE[level] if symbol.startswith("!") else level

    def expected(self) -> dict[str, str]:
        """What the outputs show, by the tables."""
        wanted = {n: self.state[n] for n in self.outputs if n in self.state}
        for table in self.shows:
            for index, (left, right) in enumerate(table.rows):
                if self._fits(table, left, "", ""):
                    table.hits[index] += 1
                    wanted |= {n: self._symbol(s) for n, s in zip(table.follows, right, strict=True)}
                    break
                if any(self.level(n) == "?" for n in table.given):
                    break                              # not known which row holds
        return wanted

    def look(self) -> None:
        for name, wanted in self.expected().items():
            if name in self.both and self.now[name] != "Z":
                continue                               # driven from outside
            if wanted != "?":
                got = self.bench.get(self.pins[name])
                assert got == wanted, (self.book.part, name, got, wanted, self.now, self.state)
                self.checked += 1

    def forbidden(self, name: str, level: str) -> bool:
        after = {**self.now, name: level}
        for text in self.book.never:
            if all(after[n] == w for n, w in (item.split("=") for item in text.split())):
                return True
        if self.both and any(after[n] != "Z" for n in self.both):
            return all(after[n] == w for n, w in (item.split("=") for item in self.book.drives.split()))
        return False


def walk(book: Book, seed: int = 1985) -> Chip:
    """Carry out the lead, then random changes of one pin at a time; every output is looked at after each."""
    chip = Chip(book)
    source = random.Random(seed)
    for item in filter(None, (i.strip() for i in book.lead.split(","))):
        if "^" in item:
            name, times = item.split("^")
            for _ in range(int(times or 1)):
                for level in (INVERSE[chip.now[name]], chip.now[name]):
                    chip.set(name, level)
        else:
            name, level = item.split("=")
            chip.set(name, level)
    rest = dict(item.split("=") for item in book.rest.split())
    clocks = sorted({n for t in chip.does for left, _ in t.rows for n, s in zip(t.given, left, strict=True) if s in "^v"})
    free = [n for n in chip.inputs if n not in rest and n not in clocks and n not in chip.both]
    for _ in range(book.steps):
        off = [n for n, level in rest.items() if chip.now[n] != level]
        dice = source.random()
        if off and dice < 0.4:
            change(chip, source.choice(off))
        elif rest and dice < 0.45:
            change(chip, source.choice(sorted(rest)))
        elif chip.both and dice < 0.55:
            turn(chip, source)
        elif clocks and dice < 0.8:
            change(chip, source.choice(clocks))
        elif free:
            change(chip, source.choice(free))
        elif clocks:
            change(chip, source.choice(clocks))
    return chip


def change(chip: Chip, name: str) -> None:
    level = INVERSE[chip.now[name]]
    if chip.forbidden(name, level):
        for both in chip.both:
            chip.set(both, "Z")
    if not chip.forbidden(name, level):
        chip.set(name, level)


def turn(chip: Chip, source: random.Random) -> None:
    """Drive the pins that go both ways, or let go of them."""
    if any(chip.now[n] != "Z" for n in chip.both) and source.random() < 0.5:
        for name in chip.both:
            chip.set(name, "Z")
    elif not chip.forbidden(chip.both[0], "L"):
        for name in chip.both:
            chip.set(name, source.choice("LH"))
