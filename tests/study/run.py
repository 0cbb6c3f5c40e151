"""Run a drawer through the host: `python -m study.run --count 2000 --out build/study/drawer.jsonl`.

Two workers; what is done is kept, so that a run that was stopped goes on where it was.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import json
import sys
from multiprocessing import Pool
from pathlib import Path

from virtual_fixture.chips.population import population

from study.drawer import sweep_case


def _one(job: tuple[int, dict, int]) -> tuple[int, dict]:
    index, description, seed = job
    return index, sweep_case(description, seed, fixture_seed=1000 + index)


def run(seed: int, count: int, out: Path, workers: int = 2) -> list[dict]:
    """Cases in order; those already in `out` are not done again."""
    out.parent.mkdir(parents=True, exist_ok=True)
    done = {}
    if out.exists():
        done = {case["index"]: case for case in map(json.loads, out.read_text().splitlines()) if case["drawer"] == seed}
    jobs = [(k, d, s) for k, (d, s) in enumerate(population(seed, count)) if k not in done]
    with out.open("a") as file, Pool(workers, maxtasksperchild=100) as pool:
        for number, (index, case) in enumerate(pool.imap_unordered(_one, jobs), 1):
            case |= {"index": index, "drawer": seed}
            done[index] = case
            file.write(json.dumps(case) + "\n")
            file.flush()
            if number % 20 == 0 or number == len(jobs):
                print(f"\r{number} of {len(jobs)} chips", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    return [done[k] for k in sorted(done) if k < count]


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--count", type=int, default=2000)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--out", type=Path, default=Path("build/study/drawer.jsonl"))
    given = parser.parse_args()
    run(given.seed, given.count, given.out, given.workers)
