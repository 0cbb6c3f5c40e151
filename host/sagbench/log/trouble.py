"""What can be wrong with a log, each with its sentence: what, where, what to do.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import contextlib
import filecmp
import os
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

from sagbench.errors import UsageError


class LogError(UsageError):
    """The log cannot be used; str() says why and what to do."""


class LogDamaged(LogError):
    """What is in the file is no log any more.  A copy has been kept; `sagbench log rescue` reads what can be read."""


@contextlib.contextmanager
def told(path: Path) -> Iterator[None]:
    """Turn SQLite's errors about the log at `path` into sentences.  Raises LogError, LogDamaged."""
    try:
        yield
    except sqlite3.DatabaseError as wrong:
        raise sentence(path, wrong) from None
    except UnicodeDecodeError:  # SQLite's own sentence quotes the file, and what it quotes is no text any more
        raise damaged(path, "its tables are not what they were") from None


def sentence(path: Path, wrong: sqlite3.DatabaseError) -> LogError:
    """The error to raise for one of SQLite's; if the file is damaged, a copy is kept first."""
    code = getattr(wrong, "sqlite_errorcode", 0) & 0xFF  # primary result code
    if code == sqlite3.SQLITE_FULL:
        return LogError(f"The log {path} cannot take more: no space left on the device; free some and measure this chip again.")
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return LogError(f"The log {path} is held by another program; end that one and try again.")
    if getattr(wrong, "sqlite_errorcode", 0) == sqlite3.SQLITE_READONLY_DBMOVED:
        return LogError(f"The log {path} was moved, or another was put in its place (`sagbench log rescue`), while it was in use: measure this chip again.")
    if code == sqlite3.SQLITE_IOERR:
        return LogError(f"The log {path} cannot be read or written: the disk fails or is full; free some, or copy the log's folder to another disk and set "
                        "SAGBENCH_DATA to that. Then measure this chip again.")  # fmt: skip
    if code == sqlite3.SQLITE_READONLY or code == sqlite3.SQLITE_CANTOPEN or code == sqlite3.SQLITE_PERM:
        return LogError(f"The log {path} cannot be written: no permission; set SAGBENCH_DATA to a folder of your own.")
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(path, str(wrong))
    return LogError(f"The log {path} cannot be used: {wrong}.")


def damaged(path: Path, why: str) -> LogDamaged:
    """Keep a copy of a damaged log beside it, once for each state of it, and the error that names it."""
    kept = copy_of(path, "damaged")
    where = f"a copy is kept as {kept.name}" if kept else "no copy could be made, so copy it by hand first"
    return LogDamaged(f"The log {path} is damaged ({why}); {where}. `sagbench log rescue` makes a new log of what can still be read.")


def copy_of(path: Path, what: str) -> Path | None:
    """A whole copy beside the file, named by the file's own last change; None if there is no room or no permission."""
    try:
        changed = datetime.fromtimestamp(path.stat().st_mtime, UTC)
        name = f"{path.stem}-{what}-{changed:%Y%m%dT%H%M%SZ}"
        kept = next(k for n in count(1) if not (k := path.with_name(f"{name}{f'-{n}' if n > 1 else ''}{path.suffix}")).exists() or filecmp.cmp(path, k, shallow=False))
        if not kept.exists():
            unfinished = kept.with_name(f".{kept.name}.part")  # a copy that was cut off must not be taken for one
            shutil.copy2(path, unfinished)
            with unfinished.open("rb") as file:
                os.fsync(file.fileno())
            os.replace(unfinished, kept)
    except OSError:
        return None
    return kept
