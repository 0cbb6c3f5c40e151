"""What several entries say together: one unlike its box, a chip that changed.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot

from sagbench.judge.character import FAR, FEWEST, Key, Norm, far, norm_of, place
from sagbench.log.database import Log
from sagbench.log.entry import Entry, Query
from sagbench.record import Quantity, Verdict
from sagbench.report.figures import amount, short

MOST = 200  # specimens that a chip is compared with: more say nothing new, and each sweep of a large box would wait for them


@dataclass(frozen=True)
class Odd:
    """One figure of one entry that is unlike the others'; units of the figure."""

    entry: int
    key: Key  # quantity, pin (0: the chip), the state or current it holds for
    value: Quantity
    norm: Norm
    far: float  # robust standard deviations


@dataclass(frozen=True)
class Change:
    """One figure of one chip at two times that differ by more than both uncertainties; units of the figure."""

    key: Key
    before: Quantity
    after: Quantity
    times: float  # the change in units of its own expanded uncertainty


def values(log: Log, number: int) -> dict[Key, tuple[float, float, str]]:
    """Figures of an entry: where -> (value, U, unit)."""
    return {place(key): value for key, value in log.values(number).items()}


def in_words(key: Key) -> str:
    """A figure's place: "VOL, pin 3, 16 mA"."""
    name, pin, at = key
    size, _, unit = at.partition(" ")
    if unit in ("A", "V"):
        at = amount(float(size), unit)
    return ", ".join(x for x in (name, f"pin {pin}" if pin else "", at) if x)


def spread(log: Log, entries: Sequence[Entry]) -> dict[Key, Norm]:
    """Median and robust spread of each figure that enough of these entries have.  Entries must be of one part."""
    found: dict[Key, list[float]] = {}
    for entry in entries:
        for key, (value, _, _) in values(log, entry.id).items():
            found.setdefault(key, []).append(value)
    return {key: norm_of(several) for key, several in found.items() if len(several) >= FEWEST}


def outliers(log: Log, entries: Sequence[Entry], known: dict[Key, Norm] | None = None) -> list[Odd]:
    """Figures unlike `known` (by default: unlike the spread of these entries themselves), farthest first."""
    known = spread(log, entries) if known is None else known
    found = []
    for entry in entries:
        for key, (value, u, unit) in values(log, entry.id).items():
            if key in known and (away := far(key, Quantity(value, u, unit), known[key])) > FAR:
                found.append(Odd(entry.id, key, Quantity(value, u, unit), known[key], away))
    return sorted(found, key=lambda odd: -odd.far)


def sound_ones(log: Log, part: str, before: int | None = None) -> list[Entry]:
    """The user's own sound specimens of a part, measured before an entry, the newest MOST of them: of a chip that is known again
    only the last measurement, for a chip measured often says nothing of others."""
    found = [e for e in log.entries(Query(part=part, verdict=Verdict.SOUND.value)) if before is None or e.id < before]
    again = {entry.again for entry in found}
    last = {(e.facts.chip or (e.facts.board, e.facts.position) if e.facts.chip or e.facts.position else e.id): e for e in found}
    return [entry for entry in last.values() if entry.id not in again][-MOST:]


def same_chip(log: Log, entry: Entry) -> list[Entry]:
    """All measurements of this very chip, oldest first: by its own name, else by board and position.

    Without either there is only the entry itself and those it is a second measurement for.
    """
    facts = entry.facts
    if facts.chip:
        return log.entries(Query(part=entry.part, chip=facts.chip))
    if facts.board and facts.position:
        return log.entries(Query(part=entry.part, board=facts.board, position=facts.position))
    chain = {entry.id, entry.again}
    return [other for other in log.entries(Query(part=entry.part)) if other.id in chain or other.again in chain - {None}]


def drift(log: Log, first: Entry, last: Entry) -> list[Change]:
    """Figures that differ between two measurements by more than their uncertainties together, most first."""
    before, after = values(log, first.id), values(log, last.id)
    found = []
    for key in before.keys() & after.keys():
        (a, ua, unit), (b, ub, _) = before[key], after[key]
        both = hypot(ua, ub)
        if abs(b - a) > both:
            found.append(Change(key, Quantity(a, ua, unit), Quantity(b, ub, unit), abs(b - a) / both if both else float("inf")))
    return sorted(found, key=lambda change: (-change.times, change.key))


def since_before(log: Log, entry: Entry) -> str:
    """What has changed in a chip that the user names, since it was first measured whole; "" if it never was, or has no name."""
    unfinished = Verdict.INCOMPLETE.value  # the wrong way round, say: it has no figures to be compared
    if entry.verdict == unfinished or not (entry.facts.chip or entry.facts.board and entry.facts.position):
        return ""
    earlier = [other for other in same_chip(log, entry) if other.id < entry.id and other.verdict != unfinished]
    if not earlier:
        return ""
    first = earlier[0]
    head = f"This chip was entry {first.id} ({first.made[:10]}, {first.verdict}): "
    changes = drift(log, first, entry)
    if not changes:
        return head + "nothing has changed by more than the uncertainties."
    most = changes[0]
    more = f"; {len(changes) - 1} more (sagbench log drift {entry.id})" if len(changes) > 1 else ""
    return f"{head}{in_words(most.key)} {short(most.before)} -> {short(most.after)}{more}."


def chips(count: int) -> str:
    """So many chips: "1 chip", "12 chips"."""
    return f"{count} chip{'' if count == 1 else 's'}"


def tried_again(entries: Sequence[Entry]) -> frozenset[int]:
    """Entries of a lot that are no chips of their own: put in wrongly, and the next one is the same chip, seated anew.

    It is, unless the user says otherwise: another part, another position, another name.
    """
    found = set()
    for before, after in pairwise(sorted(entries, key=lambda entry: entry.id)):
        said = ((before.facts.position, after.facts.position), (before.facts.chip, after.facts.chip))
        if before.put_in_wrongly and before.part == after.part and not any(a and b and a != b for a, b in said):
            found.add(before.id)
    return frozenset(found)


def each_once(entries: Sequence[Entry]) -> list[Entry]:
    """The same entries of a lot, without those of `tried_again`."""
    tries = tried_again(entries)
    return [entry for entry in entries if entry.id not in tries]


def wrongly(entries: Sequence[Entry]) -> str:
    """ "3 times put in wrongly", of those of `tried_again`; "" for none."""
    number = len(tried_again(entries))
    return f"{'once' if number == 1 else f'{number} times'} put in wrongly" if number else ""


def counts(entries: Sequence[Entry]) -> dict[str, int]:
    """How many of each verdict."""
    found = Counter(entry.verdict for entry in entries)
    return {verdict.value: found[verdict.value] for verdict in Verdict if found[verdict.value]}
