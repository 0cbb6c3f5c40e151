"""Work that is kept line by line, so that a run that was stopped goes on where it was.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from multiprocessing import Pool
from pathlib import Path
from typing import Any


def read(path: Path) -> dict[int, dict[str, Any]]:
    """Results kept so far, by index; a last line that was cut short is left out, and done again."""
    done: dict[int, dict[str, Any]] = {}
    if path.exists():
        for line in path.read_text().splitlines():
            try:
                one = json.loads(line)
            except json.JSONDecodeError:
                continue
            done[one["index"]] = one
    return done


def work(out: Path, do: Callable[[Any], dict[str, Any]], jobs: Iterable[tuple[Any, ...]], count: int, workers: int,
         what: str) -> list[dict[str, Any]]:
    """Do all `count` jobs (their first item is the index) that `out` does not have; results in order of index."""
    out.parent.mkdir(parents=True, exist_ok=True)
    done = read(out)
    kept = sum(k < count for k in done)
    if kept < count:
        with out.open("a") as file, Pool(workers, maxtasksperchild=50) as pool:
            if kept:
                file.write("\n")                 # the last line may have been cut short
            todo = (job for job in jobs if job[0] not in done)
            for number, one in enumerate(pool.imap_unordered(do, todo), kept + 1):
                done[one["index"]] = one
                file.write(json.dumps(one) + "\n")
                file.flush()
                print(f"\r{number} of {count} {what}", end="", file=sys.stderr, flush=True)
        print(file=sys.stderr)
    return [done[k] for k in range(count)]
