"""How many whole sweeps of a drawer's chips this computer does in a minute, through the PC port.

    PYTHONPATH=.:tests:host .venv/bin/python -m study.pace --count 200 --workers 2

Chip and fixture of each sweep are its own; host, firmware's core, network and chip are all in it, from the contact check to the
verdict. Drawing the chips, and what a process does once (imports, the library's parts), are not. That the PC port gives
the simulator's codes is held by tests/system/test_same_codes.py.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import time
from dataclasses import dataclass
from multiprocessing import Pool
from typing import Any

from sagbench.errors import SagbenchError
from virtual_fixture.chips import load
from virtual_fixture.chips.population import population
from virtual_fixture.inproc import Fixture

from inprocess import part, sweep_here
from study.drawer import marking_of

DRAWER, FIRST_FIXTURE = 77, 77000


@dataclass(frozen=True)
class Pace:
    """Of `count` sweeps: wall-clock sweeps a minute of all processes, and processor seconds of one sweep."""

    count: int
    per_min: float
    cpu_s: float


def one(job: tuple[int, dict[str, Any], int]) -> float:
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


def paced(count: int, workers: int = 2, drawer: int = DRAWER) -> Pace:
    """Sweep the first `count` sound chips of a drawer. Raises AssertionError if one is driven beyond its ratings."""
    jobs = [(k, description, seed) for k, (description, seed) in enumerate(population(drawer, count, bad_share=0.0))]
    for _, description, _ in jobs:
        part(marking_of(description))
        load(description, seed=1)                   # compiles what its kind needs, once
    with Pool(workers) as pool:
        pool.map(one, jobs[:workers], chunksize=1)
        begun = time.monotonic()
        spent = pool.map(one, jobs, chunksize=1)
        wall_s = time.monotonic() - begun
    return Pace(count, 60 * count / wall_s, sum(spent) / count)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=200)
    parser.add_argument("--workers", type=int, default=2)
    asked = parser.parse_args()
    print(paced(asked.count, asked.workers))
