"""Boolean functions that are known at some points: their support, and a short way to write them.

    >>> f = Sampled(frozenset({0b11}), frozenset({0b00, 0b01, 0b10}))
    >>> f.support(2), written(f, 2, ["A", "B"])
    (3, ('A & B', ()))

A point is an integer, bit i the level of variable i.  A function is written as an irredundant sum of products
(Minato and Morreale: S. Minato, "Fast generation of irredundant sum-of-products forms from binary decision diagrams",
SASIMI 1992; from memory), of itself or of its complement, or, where that is long (parities, carries), as a decision
diagram, one wire a node.  Our own sixty lines: the bindings of the usual minimiser need a compiler on the user's machine.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

ORDERS = 3  # orders in which variables are tried to be left out
FEW_TERMS = 12  # more terms are cut into wires: a statement bears 64 operators within one another
LONG = 40  # literals of a sum from which a decision diagram is looked at

Cube = tuple[int, int]  # variables that must be high, that must be low


@dataclass(frozen=True)
class Sampled:
    """A function by the points where it was seen high and those where it was seen low; elsewhere it is free."""

    ones: frozenset[int]
    zeros: frozenset[int]

    @property
    def contradicts(self) -> bool:
        """True if some point was seen both high and low: something else has a say."""
        return not self.ones.isdisjoint(self.zeros)

    def over(self, variables: int) -> Sampled:
        """The same points with all but these variables (a mask) left out."""
        return Sampled(frozenset(p & variables for p in self.ones), frozenset(p & variables for p in self.zeros))

    def support(self, count: int, orders: int = ORDERS) -> int:
        """A mask of variables that suffice, none of which can be left out: what was seen contradicts itself else."""
        known: dict[tuple[int, int], int] = self.__dict__.setdefault("_supports", {})  # asked for often, and slow to find
        if (count, orders) not in known:
            known[count, orders] = self._support(count, orders)
        return known[count, orders]

    def _support(self, count: int, orders: int) -> int:
        every = (1 << count) - 1
        used = [i for i in range(count) if (every >> i) & 1]
        score = {i: abs(_share(self.ones, i) - _share(self.zeros, i)) for i in used}
        rng = random.Random(count)
        best = every
        for turn in range(orders):
            order = sorted(used, key=lambda i: score[i] if turn == 0 else rng.random())
            found = self._without(order, every)
            if found.bit_count() < best.bit_count() or turn == 0:
                best = found
        return best

    def _without(self, order: Iterable[int], kept: int) -> int:
        now = self
        for i in order:
            less = now.over(kept & ~(1 << i))
            if not less.contradicts:
                now, kept = less, kept & ~(1 << i)
        return kept


def _share(points: frozenset[int], variable: int) -> float:
    return sum((p >> variable) & 1 for p in points) / len(points) if points else 0.5


class Table:
    """Tables of 2^n bits as integers; bit k is the value at point k.  Variable n-1 halves the table."""

    def __init__(self, count: int) -> None:
        self.count = count
        self._sums: dict[tuple[int, int, int], tuple[tuple[Cube, ...], int]] = {}

    def sum(self, lower: int, upper: int, n: int | None = None) -> tuple[tuple[Cube, ...], int]:
        """Cubes whose union lies between two tables, and that union."""
        n = self.count if n is None else n
        if lower == 0:
            return (), 0
        every = (1 << (1 << n)) - 1
        if upper == every:
            return ((0, 0),), every
        key = (n, lower, upper)
        if key not in self._sums:
            self._sums[key] = self._split(lower, upper, n - 1)
        return self._sums[key]

    def _split(self, lower: int, upper: int, v: int) -> tuple[tuple[Cube, ...], int]:
        half = 1 << v
        low = (1 << half) - 1
        l0, l1, u0, u1 = lower & low, lower >> half, upper & low, upper >> half
        c0, f0 = self.sum(l0 & ~u1, u0, v)  # what only the low half may hold
        c1, f1 = self.sum(l1 & ~u0, u1, v)
        both, f = self.sum(l0 & ~f0 | l1 & ~f1, u0 & u1, v)
        bit = 1 << v
        cubes = tuple((p, q | bit) for p, q in c0) + tuple((p | bit, q) for p, q in c1) + both
        return cubes, f0 | f | (f1 | f) << half


def written(function: Sampled, count: int, names: Sequence[str], wire: str = "W") -> tuple[str, tuple[str, ...]]:
    """An expression of the part files' language, and statements of wires (`wire` and a number) it needs before.

    names: those of the `count` variables.  ValueError if what was seen contradicts itself.
    """
    if function.contradicts:
        raise ValueError("a function is high and low at the same point")
    used = [i for i in range(count) if (function.support(count) >> i) & 1]
    ones, zeros = (_packed(points, used) for points in (function.ones, function.zeros))
    if not ones or not zeros:
        return ("1" if ones else "0"), ()
    every = (1 << (1 << len(used))) - 1
    named = [names[i] for i in used]
    table = Table(len(used))
    yes, _ = table.sum(ones, every & ~zeros)
    no, covered = table.sum(zeros, every & ~ones)
    inverted = (_literals(no), len(no), _bars(no) + 1) < (_literals(yes), len(yes), _bars(yes))
    cubes = no if inverted else yes
    if _literals(cubes) > LONG:
        lines = _Diagram(named, wire).statements(every & ~covered)
        if 3 * len(lines) < _literals(cubes):
            return lines[-1].split(" = ")[0], tuple(lines)
    return _sum_of(cubes, inverted, named, wire)


def _packed(points: frozenset[int], used: Sequence[int]) -> int:
    """A table over the used variables only."""
    table = bytearray((1 << len(used)) // 8 + 1)
    for point in points:
        place = sum(((point >> i) & 1) << k for k, i in enumerate(used))
        table[place >> 3] |= 1 << (place & 7)
    return int.from_bytes(table, "little")


def _literals(cubes: Iterable[Cube]) -> int:
    return sum((p | q).bit_count() for p, q in cubes)


def _bars(cubes: Iterable[Cube]) -> int:
    return sum(q.bit_count() for _, q in cubes)


def _product(cube: Cube, names: Sequence[str]) -> str:
    high, low = cube
    terms = [("" if (high >> i) & 1 else "!") + name for i, name in enumerate(names) if ((high | low) >> i) & 1]
    return " & ".join(terms) or "1"


def _sum_of(cubes: Sequence[Cube], inverted: bool, names: Sequence[str], wire: str) -> tuple[str, tuple[str, ...]]:
    terms = [_product(cube, names) for cube in sorted(cubes, key=lambda c: ((c[0] | c[1]).bit_count(), c))]
    lines: list[str] = []
    while len(terms) > FEW_TERMS:
        lines.append(f"{wire}{len(lines)} = {' | '.join(terms[:FEW_TERMS])}")
        terms = [*terms[FEW_TERMS:], f"{wire}{len(lines) - 1}"]
    text = " | ".join(terms)
    if inverted:
        single = len(terms) == 1 and " " not in text
        text = text[1:] if single and text.startswith("!") else f"!{text}" if single else f"!({text})"
    return text, tuple(lines)


class _Diagram:
    """A table as a reduced ordered decision diagram, a wire for each node."""

    def __init__(self, names: Sequence[str], wire: str) -> None:
        self._names, self._wire = names, wire
        self._nodes: dict[tuple[int, int], str] = {}
        self._lines: list[str] = []

    def statements(self, table: int) -> list[str]:
        """The statements, the last of which is the function."""
        self._node(table, len(self._names))
        return self._lines

    def _node(self, table: int, n: int) -> str:
        if table in (0, (1 << (1 << n)) - 1):
            return "1" if table else "0"
        half = 1 << (n - 1)
        low, high = table & ((1 << half) - 1), table >> half
        if low == high:
            return self._node(low, n - 1)
        if (n, table) not in self._nodes:
            text = self._choice(self._names[n - 1], low, high, n - 1)
            if " " in text:
                self._lines.append(f"{self._wire}{len(self._lines)} = {text}")
                text = f"{self._wire}{len(self._lines) - 1}"
            self._nodes[n, table] = text
        return self._nodes[n, table]

    def _choice(self, name: str, low: int, high: int, n: int) -> str:
        zero = self._node(low, n)
        if low ^ high == (1 << (1 << n)) - 1:
            return {"0": name, "1": f"!{name}"}.get(zero, f"{name} ^ {zero}")
        one = self._node(high, n)
        if one in "01":
            return f"{name} | {zero}" if one == "1" else f"!{name} & {zero}"
        if zero in "01":
            return f"!{name} | {one}" if zero == "1" else f"{name} & {one}"
        return f"{name} ? {one} : {zero}"
