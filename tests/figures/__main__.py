"""Run every measuring function and print what it gives.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from collections.abc import Callable, Iterable

from figures import board, faults, firmware, fuzz, guide, identify, learn, library, log, lot, mutation, ngspice, pages, spice, study, sweep

Figure = tuple[str, float, str]
MEASURES: list[Callable[[], Iterable[Figure]]] = [
    sweep.sweeps, sweep.readings, sweep.start_up, sweep.memory, firmware.sizes, firmware.stack, sweep.simulator_speed,
    library.breadth, study.honesty, study.population, board.design, board.design_rules, spice.claims, ngspice.deviation,
    lot.pace, log.losses, pages.console, identify.unmarked, guide.commands_run, learn.recovered, faults.injected, fuzz.short, mutation.noticed]


def main() -> int:
    """0 if every figure could be measured."""
    failed = 0
    for measure in MEASURES:
        try:
            for name, value, unit in measure():
                print(f"{name} {value:.6g} {unit}", flush=True)
        except Exception as wrong:                      # one figure that fails must not hide the others
            failed += 1
            print(f"figures: {measure.__module__}.{measure.__name__}: {wrong}", file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
