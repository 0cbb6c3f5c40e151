"""Figures of the study in this checkout's build folder; a small one is made first if there is none.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator

from rig import ROOT
from study import coverage, lines, pace, run
from study.figures import figures_of

CHIPS, FIXTURES, PACED = 60, 12, 66
CHIPS_FILE, FIXTURES_FILE = (ROOT / f"build/study/{name}.jsonl" for name in ("drawer", "coverage"))


def honesty() -> Iterator[tuple[str, float, str]]:
    """Shares within U, errors, verdicts."""
    run.run(run.DRAWER, CHIPS, CHIPS_FILE, workers=2)
    coverage.run(FIXTURES, "meter", FIXTURES_FILE, workers=2)
    chips, fixtures = ([*lines.read(file).values()] for file in (CHIPS_FILE, FIXTURES_FILE))
    for name, (value, unit) in figures_of(chips, fixtures).items():
        yield name, value, unit


def population() -> Iterator[tuple[str, float, str]]:
    """Whole sweeps through the PC port, by the wall clock on two processes: a speed of this computer. Of the study's drawer, and
    of quad gates alone."""
    for name, pool in (("population", pace.DRAWER), ("quad_gates", "7400")):
        found = pace.paced(PACED, workers=2, pool=pool)
        yield f"{name}_sweeps_per_min", found.per_min, "sweeps/min"
        yield f"{name}_sweep_cpu_s", found.cpu_s, "s"
