"""The log: every chip measured, in one SQLite file in the user's data folder.

    with open_log() as log:
        number = log.add(record, Facts(board="CPU", position="U14"))

An entry is on the disk when `add` returns (SQLite's journal, `synchronous` full): what is shown afterwards survives a
crash.  Nothing is ever deleted; what is taken back stays, marked.  Two programs may use one log: each waits for the other.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sqlite3
import zlib
from collections.abc import Iterator, Mapping
from contextlib import closing, contextmanager
from dataclasses import asdict, fields
from datetime import UTC, datetime
from pathlib import Path

from sagbench.calibrate.place import folder
from sagbench.judge.character import figures
from sagbench.log import schema
from sagbench.log.entry import Entry, Facts, Lot, Query
from sagbench.log.trouble import LogDamaged, LogError, copy_of, damaged, told
from sagbench.record import SweepRecord
from sagbench.report.codec import from_json, to_json

NAME = "log.sqlite3"
PATIENCE_S = 5.0  # for another program to end its writing
FACTS = [field.name for field in fields(Facts)]
COLUMNS = ["id", "made", "lot", "part", "marking", "verdict", "reason", "fixture", "calibration", "library", "sagbench", "again", "undone"]


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
    wrong = database.execute("PRAGMA quick_check(1)").fetchone()[0]
    if wrong != "ok":
        raise damaged(where, str(wrong).splitlines()[-1])
    if found == schema.VERSION:
        return
    if not write:
        raise LogError(f"The log {where} is of version {found} and cannot be brought up to date here, for it may only be read; open it once where it may be written.")
    if found:
        copy_of(where, f"version-{found}")
    schema.migrate(database)


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
        """Keep one measurement; its number.  `again`: the entry it is a second measurement for."""
        reason = next((f.sentence for f in record.reasons), record.partial)
        row = {
            "made": record.started, "lot": lot, "part": record.part, "marking": record.marking, "verdict": record.verdict.value,
            "reason": reason, "fixture": record.fixture.serial, "calibration": record.fixture.calibration, "library": library,
            "sagbench": record.sagbench, "again": again, "record": zlib.compress(to_json(record).encode()), **asdict(facts),
        }  # fmt: skip
        with self._writing() as database:
            made = database.execute(f"INSERT INTO entries ({', '.join(row)}) VALUES ({', '.join('?' * len(row))})", list(row.values()))
            number = made.lastrowid
            assert number is not None
            database.executemany(
                "INSERT INTO figures VALUES (?, ?, ?, ?, ?, ?, ?)",
                [(number, name, pin, at, value.value, value.u, value.unit) for (name, pin, at), value in figures(record)],
            )
        return number

    def describe(self, number: int, **facts: str) -> None:
        """Say more of a chip, or say it anew.  Raises LogError if there is no such entry."""
        if unknown := set(facts) - set(FACTS):
            raise TypeError(f"no facts {unknown}")
        self._change(number, facts)

    def take_back(self, number: int) -> None:
        """Mark an entry as taken back; it no longer counts, and stays."""
        self._change(number, {"undone": now()})

    def bring_back(self, number: int) -> None:
        """It counts again."""
        self._change(number, {"undone": None})

    def _change(self, number: int, columns: Mapping[str, str | None]) -> None:
        self.entry(number)
        with self._writing() as database:
            for name, value in columns.items():
                database.execute(f"UPDATE entries SET {name} = ? WHERE id = ?", (value, number))

    # -------------------------------------------------------------- reading
    def entries(self, query: Query = Query()) -> list[Entry]:
        """Those that the query asks for, oldest first."""
        asked = [(name, value) for name, value in asdict(query).items() if value not in ("", None) and name != "undone"]
        conditions = [f"{name} = ? COLLATE NOCASE" for name, _ in asked] + ([] if query.undone else ["undone IS NULL"])
        where = f"WHERE {' AND '.join(conditions)}" if conditions else ""
        with told(self.path):
            rows = self._database.execute(f"SELECT {', '.join(COLUMNS + FACTS)} FROM entries {where} ORDER BY id", [v for _, v in asked])
            return [_entry(row) for row in rows]

    def entry(self, number: int) -> Entry:
        """The entry with this number.  Raises LogError if there is none."""
        with told(self.path):
            row = self._database.execute(f"SELECT {', '.join(COLUMNS + FACTS)} FROM entries WHERE id = ?", (number,)).fetchone()
            last = self._database.execute("SELECT max(id) FROM entries").fetchone()[0]
        if row is None:
            raise LogError(f"The log has no entry {number}; its numbers go from 1 to {last}." if last else "The log is empty.")
        return _entry(row)

    def record(self, number: int) -> SweepRecord:
        """The whole record of an entry."""
        self.entry(number)
        with told(self.path):
            text = self._database.execute("SELECT record FROM entries WHERE id = ?", (number,)).fetchone()[0]
        try:
            return from_json(zlib.decompress(text).decode(), f"entry {number} of {self.path}")
        except (zlib.error, UnicodeDecodeError) as wrong:
            raise damaged(self.path, f"entry {number}: {wrong}") from None

    def values(self, number: int) -> dict[tuple[str, int, str], tuple[float, float, str]]:
        """Figures of an entry: (quantity, pin, at) -> (value, U, unit)."""
        with told(self.path):
            rows = self._database.execute("SELECT quantity, pin, at, value, u, unit FROM figures WHERE entry = ?", (number,))
            return {(name, pin, at): (value, u, unit) for name, pin, at, value, u, unit in rows}

    # -------------------------------------------------------------- boxes
    def begin_lot(self, name: str, part: str = "") -> int:
        """A new box of chips; its number."""
        with self._writing() as database:
            made = database.execute("INSERT INTO lots (begun, name, part) VALUES (?, ?, ?)", (now(), name, part))
        assert made.lastrowid is not None
        return made.lastrowid

    def end_lot(self, number: int) -> None:
        """The box is done."""
        with self._writing() as database:
            database.execute("UPDATE lots SET ended = ? WHERE id = ?", (now(), number))

    def lots(self) -> list[Lot]:
        """All boxes, oldest first."""
        with told(self.path):
            return [Lot(*row) for row in self._database.execute("SELECT id, begun, ended, name, part FROM lots ORDER BY id")]

    def lot(self, number: int) -> Lot:
        """The box with this number.  Raises LogError if there is none."""
        for lot in self.lots():
            if lot.id == number:
                return lot
        raise LogError(f"The log has no lot {number}; `sagbench log lots` lists them.")


def _entry(row: tuple[object, ...]) -> Entry:
    columns = dict(zip(COLUMNS + FACTS, row, strict=True))
    facts = Facts(**{name: str(columns.pop(name)) for name in FACTS})
    return Entry(**columns, facts=facts)  # type: ignore[arg-type]


__all__ = ["Entry", "Facts", "Log", "LogDamaged", "LogError", "Lot", "Query", "now", "open_log", "path"]
