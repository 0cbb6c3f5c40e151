"""Whole sweeps by simulated time: contact to discharge, of a fixture that has been started.

At its start the controller lets the dead-man go to see that it does (0.11 s); chips are measured after that.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from inprocess import Swept, sweep_here
from virtual_fixture.chips import load
from virtual_fixture.inproc import Fixture

STARTED_S = 0.3
CONVERSION_US = 104        # 13 converter clocks at 125 kHz, ATmega2560 data sheet
PARTS = {"quad_gate": "74LS00", "octal_driver": "74LS245", "74181": "74181", "counter": "74LS163"}
SEEDS = (1, 2, 3)


@dataclass(frozen=True)
class Took:
    """One sweep's milliseconds and conversions, and its logic passes' time over that of their conversions alone."""

    ms: float
    conversions: int
    ratio: float


def logic_ratio(done: Swept) -> float:
    """Time of the passes of the logic test, without load and with, over their conversions' 13 clocks each."""
    both = [(asked, gave) for asked, gave in zip(done.steps, done.passes, strict=True)
            if "levels" in (names := {step.name for step in asked}) and names & {"scan", "load_scan"}]
    return sum(gave.elapsed_us for _, gave in both) / sum(gave.conversions * CONVERSION_US for _, gave in both)


@cache
def took(marking: str, seeds: Sequence[int] = SEEDS) -> Took:
    """The medians of some fixtures and sound specimens."""
    all_ms, conversions, ratios = [], [], []
    for seed in seeds:
        with Fixture(seed) as fixture:
            fixture.insert(load({"part": marking}, seed=seed))
            fixture.run(STARTED_S)
            done = sweep_here(fixture, marking)
        assert done.record.timing
        all_ms.append(done.record.timing.total_s * 1000)
        conversions.append(done.record.timing.conversions)
        ratios.append(logic_ratio(done))
    return Took(statistics.median(all_ms), round(statistics.median(conversions)), statistics.median(ratios))
