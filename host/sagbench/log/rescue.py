"""A new log from what can still be read of a damaged one.

Rows are read one by one, each by its number, so that one that cannot be read stops nothing.  What a record says of a chip is
taken from the record; what only the user knows, from the row.  Where the first page is gone, which says where the tables are,
that of a new log stands in: a log's tables are made in one order and so lie on the same pages in all of them.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from pathlib import Path

from sagbench.log import schema
from sagbench.log.database import PATIENCE_S, Log, Restored
from sagbench.log.entry import Facts, Lot
from sagbench.log.trouble import LogError, copy_of, told
from sagbench.report.codec import RecordFileError, from_json

# Where the file is damaged SQLite raises the first; the second, where its own sentence quotes bytes that are no text any more.
UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)
GAP = 1000  # numbers tried beyond the last that was read: a damaged index cannot say which the last is
MENDED = "[the log was damaged here: see whether what is said of this chip is right]"
NAMELESS = "a box whose name is lost"
PAGE = 4096  # bytes; SQLite's page size since 3.12, which all logs have


def rescue(where: Path) -> tuple[int, int, Path]:
    """Put a new log in the place of a damaged one.

    Returns how many entries were read, how many were not, and where the old file is kept.
    Raises LogError if there is none, another program uses it, or nothing can be written.
    """
    if not where.exists():
        raise LogError(f"There is no log {where}.")
    fresh = where.with_name(f".{where.name}.rescue")
    with _alone(where):
        kept = copy_of(where, "damaged")
        if kept is None:
            raise LogError(f"No copy of {where} can be made (no space or no permission), and nothing is done without one.")
        for left in fresh.parent.glob(f"{fresh.name}*"):  # of a rescue that was cut off, its journal too
            left.unlink()
        with told(where), closing(sqlite3.connect(fresh, isolation_level=None)) as new:
            schema.migrate(new)
            good, lost = _fill(Log(new, fresh), kept)
        if not good:
            with suppress(OSError):
                fresh.unlink()
                whole_first_page(kept, fresh)
                if read := _second_try(fresh, where):
                    good, lost = read
        os.replace(fresh, where)
    return good, lost, kept


@contextmanager
def _alone(where: Path) -> Iterator[None]:
    """Nobody else writes meanwhile, and what a program that was killed had left half written is undone (SQLite's journal).

    Raises LogError if somebody writes; a file too damaged to be locked has no writers.
    """
    with closing(sqlite3.connect(where, PATIENCE_S, isolation_level=None)) as lock:
        try:
            lock.execute("BEGIN EXCLUSIVE")
        except sqlite3.OperationalError as wrong:
            if wrong.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY:
                raise LogError(f"The log {where} is held by another program; end that one and try again.") from None
        except UNREADABLE:
            pass
        yield


def _second_try(work: Path, where: Path) -> tuple[int, int] | None:
    """From `work`, a copy with a first page that can be read, into a new log in its place; None if there is nothing in it either."""
    source = work.with_suffix(".first-page")
    os.replace(work, source)
    with told(where), closing(sqlite3.connect(work, isolation_level=None)) as new:
        schema.migrate(new)
        found = _fill(Log(new, work), source)
    source.unlink()
    return found


def whole_first_page(damaged: Path, to: Path) -> None:
    """A copy whose first page is that of a new log.  Raises OSError."""
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as new:
        schema.migrate(new)
        first = bytearray(new.serialize()[:PAGE])
    pages = damaged.stat().st_size // PAGE
    first[28:32] = pages.to_bytes(4, "big")  # size in pages: https://www.sqlite.org/fileformat2.html, 1.3.7
    first[32:40] = bytes(8)  # no free pages: what lies on them is not asked for
    to.write_bytes(bytes(first) + damaged.read_bytes()[PAGE:])


def _fill(log: Log, source: Path) -> tuple[int, int]:
    """Everything that can be read, each lot and entry under its old number: entries read, not read."""
    with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as old:
        old.text_factory = schema.text
        bad: list[int] = []
        begun: dict[int, str] = {}  # lots that entries name, and when the first of each was measured

        def entries() -> Iterator[Restored]:
            for number in _numbers(old, "entries"):
                try:
                    entry = _read(old, number)
                except (*UNREADABLE, zlib.error, TypeError, ValueError, RecordFileError):
                    bad.append(number)
                    continue
                if entry is not None:
                    if entry.lot is not None:
                        begun.setdefault(entry.lot, entry.record.started)
                    yield entry

        def lots() -> Iterator[Lot]:
            for lot in _lots(old):
                begun.pop(lot.id, None)
                yield lot
            for number, first in begun.items():
                yield Lot(number, first, None, NAMELESS, "")

        return log.restore(entries(), lots()), len(bad)


def _numbers(old: sqlite3.Connection, table: str) -> Iterator[int]:
    """Row numbers worth trying; goes on where the tree's end cannot be read."""
    try:
        last = int(old.execute(f"SELECT coalesce(max(rowid), 0) FROM {table}").fetchone()[0])
    except UNREADABLE:
        last = -1
    number, seen = 0, 0
    while number < last or last < 0 and number - seen < GAP:
        number += 1
        with suppress(*UNREADABLE):
            if last < 0 and old.execute(f"SELECT rowid FROM {table} WHERE rowid = ?", (number,)).fetchone():
                seen = number
        yield number


def _row(old: sqlite3.Connection, table: str, number: int) -> dict[str, object] | None:
    """One row by its columns' names, of whatever version the log is.  Raises sqlite3.DatabaseError."""
    found = old.execute(f"SELECT * FROM {table} WHERE rowid = ?", (number,))
    row = found.fetchone()
    return None if row is None else dict(zip([column[0] for column in found.description], row, strict=True))


def _lots(old: sqlite3.Connection) -> Iterator[Lot]:
    for number in _numbers(old, "lots"):
        with suppress(*UNREADABLE, TypeError, ValueError):
            row = _row(old, "lots", number)
            if row is not None:
                ended = row["ended"]
                yield Lot(number, _text(row["begun"]), ended if isinstance(ended, str) else None, _text(row["name"]), _text(row["part"]))


def _read(old: sqlite3.Connection, number: int) -> Restored | None:
    """One entry.  Raises what its record's reader raises: an entry without its record is none."""
    row = _row(old, "entries", number)
    if row is None:
        return None
    blob = row["record"]
    record = from_json(zlib.decompress(blob if isinstance(blob, bytes) else b"").decode())
    facts = Facts(**{name: _text(row[name]) for name in schema.FACTS})
    if "seal" in row and row["seal"] != schema.seal(*(row[name] for name in schema.ENTRY)):
        facts = replace(facts, note=" ".join(x for x in (facts.note, MENDED) if x))
    lot, again, undone = row["lot"], row["again"], row["undone"]
    return Restored(number, record, facts, lot if isinstance(lot, int) else None, _text(row["library"]),
                    again if isinstance(again, int) else None, undone if isinstance(undone, str) else None)  # fmt: skip


def _text(value: object) -> str:
    return value if isinstance(value, str) else ""
