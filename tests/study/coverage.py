"""Do the uncertainties hold? Every figure of a sweep beside its truth, at each stage of calibration.

    PYTHONPATH=.:tests:host .venv/bin/python -m study.coverage --count 400 --upto none --out build/study/coverage.jsonl

One line of JSON is one sweep of one random sound chip in one random fixture; figures of one fixture share its errors,
so there are as many fixtures as sweeps. A run that was stopped goes on where it was.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import time
from pathlib import Path
from typing import Any

from sagbench.errors import SagbenchError
from sagbench.record import Measured, SweepRecord
from sagbench.sweep import Options
from virtual_fixture.chips import load
from virtual_fixture.chips.population import population
from virtual_fixture.inproc import Fixture

from inprocess import part, sweep_here
from study.drawer import marking_of
from study.lines import work
from study.stages import STAGES, calibrated
from study.supply import Supply
from study.truths import Truths

FIRST_FIXTURE = 129000
DRAWER = 1129
Row = tuple[str, int, float, float, float]       # quantity, pin, value, U, truth


def figures_of(record: SweepRecord) -> list[Measured]:
    """All figures of a record, of the chip and of its pins."""
    return [*record.measured, *(m for pin in record.pins for m in pin.measured)]


def sweep_rows(description: dict[str, Any], chip_seed: int, fixture_seed: int, priors: Any) -> list[Row]:
    """One sweep's figures with their truths. Raises what the host raises."""
    marking = marking_of(description)
    chip = load(description, seed=chip_seed)
    with Fixture(seed=fixture_seed) as fixture:
        fixture.insert(chip)
        supply = Supply.watch(fixture, chip)
        record = sweep_here(fixture, marking, progress=supply.stage, options=Options(priors=priors)).record
    if not supply.samples:
        return []
    truths = Truths(load(description, seed=chip_seed), part(marking))
    rows = []
    for one in figures_of(record):
        true = truths.of(one, supply)
        if true is not None:
            rows.append((one.name, one.pin, one.value.value, one.value.u, true))
    return rows


def case(job: tuple[int, dict[str, Any], int, str, int]) -> dict[str, Any]:
    """One fixture and one chip, swept at every stage up to the one asked for."""
    index, description, chip_seed, upto, fixture_seed = job
    started = time.process_time()
    found: dict[str, Any] = {"index": index, "part": description["part"], "fixture": fixture_seed, "upto": upto,
                             "seed": chip_seed, "stages": {}}
    try:
        for stage, priors in calibrated(fixture_seed, upto).items():
            found["stages"][stage] = sweep_rows(description, chip_seed, fixture_seed, priors)
    except (SagbenchError, AssertionError, ValueError) as trouble:
        found["trouble"] = f"{type(trouble).__name__}: {trouble}"
    found["cpu_s"] = time.process_time() - started
    return found


def run(count: int, upto: str, out: Path, workers: int = 1, drawer: int = DRAWER, first: int = FIRST_FIXTURE
        ) -> list[dict[str, Any]]:
    """Cases 0 .. count - 1 of a drawer of sound chips, in fixtures from seed `first` on; those in `out` not done again."""
    chips = enumerate(population(drawer, count, bad_share=0.0))
    return work(out, case, ((k, d, s, upto, first + k) for k, (d, s) in chips), count, workers, "fixtures")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=400)
    parser.add_argument("--upto", choices=STAGES, default="meter")
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, default=Path("build/study/coverage.jsonl"))
    parser.add_argument("--drawer", type=int, default=DRAWER)
    parser.add_argument("--first", type=int, default=FIRST_FIXTURE, help="seed of the first fixture")
    asked = parser.parse_args()
    run(asked.count, asked.upto, asked.out, asked.workers, asked.drawer, asked.first)
