"""The long runs by name, and what is kept of them.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import subprocess
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from study.lines import read, work

from faults import killed, link, matrix, stopped

ROOT = Path(__file__).resolve().parents[2]
OUT = ROOT / "build/faults"


@dataclass(frozen=True)
class Run:
    """One kind of run: what does one of it, how many there are, what they are, and what is wrong with one that is done ("": nothing)."""

    do: Callable[[int], dict[str, Any]]
    all: Callable[[], int]
    what: str
    wrong: Callable[[dict[str, Any]], str]


RUNS = {
    "stopped": Run(stopped.outcome, lambda: 1000, "stopped controllers", stopped.wrong),
    "killed": Run(killed.outcome, lambda: 1000, "killed hosts", killed.wrong),
    "link": Run(link.stretch, lambda: 500, "stretches of 2,000 frames", link.wrong),
    "matrix": Run(matrix.outcome, lambda: len(matrix.cases()), "faulty chips", matrix.wrong),
}


@cache
def _commit() -> str:
    """Of this checkout; "" where there is no git."""
    done = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=ROOT, text=True, capture_output=True, check=False)
    return done.stdout.strip()


def _do(job: tuple[int, str]) -> dict[str, Any]:
    index, name = job
    return RUNS[name].do(index) | {"commit": _commit()}


def run(name: str, count: int | None = None, workers: int = 1) -> list[dict[str, Any]]:
    """Results of the first `count` of a run (all: None), kept in build/faults."""
    kind = RUNS[name]
    count = min(count or kind.all(), kind.all())
    return work(OUT / f"{name}.jsonl", _do, ((k, name) for k in range(count)), count, workers, kind.what)


def kept(name: str) -> list[dict[str, Any]]:
    """Whatever there is of a run."""
    return [one for _, one in sorted(read(OUT / f"{name}.jsonl").items())]
