"""Work that is kept line by line, so that a run that was stopped goes on where it was, with the same sources.

The first line names the sources; lines of others are put aside, for their figures say nothing of these.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterable
from functools import reduce
from multiprocessing import Pool
from pathlib import Path
from typing import Any
from zlib import crc32

ROOT = Path(__file__).resolve().parents[2]
SOURCES = ("host/sagbench/**/*", "firmware/core/*", "firmware/port_pc/*", "hardware/*.toml", "tests/virtual_fixture/**/*", "tests/study/*.py")
SUFFIXES = {".py", ".c", ".h", ".toml", ".json"}


def read(path: Path) -> dict[int, dict[str, Any]]:
    """Results kept so far, by index; a last line that was cut short is left out, and done again."""
    done: dict[int, dict[str, Any]] = {}
    if path.exists():
        for line in path.read_text().splitlines():
            try:
                one = json.loads(line)
            except json.JSONDecodeError:
                continue
            if "index" in one:
                done[one["index"]] = one
    return done


def sources(patterns: Iterable[str] = SOURCES) -> str:
    """A checksum of all that a study's results hang on: host, firmware, wiring, virtual fixture and chips, or files of these patterns."""
    files = (f for pattern in patterns for f in sorted(ROOT.glob(pattern)) if f.is_file() and f.suffix in SUFFIXES)
    return f"{reduce(lambda crc, file: crc32(file.read_bytes(), crc), files, 0):08x}"


def _begin(out: Path, patterns: Iterable[str]) -> None:
    """The file with its first line; one of other sources becomes NAME.old."""
    first = json.dumps({"sources": sources(patterns)})
    if out.exists() and out.read_text().split("\n", 1)[0] != first:
        old = out.with_name(out.name + ".old")
        out.replace(old)
        print(f"what is kept in {out} is of other sources: put aside as {old.name}, begun anew", file=sys.stderr)
    if not out.exists():
        out.write_text(first + "\n")


def work(out: Path, do: Callable[[Any], dict[str, Any]], jobs: Iterable[tuple[Any, ...]], count: int, workers: int,
         what: str, patterns: Iterable[str] = SOURCES) -> list[dict[str, Any]]:
    """Do all `count` jobs (their first item is the index) that `out` does not have; results in order of index.

    patterns: of files (from the checkout) that the results hang on.
    """
    out.parent.mkdir(parents=True, exist_ok=True)
    _begin(out, patterns)
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
