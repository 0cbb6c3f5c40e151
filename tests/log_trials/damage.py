"""Bytes of a log change on the disk: either it is recognised, with a copy kept and the way out printed, or nothing that can be read has changed.

Kinds: single bits, bytes, pages, the end cut off, pages in each other's place.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import os
import random
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from host.report import examples

from sagbench.log.database import Facts, Log, Query, open_log
from sagbench.log.entry import Entry, Lot
from sagbench.log.rescue import MENDED, rescue
from sagbench.log.trouble import LogDamaged, LogError
from sagbench.record import SweepRecord

PAGE = 4096
COUNT = 5            # entries
Figures = dict[tuple[str, int, str], tuple[float, float, str]]


@dataclass(frozen=True)
class Whole:
    """All that can be read of a log."""

    entries: tuple[Entry, ...]
    records: tuple[SweepRecord, ...]
    figures: tuple[Figures, ...]
    lots: tuple[Lot, ...]
    asked: tuple[tuple[int, ...], ...]   # answers that go by the indices


def whole(log: Log) -> Whole:
    """Read it all."""
    entries = tuple(log.entries(Query(undone=True)))
    parts = sorted({entry.part for entry in entries})
    return Whole(entries, tuple(log.record(e.id) for e in entries), tuple(log.values(e.id) for e in entries), tuple(log.lots()),
                 tuple(tuple(e.id for e in log.entries(Query(part=part))) for part in parts))


@cache
def sound(folder: Path) -> tuple[bytes, Whole]:
    """A log's bytes, and what is in it."""
    where = folder / "sound.sqlite3"
    where.unlink(missing_ok=True)
    with open_log(where) as log:
        lot = log.begin_lot("box from the attic")
        for n in range(COUNT):
            record = examples.sound_inverter() if n % 2 else examples.weak_gate()
            log.add(record, Facts(board="CPU", position=f"U{n}", date_code="8142", note="pin 3 was bent"), lot=lot, again=n if n == 4 else None)
        log.end_lot(lot)
        return where.read_bytes(), whole(log)


def bit(data: bytearray, rng: random.Random) -> None:
    """One bit."""
    data[rng.randrange(len(data))] ^= 1 << rng.randrange(8)


def some(data: bytearray, rng: random.Random) -> None:
    """Up to sixteen bytes in a row."""
    at = rng.randrange(len(data))
    data[at:at + rng.randint(1, 16)] = rng.randbytes(len(data[at:at + rng.randint(1, 16)]))


def page(data: bytearray, rng: random.Random) -> None:
    """A page of zeros, or of noise."""
    at = rng.randrange(len(data) // PAGE) * PAGE
    data[at:at + PAGE] = bytes(PAGE) if rng.random() < 0.5 else rng.randbytes(PAGE)


def cut(data: bytearray, rng: random.Random) -> None:
    """The end is missing."""
    del data[rng.randrange(1, len(data)):]


def swapped(data: bytearray, rng: random.Random) -> None:
    """Two pages in each other's place."""
    a, b = (n * PAGE for n in rng.sample(range(len(data) // PAGE), 2))
    data[a:a + PAGE], data[b:b + PAGE] = data[b:b + PAGE], data[a:a + PAGE]


KINDS: tuple[tuple[Callable[[bytearray, random.Random], None], int], ...] = ((bit, 40), (some, 25), (page, 15), (cut, 10), (swapped, 10))


def trial(number: int, folder: Path) -> tuple[str, str]:
    """One damage: ("harmless" or "recognised", what is wrong or "")."""
    rng = random.Random(number)
    before, truth = sound(folder)
    kind = rng.choices([k for k, _ in KINDS], [weight for _, weight in KINDS])[0]
    data = bytearray(before)
    kind(data, rng)
    where = folder / "log.sqlite3"
    for old in folder.glob("log*"):
        old.unlink()
    where.write_bytes(data)
    name = f"trial {number} ({kind.__name__})"
    try:
        with open_log(where) as log:
            log.check()
            return "harmless", "" if whole(log) == truth else f"{name}: it reads otherwise and nobody says so"
    except LogDamaged as told:
        return "recognised", f"{name}: {wrong}" if (wrong := _way_out(where, str(told), bytes(data), truth)) else ""
    except LogError as told:                # its version or its owner is not ours any more: left alone
        untouched = where.read_bytes() == bytes(data) and re.search(r"newer sagbench|another program", str(told))
        return "recognised", "" if untouched else f"{name}: {told}"


def _way_out(where: Path, told: str, data: bytes, truth: Whole) -> str:
    """What is wrong with the sentence, the copy or the rescue; "" if nothing is."""
    kept = sorted(where.parent.glob("log-damaged-*.sqlite3"))
    if "sagbench log rescue" not in told or not kept or kept[0].name not in told or kept[0].read_bytes() != data:
        return f"no way out: {told}"
    good, _, old = rescue(where)
    if old.read_bytes() != data:
        return "the damaged log is not kept"
    with open_log(where) as log:
        log.check()
        found = whole(log)
        log.add(examples.sound_inverter())
    if len(found.entries) != good:
        return f"{good} entries were announced, {len(found.entries)} are there"
    records = dict(zip((e.id for e in truth.entries), truth.records, strict=True))
    facts = {e.id: e.facts for e in truth.entries}
    for entry, record in zip(found.entries, found.records, strict=True):
        if record != records.get(entry.id):
            return f"entry {entry.id} has another record after the rescue"
        if entry.facts != facts[entry.id] and MENDED not in entry.facts.note:
            return f"entry {entry.id} has other facts after the rescue and nobody says so"
    return ""


def spoilt_first_page(folder: Path) -> tuple[int, int]:
    """The first page is gone: (entries rescued, entries there were)."""
    before, _ = sound(folder)
    where = folder / "log.sqlite3"
    for old in folder.glob("log*"):
        old.unlink()
    where.write_bytes(os.urandom(PAGE) + before[PAGE:])
    return rescue(where)[0], COUNT
