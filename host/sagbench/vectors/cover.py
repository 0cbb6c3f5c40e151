"""The fewest tests that detect every fault: set cover.

Rows are faults, columns are tests.  A row dominates another if every test for
the other detects it too; it then needs no attention of its own.  What is left is
covered exactly by branch and bound where the search ends within its allowance,
else by the best of several greedy covers.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Cover:
    """Chosen columns, and whether no smaller choice exists."""

    columns: tuple[int, ...]
    proved: bool


def essential_rows(rows: Iterable[int]) -> list[int]:
    """The rows (bit c: column c covers it) that are left after duplicates and dominating rows are dropped."""
    kept: list[int] = []
    for row in sorted(set(rows), key=int.bit_count):
        if not any(small & row == small for small in kept):
            kept.append(row)
    return kept


def transpose(rows: Sequence[int]) -> dict[int, int]:
    """For each column that covers anything: the rows it covers, as bits."""
    width = max((row.bit_length() for row in rows), default=0)
    # As text: rows written from the last to the first, read downwards from the right.
    texts = [f"{row:0{width}b}" for row in reversed(rows)]
    columns = (int("".join(marks), 2) for marks in zip(*texts, strict=True))
    return {width - 1 - place: covered for place, covered in enumerate(columns) if covered}


def _undominated(columns: dict[int, int]) -> dict[int, int]:
    """Columns whose rows are not all covered by another column."""
    unique: dict[int, int] = {}
    for column, covered in columns.items():
        unique.setdefault(covered, column)
    kept: list[int] = []
    for covered in sorted(unique, key=lambda c: (-c.bit_count(), c)):
        if not any(covered & big == covered for big in kept):
            kept.append(covered)
    return {unique[covered]: covered for covered in kept}


def minimum_cover(rows: Iterable[int], *, allowance: int = 20000, restarts: int = 20, seed: int = 1) -> Cover:
    """Cover every row that has a bit; rows without one are left out (no test detects them).

    `allowance` bounds the nodes of the exact search, `restarts` the greedy tries.
    """
    need = essential_rows(row for row in rows if row)
    columns = _undominated(transpose(need))
    rng = random.Random(seed)
    best = _greedy(columns, len(need), None)
    for _ in range(restarts):
        again = _greedy(columns, len(need), rng)
        if len(again) < len(best):
            best = again
    search = _Search(columns, len(need), best, allowance)
    search.run((1 << len(need)) - 1, ())
    return Cover(tuple(sorted(search.best)), search.nodes < allowance)


def _greedy(columns: dict[int, int], rows: int, rng: random.Random | None) -> tuple[int, ...]:
    """Take the column that covers most of what is left, ties by `rng`; then drop what became superfluous."""
    left = (1 << rows) - 1
    chosen: list[int] = []
    while left:
        scores = {column: (covered & left).bit_count() for column, covered in columns.items()}
        top = max(scores.values())
        ties = [column for column, score in scores.items() if score == top]
        pick = rng.choice(ties) if rng else ties[0]
        chosen.append(pick)
        left &= ~columns[pick]
    for column in list(chosen):
        rest = 0
        for other in chosen:
            if other != column:
                rest |= columns[other]
        if rest.bit_count() == rows:
            chosen.remove(column)
    return tuple(chosen)


class _Search:
    """Branch on the row with the fewest columns; bound by rows that share no column."""

    def __init__(self, columns: dict[int, int], rows: int, best: Sequence[int], allowance: int) -> None:
        self.columns = columns
        self.covers_row = [[c for c, covered in columns.items() if covered >> row & 1] for row in range(rows)]
        place = {column: 1 << i for i, column in enumerate(columns)}
        self.row_columns = [sum(place[c] for c in found) for found in self.covers_row]
        self.by_need = sorted(range(rows), key=lambda row: len(self.covers_row[row]))
        self.best = tuple(best)
        self.allowance = allowance
        self.nodes = 0

    def _bound(self, left: int) -> int:
        """A number of rows of `left` no two of which share a column: so many columns are needed."""
        used, count = 0, 0
        for row in self.by_need:
            if left >> row & 1 and not self.row_columns[row] & used:
                used |= self.row_columns[row]
                count += 1
        return count

    def run(self, left: int, chosen: tuple[int, ...]) -> None:
        """Try to cover `left` with fewer columns in all than the best so far."""
        if not left:
            self.best = chosen
            return
        self.nodes += 1
        if self.nodes >= self.allowance or len(chosen) + self._bound(left) >= len(self.best):
            return
        row = next(row for row in self.by_need if left >> row & 1)
        for column in sorted(self.covers_row[row], key=lambda c: -(self.columns[c] & left).bit_count()):
            if len(chosen) + 1 < len(self.best):
                self.run(left & ~self.columns[column], (*chosen, column))
