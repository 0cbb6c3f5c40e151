"""How many whole sweeps of a pool of chips this computer does in a minute, through the PC port.

    PYTHONPATH=.:tests:host .venv/bin/python -m study.pace --count 200 --workers 2                # the study's drawer
    PYTHONPATH=.:tests:host .venv/bin/python -m study.pace --count 200 --workers 2 --pool 7400    # quad gates

Chip and fixture of each sweep are its own; host, firmware's core, network and chip are all in it, from the contact check to the
verdict. Drawing the chips, and what a process does once (imports, the pool's parts, a first sweep), are not. That the PC port gives
the simulator's codes is held by tests/system/test_same_codes.py.

A pool is the study's drawer of sound chips, all functions and families in turn, most of them once; or one chip of it by
its number, every specimen another one: what follows from a part alone is then worked out once.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import gc
import random
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from multiprocessing import Pool
from typing import Any

from sagbench.errors import SagbenchError
from virtual_fixture.chips import load
from virtual_fixture.chips.population import draw, members, name_of, population
from virtual_fixture.inproc import Fixture

from inprocess import part, sweep_here
from study.drawer import marking_of

Job = tuple[int, dict[str, Any], int]
DRAWER = "the study's drawer"
SEED, FIRST_FIXTURE = 77, 77000
SELDOM = 50_000, 20, 100    # thresholds of the collector's generations


@dataclass(frozen=True)
class Pace:
    """Of `count` sweeps: wall-clock sweeps a minute of all processes, and processor seconds of one sweep."""

    count: int
    per_min: float
    cpu_s: float


def one(job: Job) -> float:
    """Processor seconds of one sweep; a chip that the host refuses has been looked at too."""
    index, description, seed = job
    started = time.process_time()
    try:
        with Fixture(seed=FIRST_FIXTURE + index) as fixture:
            fixture.insert(load(description, seed=seed))
            sweep_here(fixture, marking_of(description))
    except SagbenchError:
        pass
    return time.process_time() - started


def jobs_of(pool: str, count: int) -> list[Job]:
    """The first `count` sound chips of the drawer, or so many specimens of one kind ("7400"): (place, chip file, seed)."""
    if pool == DRAWER:
        return [(k, description, seed) for k, (description, seed) in enumerate(population(SEED, count, bad_share=0.0))]
    rng = random.Random(f"pace/{pool}")
    number, family = next((n, f) for _, n, f in members() if name_of(n, f) == pool)
    return [(k, draw(rng, number, family, "sound"), rng.randrange(1, 1_000_000)) for k in range(count)]


@contextmanager
def at_ease() -> Iterator[None]:
    """The garbage collector leaves alone what stays, and comes less often: a sweep's numbers hang together in rings."""
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()
    gc.set_threshold(*SELDOM)
    try:
        yield
    finally:
        gc.set_threshold(*before)
        gc.unfreeze()


def paced(count: int, workers: int = 2, pool: str = DRAWER) -> Pace:
    """Sweep `count` chips of a pool. Raises AssertionError if one is driven beyond its ratings."""
    jobs = jobs_of(pool, count)
    for _, description, _ in jobs:
        part(marking_of(description))
        load(description, seed=1)                   # compiles what its kind needs, once
    one(jobs[0])
    with at_ease(), Pool(workers) as processes:     # they begin with all that has been read and compiled so far
        processes.map(one, jobs[:workers], chunksize=1)
        begun = time.monotonic()
        spent = processes.map(one, jobs, chunksize=1)
        wall_s = time.monotonic() - begun
    return Pace(count, 60 * count / wall_s, sum(spent) / count)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--pool", default=DRAWER, help="a chip of the drawer, as 7400; the whole drawer if not given")
    asked = parser.parse_args()
    print(asked.pool, paced(asked.count, asked.workers, asked.pool))
