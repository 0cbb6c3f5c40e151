"""A box as a whole: how many of what, why, which are unlike the others, what has changed since it was last measured.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sagbench.judge.character import FEWEST, Key, Norm
from sagbench.log import history
from sagbench.log.database import Log
from sagbench.log.entry import Entry, Lot, Query
from sagbench.record import Verdict

NAMED = 8  # chips named behind what is likely wrong with them


@dataclass(frozen=True)
class Drifted:
    """A chip that was measured before, and what is different now."""

    before: Entry
    now: Entry
    changes: tuple[history.Change, ...]


@dataclass(frozen=True)
class Cause:
    """What is likely wrong with some of the chips."""

    what: str  # "sink transistor has lost gain"
    chips: tuple[tuple[int, int | None], ...]  # entry and pin, None: no single pin
    sentence: str  # of the first of them

    def told(self) -> str:
        """In words, and of which chips."""
        if len(self.chips) == 1:
            more = "" if self.sentence.endswith(self.what) else f": {self.sentence}"
            return f"{self.what} (entry {self.chips[0][0]}){more}"
        named = [f"{number}{f' pin {pin}' if pin else ''}" for number, pin in self.chips[:NAMED]]
        more = f" and {len(self.chips) - NAMED} more" if len(self.chips) > NAMED else ""
        return f"{self.what}: entries {', '.join(named)}{more}"


@dataclass(frozen=True)
class Summary:
    """What there is to say of a box; entries are those that count, one a chip."""

    lot: Lot
    entries: tuple[Entry, ...]
    wrongly: str  # "3 times put in wrongly": entries of the same chips, which are not among these
    verdicts: dict[str, int]
    causes: tuple[Cause, ...]  # what is likely wrong with those that are not sound
    odd: tuple[history.Odd, ...]  # against the box itself
    unlike: tuple[history.Odd, ...]  # against the user's earlier sound ones
    drifted: tuple[Drifted, ...]


def summary(log: Log, number: int) -> Summary:
    """Of the lot with this number.  Raises LogError if there is none."""
    lot = log.lot(number)
    every = log.entries(Query(lot=number))
    entries = history.each_once(every)
    odd: list[history.Odd] = []
    unlike: list[history.Odd] = []
    for part in sorted({entry.part for entry in entries}):
        same = [entry for entry in entries if entry.part == part]
        odd += history.outliers(log, same)
        earlier = history.sound_ones(log, part, before=same[0].id)
        known: dict[Key, Norm] = history.spread(log, earlier) if len(earlier) >= FEWEST else {}
        unlike += history.outliers(log, same, known)
    return Summary(lot, tuple(entries), history.wrongly(every), history.counts(entries), _causes(log, entries), tuple(odd), tuple(unlike), tuple(_drifted(log, entries)))


def _causes(log: Log, entries: list[Entry]) -> tuple[Cause, ...]:
    """By diagnosis, the most frequent first."""
    found: dict[str, list[tuple[int, int | None]]] = {}
    said: dict[str, str] = {}
    for entry in entries:
        if entry.verdict != Verdict.SOUND.value and (likeliest := log.likeliest(entry.id)):
            found.setdefault(likeliest.what, []).append((entry.id, likeliest.pin))
            said.setdefault(likeliest.what, likeliest.sentence)
    return tuple(sorted((Cause(what, tuple(chips), said[what]) for what, chips in found.items()), key=lambda cause: (-len(cause.chips), cause.chips)))


def by_chip(odd: Iterable[history.Odd], entries: Iterable[Entry]) -> list[tuple[Entry, list[history.Odd]]]:
    """Figures that are unlike the others', chip by chip: sound chips first, for of the others one knows already."""
    known = {entry.id: entry for entry in entries}
    found: dict[int, list[history.Odd]] = {}
    for one in odd:
        found.setdefault(one.entry, []).append(one)
    return sorted(((known[number], several) for number, several in found.items()),
                  key=lambda chip: (chip[0].verdict != Verdict.SOUND.value, -chip[1][0].far))  # fmt: skip


def _drifted(log: Log, entries: list[Entry]) -> list[Drifted]:
    found = []
    for entry in entries:
        if not (entry.facts.chip or entry.facts.board and entry.facts.position):
            continue
        earlier = [other for other in history.same_chip(log, entry) if other.id < entry.id]
        if earlier and (changes := history.drift(log, earlier[0], entry)):
            found.append(Drifted(earlier[0], entry, tuple(changes)))
    return found
