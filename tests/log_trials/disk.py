"""A disk that fills up, fails or stops syncing at each of the writing calls of one change: the change is made whole or refused in one
sentence, and all that was there before is there afterwards.

    python -m log_trials disk       makes failing_disk.so and runs this module under it

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import ctypes
import errno
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parent.parent
# What the sentence must say.  A full disk may be told of as late as at the sync, and SQLite then calls it a failing one.
SENTENCES = {errno.ENOSPC: "no space left|fails or is full", errno.EDQUOT: "no space left|fails or is full", errno.EIO: "fails or is full"}


def library(folder: Path) -> Path:
    """Compile the failing disk.  Raises CalledProcessError."""
    made = folder / "failing_disk.so"
    subprocess.run(["gcc", "-shared", "-fPIC", "-O1", "-o", str(made), str(HERE / "failing_disk.c"), "-ldl"], check=True)
    return made


def run() -> dict[str, int]:
    """All trials, in a process of their own: {"trials": n, "refused": n, "lost": n}.  Raises AssertionError with what went wrong."""
    with tempfile.TemporaryDirectory() as folder:
        env = {**os.environ, "LD_PRELOAD": str(library(Path(folder)))}
        done = subprocess.run([sys.executable, "-m", "log_trials.disk", folder], env=env, capture_output=True, text=True, timeout=600, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    found: dict[str, int] = json.loads(done.stdout)
    return found


def main(folder: Path) -> None:
    """Under the failing disk."""
    from host.report import examples

    from sagbench.log.database import Facts, LogError, Query, open_log
    disk = ctypes.CDLL(None)
    disk.disk_calls.restype = ctypes.c_long
    weak = examples.weak_gate()
    where = folder / "log.sqlite3"
    counts = {"trials": 0, "refused": 0, "lost": 0}

    def tried(change: Callable[[], object], error: int, after: int) -> bool:
        """True if the change went through with a disk that fails after so many calls."""
        disk.disk_fails(ctypes.c_long(after), error)
        try:
            change()
        except LogError as told:
            assert re.search(SENTENCES[error], str(told)), f"{os.strerror(error)} after {after} calls: {told}"
            counts["refused"] += 1
            return False
        finally:
            disk.disk_fails(ctypes.c_long(0), 0)
            counts["trials"] += 1
        return True

    for error in SENTENCES:
        after, through = 0, False
        while not through:                   # one call more each time, until the change goes through
            with open_log(where) as log:
                before = log.entries(Query(undone=True))
                through = tried(lambda: log.add(weak, Facts(note=str(after)), again=before[-1].id if before else None), error, after)
            with open_log(where) as log:
                there = log.entries(Query(undone=True))
                grown = len(there) - len(before)
                assert grown == through, f"{os.strerror(error)} after {after} calls: {grown} entries more"
                old = {e.id: e for e in there}
                counts["lost"] += sum(old.get(e.id) != e for e in before[:-1 if through else None])
                log.check() if through else None
            after += 1
        assert after > 5, "the change took no writing calls: nothing was tried"
    # A disk that may only be read: what is there can be read, a change is refused in one sentence.
    for error in (errno.EROFS, errno.EACCES):
        disk.disk_refuses(error)
        try:
            with open_log(where, write=False) as log:
                assert log.entries(Query(undone=True)) == there
            for change in (lambda log: log.add(weak), lambda log: log.take_back(1)):
                counts["trials"] += 1
                try:
                    with open_log(where) as log:
                        change(log)
                except LogError as told:
                    assert "cannot be written: no permission; set SAGBENCH_DATA" in str(told), str(told)
                    counts["refused"] += 1
        finally:
            disk.disk_refuses(0)
    print(json.dumps(counts))


if __name__ == "__main__":
    main(Path(sys.argv[1]))
