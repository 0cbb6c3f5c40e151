"""`make faults`: faults injected by the thousand.  Stopped and started again each run goes on where it was.

    python -m faults link [--count 500] [--workers 1]    stretches of 2,000 frames over a faulty line
    python -m faults killed [--count 1000]               the host killed at a random moment
    python -m faults stopped [--count 1000]              controller reset, frozen, stuck, line silent
    python -m faults matrix [--count N]                  every fault of a virtual chip on every pin

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from study.lines import work

from faults import killed, link, matrix, stopped

OUT = Path("build/faults")



def _link(job: tuple[int]) -> dict[str, Any]:
    return link.stretch(job[0])


def _matrix(job: tuple[int]) -> dict[str, Any]:
    return matrix.outcome(job[0])


def _killed(job: tuple[int]) -> dict[str, Any]:
    return killed.outcome(job[0])


def _stopped(job: tuple[int]) -> dict[str, Any]:
    return stopped.outcome(job[0])


@dataclass(frozen=True)
class Run:
    """One kind of run: what does one of it, how many there are, what they are, and what is wrong with one that is done ("": nothing)."""

    do: Callable[[tuple[int]], dict[str, Any]]
    all: Callable[[], int]
    what: str
    wrong: Callable[[dict[str, Any]], str]


RUNS = {
    "link": Run(_link, lambda: 500, "stretches", lambda one: f"{one['told']['wrong']} wrong results" if "wrong" in one["told"] else ""),
    "killed": Run(_killed, lambda: 1000, "kills", killed.wrong),
    "stopped": Run(_stopped, lambda: 1000, "cases", stopped.wrong),
    "matrix": Run(_matrix, lambda: len(matrix.cases()), "faults",
                  lambda one: f"{one['chip']}: {one['end']} {one['said']}" if one["end"] in matrix.BAD else ""),
}


def run(name: str, count: int | None = None, workers: int = 1) -> list[dict[str, Any]]:
    """Results of the first `count` of a run, kept in build/faults."""
    kind = RUNS[name]
    count = min(count or kind.all(), kind.all())
    return work(OUT / f"{name}.jsonl", kind.do, ((k,) for k in range(count)), count, workers, kind.what)


def main() -> int:
    """0 if nothing was wrong."""
    parser = argparse.ArgumentParser(prog="faults", description=__doc__.splitlines()[0])
    parser.add_argument("run", choices=RUNS)
    parser.add_argument("--count", type=int, help="only so many (default: all)")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    done = run(asked.run, asked.count, asked.workers)
    wrong = [(one["index"], said) for one in done if (said := RUNS[asked.run].wrong(one))]
    for index, said in wrong:
        print(f"faults: {asked.run} {index}: {said}", file=sys.stderr)
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
