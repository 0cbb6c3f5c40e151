"""The log's tables, and how an older log is brought up to date.

    version 1   lots, entries (a chip measured once each, its record whole), figures (its values, for history)

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sqlite3

APPLICATION_ID = 0x5341474C  # "SAGL": tells our log from any other SQLite file (PRAGMA application_id)

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
)
VERSION = len(MIGRATIONS)


def version(database: sqlite3.Connection) -> int:
    """Version of an open log; 0 if it is empty."""
    return int(database.execute("PRAGMA user_version").fetchone()[0])


def application(database: sqlite3.Connection) -> int:
    """Whose SQLite file it is."""
    return int(database.execute("PRAGMA application_id").fetchone()[0])


def migrate(database: sqlite3.Connection, steps: tuple[str, ...] = MIGRATIONS) -> None:
    """Bring an open log to the last of `steps`; each step happens whole or not at all."""
    for number in range(version(database), len(steps)):
        database.executescript(
            f"BEGIN IMMEDIATE; {steps[number]} PRAGMA application_id = {APPLICATION_ID}; PRAGMA user_version = {number + 1}; COMMIT;"
        )
