"""The log's tables, and how an older log is brought up to date.

    version 1   lots, entries (a chip measured once each, its record whole), figures (its values, for history)
    version 2   a seal on each lot, each entry and each entry's figures, so that a byte that has changed on the disk is seen

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from hashlib import blake2s

APPLICATION_ID = 0x5341474C  # "SAGL": tells our log from any other SQLite file (PRAGMA application_id)

# What is sealed, in this order.  An entry's record has the checksum of its own compression.
LOT = ("id", "begun", "ended", "name", "part")
FACTS = ("maker", "date_code", "board", "position", "chip", "photo", "note")
ENTRY = ("id", "made", "lot", "part", "marking", "verdict", "reason", "fixture", "calibration", "library", "sagbench", "again", "undone", *FACTS)
FIGURE = ("quantity", "pin", "at", "value", "u", "unit")

# Each brings a log from the version before it to its own; what is here once is never changed.
MIGRATIONS = (
    """
    CREATE TABLE lots (
        id INTEGER PRIMARY KEY,
        begun TEXT NOT NULL,                  -- ISO 8601, UTC
        ended TEXT,                           -- NULL: it can be gone on with
        name TEXT NOT NULL,
        part TEXT NOT NULL                    -- "": a mixed box
    );
    CREATE TABLE entries (
        id INTEGER PRIMARY KEY,
        made TEXT NOT NULL,                   -- ISO 8601, UTC: when the measurement began
        lot INTEGER REFERENCES lots(id),
        part TEXT NOT NULL,
        marking TEXT NOT NULL,                -- as typed
        verdict TEXT NOT NULL,
        reason TEXT NOT NULL,                 -- the weightiest, "" if there is none
        maker TEXT NOT NULL, date_code TEXT NOT NULL, board TEXT NOT NULL, position TEXT NOT NULL,
        chip TEXT NOT NULL,                   -- the user's name for this very chip, so that it is known again
        photo TEXT NOT NULL, note TEXT NOT NULL,
        fixture INTEGER NOT NULL,             -- serial number
        calibration TEXT NOT NULL, library TEXT NOT NULL, sagbench TEXT NOT NULL,
        again INTEGER REFERENCES entries(id), -- the entry that this one is a second measurement for
        undone TEXT,                          -- when it was taken back; it is never deleted
        record BLOB NOT NULL                  -- the whole record as JSON, zlib
    );
    CREATE INDEX entries_part ON entries(part);
    CREATE INDEX entries_lot ON entries(lot);
    CREATE TABLE figures (
        entry INTEGER NOT NULL REFERENCES entries(id),
        quantity TEXT NOT NULL, pin INTEGER NOT NULL, at TEXT NOT NULL,
        value REAL NOT NULL, u REAL NOT NULL, unit TEXT NOT NULL
    );
    CREATE INDEX figures_entry ON figures(entry);
    """,
    f"""
    ALTER TABLE lots ADD COLUMN seal TEXT NOT NULL DEFAULT '';
    ALTER TABLE entries ADD COLUMN seal TEXT NOT NULL DEFAULT '';
    ALTER TABLE entries ADD COLUMN figures_seal TEXT NOT NULL DEFAULT '';
    UPDATE lots SET seal = seal({', '.join(LOT)});
    UPDATE entries SET seal = seal({', '.join(ENTRY)}),
        figures_seal = (SELECT seal_of_rows({', '.join(FIGURE)}) FROM figures WHERE entry = entries.id);
    """,
)
VERSION = len(MIGRATIONS)


def version(database: sqlite3.Connection) -> int:
    """Version of an open log; 0 if it is empty."""
    return int(database.execute("PRAGMA user_version").fetchone()[0])


def application(database: sqlite3.Connection) -> int:
    """Whose SQLite file it is."""
    return int(database.execute("PRAGMA application_id").fetchone()[0])


def text(raw: bytes) -> str:
    """Text from the file; where it is none any more, signs that say so."""
    return raw.decode(errors="replace")


def seal(*values: object) -> str:
    """Checksum of some columns, each told apart from its neighbours."""
    return blake2s("\x1f".join(map(repr, values)).encode(), digest_size=8).hexdigest()


def seal_of_rows(rows: Iterable[tuple[object, ...]]) -> str:
    """Checksum of several rows in any order."""
    return seal(*sorted(rows, key=repr))


class _Rows:
    """The same as an aggregate of SQL."""

    def __init__(self) -> None:
        self._rows: list[tuple[object, ...]] = []

    def step(self, *values: object) -> None:
        self._rows.append(values)

    def finalize(self) -> str:
        return seal_of_rows(self._rows)


def migrate(database: sqlite3.Connection, steps: tuple[str, ...] = MIGRATIONS) -> None:
    """Bring an open log to the last of `steps`; each step happens whole or not at all."""
    database.create_function("seal", -1, seal, deterministic=True)
    database.create_aggregate("seal_of_rows", len(FIGURE), _Rows)  # type: ignore[arg-type]  # typeshed knows one argument only
    for number in range(version(database), len(steps)):
        database.executescript(
            f"BEGIN IMMEDIATE; {steps[number]} PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {number + 1}; COMMIT;"
        )
