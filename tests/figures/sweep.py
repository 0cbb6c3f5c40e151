"""Figures of a whole sweep on the virtual fixture, and of the command's start.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator

from rig import ENV, ROOT, sagbench, virtual_port
from speed.memory import held
from speed.pace import pace
from speed.sweeps import PARTS, took


def sweeps() -> Iterator[tuple[str, float, str]]:
    """Four types from contact check to discharge, by the device's clock; their logic passes against the converter's own time."""
    for name, marking in PARTS.items():
        yield f"sweep_{name}_ms", took(marking).ms, "ms"
    yield "adc_bound_ratio", max(took(marking).ratio for marking in PARTS.values()), "ratio"


def readings() -> Iterator[tuple[str, float, str]]:
    """A logic pass as a stream of steps, and beside it by one request and one answer for each conversion (tests/speed/pace.py)."""
    found = pace()
    yield "readings_per_s", found.per_s, "1/s"
    yield "readings_ratio", found.ratio, "ratio"
    yield "readings_ratio_with_turns", found.ratio_with_turns, "ratio"


def simulator_speed() -> Iterator[tuple[str, float, str]]:
    """Simulated seconds in a second of this machine while the firmware converts without a pause."""
    script = ROOT / "tests/figures/busy.py"
    done = subprocess.run([sys.executable, str(script)], env=ENV, text=True, capture_output=True, check=True)
    yield "sim_speed_ratio", float(done.stdout), "ratio"


def start_up() -> Iterator[tuple[str, float, str]]:
    """The command from start to end, best of five: what the machine can, not what else it was doing. `--help`; and `fixture info`,
    which opens the link, asks and lets go again."""
    yield "help_ms", best_ms("--help"), "ms"
    with virtual_port(None, 1) as port:
        yield "open_ms", best_ms("fixture", "info", "--port", port), "ms"


def best_ms(*words: str) -> float:
    """Milliseconds of the quickest of five runs. Raises AssertionError if one fails."""
    spent = []
    for _ in range(5):
        begun = time.perf_counter()
        done = sagbench(*words)
        spent.append(time.perf_counter() - begun)
        assert done.returncode == 0, done.stderr
    return min(spent) * 1000


def memory() -> Iterator[tuple[str, float, str]]:
    """Resident memory after a short box of chips; of host and virtual fixture in one process, so that the host's own is less."""
    yield "host_rss_mb", held(10)[-1].mb, "MB"
