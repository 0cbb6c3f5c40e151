"""A new log from what can still be read of a damaged one.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import os
import sqlite3
import zlib
from contextlib import closing
from pathlib import Path

from sagbench.log import schema
from sagbench.log.trouble import LogError, copy_of, told
from sagbench.report.codec import RecordFileError, from_json

TABLES = ("lots", "entries", "figures")
GAP = 1000  # numbers tried beyond the last that was read: a damaged index cannot say which the last is


def rescue(where: Path) -> tuple[int, int, Path]:
    """Put a new log in the place of a damaged one.

    Returns how many entries were read, how many were not, and where the old file is kept.
    Raises LogError if there is none or nothing can be written.
    """
    if not where.exists():
        raise LogError(f"There is no log {where}.")
    kept = copy_of(where, "damaged")
    if kept is None:
        raise LogError(f"No copy of {where} can be made (no space or no permission), and nothing is done without one.")
    fresh = where.with_name(f".{where.name}.rescue")
    fresh.unlink(missing_ok=True)
    with told(where), closing(sqlite3.connect(fresh, isolation_level=None)) as new:
        schema.migrate(new)
        with closing(sqlite3.connect(f"{kept.absolute().as_uri()}?mode=ro&immutable=1", uri=True)) as old:
            counts = {table: _copy(old, new, table) for table in TABLES}
        good, lost = counts["entries"]
        lost += _without_record(new)
        new.execute("DELETE FROM figures WHERE entry NOT IN (SELECT id FROM entries)")
    os.replace(fresh, where)
    return good, lost, kept


def _copy(old: sqlite3.Connection, new: sqlite3.Connection, table: str) -> tuple[int, int]:
    """Row by row, each by its number, so that one that cannot be read stops nothing: read, not read."""
    good = bad = 0
    last = _highest(old, table)
    new.execute("BEGIN")
    for number in range(1, last + 1):
        try:
            row = old.execute(f"SELECT rowid, * FROM {table} WHERE rowid = ?", (number,)).fetchone()
        except sqlite3.DatabaseError:
            bad += 1
            continue
        if row is None:
            continue
        try:
            new.execute(f"INSERT INTO {table} VALUES ({', '.join('?' * (len(row) - 1))})", row[1:])
            good += 1
        except sqlite3.DatabaseError:
            bad += 1
    new.execute("COMMIT")
    return good, bad


def _highest(old: sqlite3.Connection, table: str) -> int:
    """The highest row number that can be found; walks on where the tree's end cannot be read."""
    try:
        return int(old.execute(f"SELECT coalesce(max(rowid), 0) FROM {table}").fetchone()[0])
    except sqlite3.DatabaseError:
        pass
    number = last = 0
    while number - last < GAP:
        number += 1
        try:
            if old.execute(f"SELECT rowid FROM {table} WHERE rowid = ?", (number,)).fetchone():
                last = number
        except sqlite3.DatabaseError:
            if last == 0 and number > GAP:
                break
    return last


def _without_record(new: sqlite3.Connection) -> int:
    """Take out entries whose record cannot be read; how many."""
    bad = []
    for number, text in new.execute("SELECT id, record FROM entries"):
        try:
            from_json(zlib.decompress(text).decode())
        except (zlib.error, UnicodeDecodeError, TypeError, RecordFileError):
            bad.append((number,))
    new.executemany("DELETE FROM figures WHERE entry = ?", bad)
    new.executemany("UPDATE entries SET again = NULL WHERE again = ?", bad)
    new.executemany("DELETE FROM entries WHERE id = ?", bad)
    return len(bad)
