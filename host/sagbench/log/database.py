"""The log: every chip measured, in one SQLite file in the user's data folder.

    with open_log() as log:
        number = log.add(record, Facts(board="CPU", position="U14"))

An entry is on the disk when `add` returns (SQLite's journal, `synchronous` full): what is shown afterwards survives a
crash.  Nothing is ever deleted; what is taken back stays, marked.  Two programs may use one log: each waits for the other.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import json
import sqlite3
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict, astuple, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sagbench.calibrate.place import folder
from sagbench.judge.character import figures
from sagbench.log import schema
from sagbench.log.entry import Entry, Facts, Likeliest, Lot, Query, brief
from sagbench.log.trouble import LogDamaged, LogError, copy_of, damaged, told
from sagbench.record import SweepRecord
from sagbench.report.codec import from_json, to_json

NAME = "log.sqlite3"
PATIENCE_S = 5.0  # for another program to end its writing
SELECT = f"SELECT {', '.join(schema.ENTRY)}, seal FROM entries"


def path() -> Path:
    """The user's log, whether it exists or not."""
    return folder() / NAME


@contextmanager
def open_log(where: Path | None = None, *, write: bool = True) -> Iterator[Log]:
    """The log, made or brought up to date if need be.

    write: False opens it for reading, also where nothing may be written; there must be one.
    Raises LogError with the way out; LogDamaged if a copy was kept and it must be rescued.
    """
    where = where or path()
    with closing(_connected(where, write)) as database:
        yield Log(database, where)


def _connected(where: Path, write: bool) -> sqlite3.Connection:
    if not write and not where.exists():
        raise LogError(f"There is no log yet ({where}); `sagbench sweep --log` and `sagbench lot` begin one.")
    if write:
        try:
            where.parent.mkdir(parents=True, exist_ok=True)
        except OSError as wrong:
            raise LogError(f"The folder {where.parent} cannot be made ({wrong.strerror}); set SAGBENCH_DATA to a folder of your own.") from None
    with told(where):
        # autocommit: transactions are ours to begin
        database = sqlite3.connect(f"{where.absolute().as_uri()}?mode={'rwc' if write else 'ro'}", PATIENCE_S, isolation_level=None, uri=True)
    database.text_factory = schema.text  # what is no text any more is told by its seal
    try:
        with told(where):
            _check(database, where, write)
    except BaseException:
        database.close()
        raise
    return database


def _check(database: sqlite3.Connection, where: Path, write: bool) -> None:
    """That it is a log, whole, and of a version we know."""
    database.execute("PRAGMA synchronous = FULL")
    database.execute("PRAGMA foreign_keys = ON")
    found = schema.version(database)
    if found > schema.VERSION:
        raise LogError(f"The log {where} is of version {found}, this sagbench knows {schema.VERSION}: use the newer sagbench that wrote it.")
    tables = database.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
    if schema.application(database) != schema.APPLICATION_ID and (found or tables):
        raise LogError(f"{where} is an SQLite file of another program; move it away, or set SAGBENCH_DATA to another folder.")
    wrong = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
    if wrong != "ok":
        raise damaged(where, str(wrong).splitlines()[-1])
    if found == schema.VERSION:
        return
    if not write:
        try:
            _connected(where, write=True).close()
        except LogError as wrong:
            raise LogError(f"The log {where} is of version {found} and cannot be brought up to date where it is: {wrong} "
                           "Or copy it to a folder of your own and set SAGBENCH_DATA to that.") from None  # fmt: skip
        return
    if found:
        copy_of(where, f"version-{found}")
    schema.migrate(database)


@dataclass(frozen=True)
class Restored:
    """An entry as it was in another log."""

    number: int
    record: SweepRecord
    facts: Facts
    lot: int | None
    library: str
    again: int | None
    undone: str | None


def now() -> str:
    """This moment: ISO 8601, UTC, to the second."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class Log:
    """An open log.  Every method may raise LogError (no space, held, read-only) or LogDamaged."""

    def __init__(self, database: sqlite3.Connection, where: Path) -> None:
        self._database, self.path = database, where

    # -------------------------------------------------------------- writing
    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One change, on the disk at its end or not made."""
        with told(self.path):
            self._database.execute("BEGIN IMMEDIATE")
            try:
                yield self._database
                self._database.execute("COMMIT")
            except BaseException:
                if self._database.in_transaction:
                    self._database.execute("ROLLBACK")
                raise

    def add(self, record: SweepRecord, facts: Facts = Facts(), *, lot: int | None = None, library: str = "", again: int | None = None) -> int:
        """Keep one measurement; its number.  `again`: the entry that it replaces, which is taken back in the same moment."""
        with self._writing() as database:
            number = database.execute("SELECT coalesce(max(id), 0) + 1 FROM entries").fetchone()[0]
            assert isinstance(number, int)
            self._insert(number, record, facts, lot, library, again, None)
            if again is not None:
                self._set(again, {"undone": now()})
        return number

    def _insert(self, number: int, record: SweepRecord, facts: Facts, lot: int | None, library: str, again: int | None, undone: str | None) -> None:
        """Within a change: an entry and its figures, sealed."""
        reason = next((f.sentence for f in record.reasons), record.partial)
        row = {
            "id": number, "made": record.started, "lot": lot, "part": record.part, "marking": record.marking, "verdict": record.verdict.value,
            "reason": reason, "fixture": record.fixture.serial, "calibration": record.fixture.calibration, "library": library,
            "sagbench": record.sagbench, "again": again, "undone": undone, "record": zlib.compress(to_json(record).encode()), **asdict(facts),
        }  # fmt: skip
        values = [(name, pin, at, value.value, value.u, value.unit) for (name, pin, at), value in figures(record)]
        row |= {"seal": schema.seal(*(row[name] for name in schema.ENTRY)), "figures_seal": schema.seal_of_rows(values)}
        self._database.execute(f"INSERT INTO entries ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", list(row.values()))
        self._database.executemany("INSERT INTO figures VALUES (?, ?, ?, ?, ?, ?, ?)", [(number, *value) for value in values])

    def describe(self, number: int, **facts: str) -> None:
        """Say more of a chip, or say it anew.  Raises LogError if there is no such entry."""
        if unknown := set(facts) - set(schema.FACTS):
            raise TypeError(f"no facts {unknown}")
        self._change(number, facts)

    def take_back(self, number: int) -> list[int]:
        """Mark an entry as taken back: it no longer counts, and stays. In the same moment what it was a second measurement of counts again.

        Returns the others that this has changed.
        """
        with self._writing():
            entry = self.entry(number)
            self._set(number, {"undone": now()})
            if entry.undone or entry.again is None or self._counting(number):
                return []
            self._set(entry.again, {"undone": None})
            return [entry.again]

    def bring_back(self, number: int) -> list[int]:
        """It counts again, and no other measurement of the same insertion does; those that this has taken back."""
        with self._writing():
            self._set(number, {"undone": None})
            others = self._counting(number)
            for other in others:
                self._set(other, {"undone": now()})
            return others

    def _counting(self, number: int) -> list[int]:
        """Within a change: entries that count and are first or further measurements of what this one measured."""
        same, new = {number}, [number]
        while new:
            found = self._database.execute("SELECT id, again FROM entries WHERE id = ?1 OR again = ?1", (new.pop(),)).fetchall()
            new += (found_ids := {one for row in found for one in row if one is not None} - same)
            same |= found_ids
        return [one for one in sorted(same - {number}) if self.entry(one).undone is None]

    def _change(self, number: int, columns: Mapping[str, str | None]) -> None:
        with self._writing():
            self._set(number, columns)

    def _set(self, number: int, columns: Mapping[str, str | int | None]) -> None:
        """Within a change: columns of an entry, and its seal anew."""
        entry = self.entry(number)
        row = {**asdict(entry), **asdict(entry.facts), **columns}
        told = {**columns, "seal": schema.seal(*(row[name] for name in schema.ENTRY))}
        self._database.execute(f"UPDATE entries SET {', '.join(f'{name} = ?' for name in told)} WHERE id = ?", [*told.values(), number])

    # -------------------------------------------------------------- reading
    def entries(self, query: Query = Query()) -> list[Entry]:
        """Those that the query asks for, oldest first."""
        asked = [(name, value) for name, value in asdict(query).items() if value not in ("", None) and name != "undone"]
        conditions = [f"{name} = ? COLLATE NOCASE" for name, _ in asked] + ([] if query.undone else ["undone IS NULL"])
        where = f"WHERE {' AND '.join(conditions)}" if conditions else ""
        with told(self.path):
            rows = self._database.execute(f"{SELECT} {where} ORDER BY id", [v for _, v in asked]).fetchall()  # a cursor half read would hold its lock
        return [self._entry(row) for row in rows]

    def entry(self, number: int) -> Entry:
        """The entry with this number.  Raises LogError if there is none."""
        with told(self.path):
            row = self._database.execute(f"{SELECT} WHERE id = ?", (number,)).fetchone()
            last = self._database.execute("SELECT max(id) FROM entries").fetchone()[0]
        if row is None:
            raise LogError(f"The log has no entry {number}; its numbers go from 1 to {last}." if last else "The log is empty.")
        return self._entry(row)

    def _entry(self, row: tuple[Any, ...]) -> Entry:
        """Raises LogDamaged if what stands there is not what was written."""
        *values, seal = row
        if schema.seal(*values) != seal:
            raise damaged(self.path, f"entry {values[0]} is not what was written")
        columns = dict(zip(schema.ENTRY, values, strict=True))
        return Entry(**{name: columns[name] for name in columns if name not in schema.FACTS}, facts=Facts(**{name: columns[name] for name in schema.FACTS}))

    def record(self, number: int) -> SweepRecord:
        """The whole record of an entry."""
        return from_json(self._text(number), f"entry {number} of {self.path}")

    def _text(self, number: int) -> str:
        """The record of an entry as JSON."""
        self.entry(number)
        with told(self.path):
            text = self._database.execute("SELECT record FROM entries WHERE id = ?", (number,)).fetchone()[0]
        try:
            return zlib.decompress(text).decode()
        except (zlib.error, UnicodeDecodeError) as wrong:
            raise damaged(self.path, f"entry {number}: {wrong}") from None

    def likeliest(self, number: int) -> Likeliest | None:
        """What is likely wrong with the chip of an entry; None if nothing is.  The whole record is not built for it."""
        said = json.loads(self._text(number))
        if said["diagnoses"]:
            first = said["diagnoses"][0]
            return Likeliest(first["kind"], first["pin"], first["sentence"])
        if said["reasons"]:
            first = said["reasons"][0]
            return Likeliest(f"{first['quantity']}: {first['outcome']}", first["pin"], brief(first["sentence"]))
        return Likeliest(said["partial"], None, said["advice"]) if said["partial"] else None

    def values(self, number: int) -> dict[tuple[str, int, str], tuple[float, float, str]]:
        """Figures of an entry: (quantity, pin, at) -> (value, U, unit)."""
        with told(self.path):
            rows = self._database.execute(f"SELECT {', '.join(schema.FIGURE)} FROM figures WHERE entry = ?", (number,)).fetchall()
            seal = self._database.execute("SELECT figures_seal FROM entries WHERE id = ?", (number,)).fetchone()
        if rows and not seal or seal and schema.seal_of_rows(rows) != seal[0]:
            raise damaged(self.path, f"the figures of entry {number} are not what was written")
        return {(name, pin, at): (value, u, unit) for name, pin, at, value, u, unit in rows}

    def check(self) -> int:
        """Read all there is; how many entries.  Raises LogDamaged."""
        self.lots()
        found = self.entries(Query(undone=True))
        for entry in found:
            record = self.record(entry.id)
            if {key: (value.value, value.u, value.unit) for key, value in figures(record)} != self.values(entry.id):
                raise damaged(self.path, f"the figures of entry {entry.id} are not those of its record")
        return len(found)

    # -------------------------------------------------------------- boxes
    def begin_lot(self, name: str, part: str = "") -> int:
        """A new box of chips; its number."""
        with self._writing() as database:
            number = database.execute("SELECT coalesce(max(id), 0) + 1 FROM lots").fetchone()[0]
            assert isinstance(number, int)
            self._insert_lot(Lot(number, now(), None, name, part))
        return number

    def restore(self, entries: Iterable[Restored], lots: Iterable[Lot]) -> int:
        """Entries, then lots, as they were in another log, all of them or none; how many entries."""
        again: dict[int, int] = {}
        there = set()
        with self._writing() as database:
            database.execute("PRAGMA defer_foreign_keys = ON")  # lots come after their entries
            for entry in entries:
                self._insert(entry.number, entry.record, entry.facts, entry.lot, entry.library, None, entry.undone)
                there.add(entry.number)
                if entry.again is not None:
                    again[entry.number] = entry.again
            for number, other in again.items():
                if other in there:
                    self._set(number, {"again": other})
            for lot in lots:
                self._insert_lot(lot)
        return len(there)

    def _insert_lot(self, lot: Lot) -> None:
        values = astuple(lot)
        self._database.execute(f"INSERT INTO lots ({', '.join(schema.LOT)}, seal) VALUES (?, ?, ?, ?, ?, ?)", (*values, schema.seal(*values)))

    def end_lot(self, number: int) -> None:
        """The box is done.  Raises LogError if there is none."""
        with self._writing() as database:
            lot = replace(self.lot(number), ended=now())
            database.execute("UPDATE lots SET ended = ?, seal = ? WHERE id = ?", (lot.ended, schema.seal(*astuple(lot)), number))

    def lots(self) -> list[Lot]:
        """All boxes, oldest first."""
        with told(self.path):
            rows = self._database.execute(f"SELECT {', '.join(schema.LOT)}, seal FROM lots ORDER BY id").fetchall()
        for *values, seal in rows:
            if schema.seal(*values) != seal:
                raise damaged(self.path, f"lot {values[0]} is not what was written")
        return [Lot(*values) for *values, _ in rows]

    def lot(self, number: int) -> Lot:
        """The box with this number.  Raises LogError if there is none."""
        for lot in self.lots():
            if lot.id == number:
                return lot
        raise LogError(f"The log has no lot {number}; `sagbench log lots` lists them.")


__all__ = ["Entry", "Facts", "Log", "LogDamaged", "LogError", "Lot", "Query", "now", "open_log", "path"]
