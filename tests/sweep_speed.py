"""How many whole sweeps a minute this machine does in process, and where the processor's time goes.

    python tests/sweep_speed.py                      # a 7400, 20 sweeps, one process
    python tests/sweep_speed.py 74LS245 tests/virtual_fixture/chips/demo/sound_74ls245.toml --sweeps 5 --jobs 2

Every sweep is another fixture and another chip (seeds 1, 2, ...).  Prints JSON: seconds of processor time a sweep, by
where they go, and sweeps a minute by the wall clock.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import json
import sys
import time
from multiprocessing import Pool
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(ROOT), str(ROOT / "tests"), str(ROOT / "host")]

from inprocess import BOOT_S, part, sweep_here  # noqa: E402
from virtual_fixture.inproc import Fixture, Line  # noqa: E402

CHIP = ROOT / "tests/virtual_fixture/chips/demo/sound_7400.toml"


def sweeps(marking: str, chip: str, seeds: range) -> dict[str, float]:
    """Processor seconds of these sweeps: `new` fixture and chip, `virtual` side while the host waits for it, `host`."""
    spent = {"new": 0.0, "virtual": 0.0, "host": 0.0}
    plain = Line.read

    def timed(line: Line) -> bytes:
        start = time.process_time()
        data = plain(line)
        spent["virtual"] += time.process_time() - start
        return data

    Line.read = timed           # type: ignore[method-assign]
    try:
        part(marking)
        for seed in seeds:
            start, before = time.process_time(), spent["virtual"]
            with Fixture(seed, chip) as fixture:
                fixture.run(BOOT_S)
                made = time.process_time()
                sweep_here(fixture, marking)
            spent["new"] += made - start
            spent["host"] += time.process_time() - made - (spent["virtual"] - before)
    finally:
        Line.read = plain       # type: ignore[method-assign]
    return spent


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("marking", nargs="?", default="7400")
    parser.add_argument("chip", nargs="?", default=str(CHIP))
    parser.add_argument("--sweeps", type=int, default=20, help="for each process")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    given = parser.parse_args(words)
    sweeps(given.marking, given.chip, range(1))         # imports, caches
    start = time.monotonic()
    runs = [(given.marking, given.chip, range(1 + job * given.sweeps, 1 + (job + 1) * given.sweeps)) for job in range(given.jobs)]
    if given.jobs == 1:
        parts = [sweeps(*runs[0])]
    else:
        with Pool(given.jobs) as pool:
            parts = pool.starmap(sweeps, runs)
    count, wall = given.jobs * given.sweeps, time.monotonic() - start
    spent = {name: round(sum(one[name] for one in parts) / count, 4) for name in parts[0]}
    print(json.dumps({"cpu_s_per_sweep": round(sum(spent.values()), 4), **spent,
                      "sweeps_per_min": round(60 * count / wall, 1), "jobs": given.jobs}))


if __name__ == "__main__":
    main(sys.argv[1:])
