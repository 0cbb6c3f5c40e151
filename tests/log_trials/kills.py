"""A program that uses the log is killed (SIGKILL) at a random moment; what it had shown before must be there afterwards.

The program is a forked child; what it shows goes down a pipe, which outlives it.  Four kinds of it: a lot (chips measured on
paper, through the very session that `sagbench lot` has), notes and undos, a log brought up to date, a rescue.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import random
import select
import shutil
import signal
import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

from host.report import examples

from sagbench.log import schema
from sagbench.log.database import Facts, Log, Query, open_log
from sagbench.log.rescue import rescue
from sagbench.lot.presence import STILL, Look, Watcher
from sagbench.lot.session import Command, Session, Told, Verb
from sagbench.parts import load_part
from sagbench.record import SweepRecord

Shown = dict[str, Any]
Show = Callable[[Shown], None]
RECORDS = (examples.sound_inverter(), examples.weak_gate())
CHIP: Look = frozenset({(7, p) for p in range(1, 15)})
PART = load_part("74LS04")
FULL = 60            # entries after which a trial begins with a new log
LONGEST_S = 0.30     # a child is killed at a moment within so long from its first word


class PaperBench:
    """A socket in which chips come and go, and a fixture that measures without a fixture."""

    def __init__(self, rng: random.Random) -> None:
        self._rng, self._left, self._in = rng, 0, False

    def see(self) -> Look:
        if self._left == 0:
            self._in, self._left = not self._in, STILL + 1
        self._left -= 1
        return CHIP if self._in else frozenset()

    def measure(self, part: object, marking: str) -> SweepRecord:
        return self._rng.choice(RECORDS)

    def pause(self, seconds: float) -> None:
        pass


def lot(where: Path, rng: random.Random, show: Show) -> None:
    """A box of chips; shows each result's number, as the screen does."""
    says = (None, None, None, Command(Verb.RETEST), Command(Verb.UNDO), Command(Verb.PLACE, "U1"))
    with open_log(where) as log:
        bench = PaperBench(rng)

        def tell(told: Told) -> None:
            if told.entry:
                show({"entry": told.entry.id, "verdict": told.entry.verdict})
        Session(bench, Watcher(bench.see), log, log.begin_lot("box"), lambda _: PART, lambda _: "library", tell, lambda: rng.choice(says), PART, "74LS04").run()


def words(where: Path, rng: random.Random, show: Show) -> None:
    """Facts said of entries, entries taken back and brought back."""
    with open_log(where) as log:
        while True:
            number = log.add(rng.choice(RECORDS), Facts(board="CPU"))
            show({"entry": number})
            note = str(rng.random())
            log.describe(number, note=note)
            show({"entry": number, "note": note})
            log.take_back(number)
            show({"entry": number, "undone": True})


def update(where: Path, rng: random.Random, show: Show) -> None:
    """A log of the first version, opened by this one."""
    with open_log(where) as log:
        show({"entry": len(log.entries(Query(undone=True)))})
    words(where, rng, show)


def mend(where: Path, rng: random.Random, show: Show) -> None:
    """A rescue."""
    good, _, _ = rescue(where)
    show({"entries": good})
    words(where, rng, show)


KINDS = ((lot, 60), (words, 20), (update, 10), (mend, 10))


def first_version(where: Path, count: int) -> None:
    """A log as the first version wrote it: `count` entries, no seals."""
    with open_log(where) as log:
        for _ in range(count):
            log.add(RECORDS[1])
        log.begin_lot("old")
    with closing(sqlite3.connect(where, isolation_level=None)) as old:
        for table, column in (("lots", "seal"), ("entries", "seal"), ("entries", "figures_seal")):
            old.execute(f"ALTER TABLE {table} DROP COLUMN {column}")
        old.execute("PRAGMA user_version = 1")


def spoil(where: Path) -> None:
    """A damaged log of six entries of which all can be read: a page of an index is gone."""
    with open_log(where) as log:
        for _ in range(6):
            log.add(RECORDS[0])
    with closing(sqlite3.connect(where)) as found:
        root = found.execute("SELECT rootpage FROM sqlite_master WHERE name = 'entries_part'").fetchone()[0]
    data = bytearray(where.read_bytes())
    data[(root - 1) * 4096:root * 4096] = bytes(4096)
    where.write_bytes(data)


def trial(number: int, folder: Path) -> str:
    """One kill; "" if nothing was lost, else what."""
    rng = random.Random(number)
    kind = rng.choices([k for k, _ in KINDS], [weight for _, weight in KINDS])[0]
    where = folder / "log.sqlite3"
    if kind in (update, mend) or not where.exists() or count_of(where) > FULL:
        shutil.rmtree(folder, ignore_errors=True)
        folder.mkdir(parents=True)
        if kind is update:
            first_version(where, 8)
        elif kind is mend:
            spoil(where)
    together = 2 if kind in (lot, words) and rng.random() < 0.3 else 1
    children = [_child(kind, where, random.Random(rng.random())) for _ in range(together)]
    shown = _until_killed(children, rng.uniform(0, LONGEST_S))
    return f"trial {number} ({kind.__name__}): {lost}" if (lost := _lost(where, kind, shown)) else ""


def count_of(where: Path) -> int:
    with closing(sqlite3.connect(where)) as found:
        return int(found.execute("SELECT count(*) FROM entries").fetchone()[0])


def _child(kind: Callable[[Path, random.Random, Show], None], where: Path, rng: random.Random) -> tuple[int, int]:
    """(process, end of its pipe)."""
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(ours)
            os.write(theirs, b"\n")

            def show(told: Shown) -> None:
                os.write(theirs, json.dumps(told).encode() + b"\n")
            kind(where, rng, show)
        except BaseException as wrong:      # shown, so that it counts as lost
            os.write(theirs, json.dumps({"trouble": f"{type(wrong).__name__}: {wrong}"}).encode() + b"\n")
        finally:
            os._exit(0)
    os.close(theirs)
    return child, ours


def _until_killed(children: list[tuple[int, int]], seconds: float) -> list[Shown]:
    """Kill all of them so long after the first word; what they had shown."""
    select.select([pipe for _, pipe in children], [], [], 30.0)
    time.sleep(seconds)
    for child, _ in children:
        os.kill(child, signal.SIGKILL)
    text = b""
    for child, pipe in children:
        os.waitpid(child, 0)
        with os.fdopen(pipe, "rb") as file:
            text += file.read()
    return [json.loads(line) for line in text.split(b"\n") if line.strip()]


def _lost(where: Path, kind: object, shown: list[Shown]) -> str:
    """What was shown and is not there, or is not as shown; "" if all is."""
    if told := [one["trouble"] for one in shown if "trouble" in one]:
        return told[0]
    if kind is mend and not _is_log(where):
        rescue(where)                       # the rescue was cut off: it can be had again
    with open_log(where) as log:
        entries = {entry.id: entry for entry in log.entries(Query(undone=True))}
        said = {one["entry"]: {} for one in shown if "entry" in one}  # type: ignore[var-annotated]
        for one in shown:
            said.get(one.get("entry"), {}).update(one)
        for number, told in said.items():
            found = entries.get(number)
            if found is None:
                return f"entry {number} is not there"
            if "verdict" in told and found.verdict != told["verdict"] or "note" in told and found.facts.note != told["note"]:
                return f"entry {number} is not as shown"
            if told.get("undone") and not found.undone:
                return f"entry {number} counts again"
        least = {update: 8, mend: 6}.get(kind, 0)  # type: ignore[call-overload]
        if len(entries) < least:
            return f"{len(entries)} of {least} entries are there"
        return _broken(log)


def _is_log(where: Path) -> bool:
    from sagbench.log.trouble import LogDamaged
    try:
        with open_log(where):
            return True
    except LogDamaged:
        return False


def _broken(log: Log) -> str:
    """Of every pair of a retest one counts at most, lots and the last records can be read, and the log takes more."""
    entries = log.entries(Query(undone=True))
    by = {entry.id: entry for entry in entries}
    if twice := [e.id for e in entries if e.again and not e.undone and not by[e.again].undone]:
        return f"entry {twice[0]} and the one it replaces both count"
    log.lots()
    for entry in entries[-3:]:
        log.record(entry.id)
        log.values(entry.id)
    if schema.version(log._database) != schema.VERSION:
        return "it is of an old version"
    log.add(RECORDS[0])
    return ""


def run(first: int, count: int, folder: Path) -> Iterator[str]:
    """Trials from that number on, one after the other."""
    for number in range(first, first + count):
        yield trial(number, folder)
