"""`make faults`: faults injected by the thousand.  Stopped and started again each run goes on where it was.

    python -m faults                                     all of it: hours
    python -m faults stopped [--count 1000]              controller reset, frozen, stuck, line silent
    python -m faults killed [--count 1000]               the host killed at a random moment
    python -m faults link [--count 500] [--workers 1]    stretches of 2,000 frames over a faulty line
    python -m faults matrix [--count N]                  every fault of a virtual chip on every pin
    python -m faults page                                RESULT.md of what is kept

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import sys

from faults import page, summary
from faults.runs import RUNS, kept, run


def main() -> int:
    """0 if nothing was wrong."""
    parser = argparse.ArgumentParser(prog="faults", description=__doc__.splitlines()[0])
    parser.add_argument("run", choices=[*RUNS, "page"], nargs="?", help="default: all four")
    parser.add_argument("--count", type=int, help="only so many (default: all)")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    if asked.run == "page":
        page.write()
        return 0
    names = [asked.run] if asked.run else [*RUNS]
    wrong = [f"{name} {one['index']}: {said}" for name in names for one in run(name, asked.count, asked.workers)
             if (said := RUNS[name].wrong(one))]
    for sentence in wrong:
        print(f"faults: {sentence}", file=sys.stderr)
    for name, (value, unit) in summary.figures({name: kept(name) for name in names}).items():
        print(f"{name} {value:.6g} {unit}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
