"""Run a drawer through the host: `python -m study.run --count 2000 --out build/study/drawer.jsonl`.

What is done is kept, so that a run that was stopped goes on where it was.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from virtual_fixture.chips.population import population

from study.drawer import sweep_case
from study.lines import work
from study.pace import at_ease

DRAWER, FIRST_FIXTURE = 1130, 113000


def _one(job: tuple[int, dict[str, Any], int]) -> dict[str, Any]:
    index, description, seed = job
    return sweep_case(description, seed, fixture_seed=FIRST_FIXTURE + index) | {"index": index}


def run(seed: int, count: int, out: Path, workers: int = 1) -> list[dict[str, Any]]:
    """Cases of the first `count` chips of drawer `seed`, in order; those already in `out` are not done again."""
    chips = enumerate(population(seed, count))
    with at_ease():
        return work(out, _one, ((k, d, s) for k, (d, s) in chips), count, workers, "chips")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=DRAWER)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("build/study/drawer.jsonl"))
    given = parser.parse_args()
    run(given.seed, given.count, given.out, given.workers)
