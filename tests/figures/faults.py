"""Figures of faults injected: of what this checkout's build folder keeps of `make faults`, at least a slice of each run.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator

from faults import summary
from faults.runs import kept, run

LEAST = {"stopped": 56, "killed": 12, "link": 10, "matrix": 20}     # each load point, each kind of kill; some minute of one core


def injected() -> Iterator[tuple[str, float, str]]:
    """Wrong results, recovery, milliseconds with power and with a strong line on, overstress."""
    for name, count in LEAST.items():
        run(name, count)
    for name, (value, unit) in summary.figures({name: kept(name) for name in LEAST}).items():
        yield name, value, unit
