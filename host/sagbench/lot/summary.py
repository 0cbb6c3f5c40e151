"""A box as a whole: how many of what, why, which are unlike the others, what has changed since it was last measured.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from sagbench.judge.character import FEWEST, Key, Norm
from sagbench.log import history
from sagbench.log.database import Log
from sagbench.log.entry import Entry, Lot, Query


@dataclass(frozen=True)
class Drifted:
    """A chip that was measured before, and what is different now."""

    before: Entry
    now: Entry
    changes: tuple[history.Change, ...]


@dataclass(frozen=True)
class Summary:
    """What there is to say of a box; entries are those that count."""

    lot: Lot
    entries: tuple[Entry, ...]
    verdicts: dict[str, int]
    reasons: tuple[tuple[str, int], ...]  # most frequent first, pins left out of them
    odd: tuple[history.Odd, ...]  # against the box itself
    unlike: tuple[history.Odd, ...]  # against the user's earlier sound ones
    drifted: tuple[Drifted, ...]


def summary(log: Log, number: int) -> Summary:
    """Of the lot with this number.  Raises LogError if there is none."""
    lot = log.lot(number)
    entries = log.entries(Query(lot=number))
    odd: list[history.Odd] = []
    unlike: list[history.Odd] = []
    for part in sorted({entry.part for entry in entries}):
        same = [entry for entry in entries if entry.part == part]
        odd += history.outliers(log, same)
        earlier = history.sound_ones(log, part, before=same[0].id)
        known: dict[Key, Norm] = history.spread(log, earlier) if len(earlier) >= FEWEST else {}
        unlike += history.outliers(log, same, known)
    return Summary(lot, tuple(entries), history.counts(entries), _reasons(entries), tuple(odd), tuple(unlike), tuple(_drifted(log, entries)))


def _reasons(entries: list[Entry]) -> tuple[tuple[str, int], ...]:
    found = Counter(kind(entry.reason) for entry in entries if entry.reason)
    return tuple(found.most_common())


def kind(reason: str) -> str:
    """A reason without its pin and its figures: "pin 8 (3Y) sinks 7.1 mA only at 0.78 V; ..." -> "sinks ... only at ..."."""
    words = reason.split(";")[0].split(":")[0].split(",")[0].split()
    if words[:1] == ["pin"]:
        words = words[3:] if words[2:3] and words[2].startswith("(") else words[2:]
    return " ".join("..." if any(c.isdigit() for c in word) else word for word in words)


def _drifted(log: Log, entries: list[Entry]) -> list[Drifted]:
    found = []
    for entry in entries:
        if not (entry.facts.chip or entry.facts.board and entry.facts.position):
            continue
        earlier = [other for other in history.same_chip(log, entry) if other.id < entry.id]
        if earlier and (changes := history.drift(log, earlier[0], entry)):
            found.append(Drifted(earlier[0], entry, tuple(changes)))
    return found
