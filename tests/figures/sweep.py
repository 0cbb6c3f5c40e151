"""Figures of a whole sweep on the virtual fixture, and of the command's start.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator

from rig import ENV, ROOT, sagbench, virtual_port

QUAD_GATE = ROOT / "tests/demo/sound.toml"
CONVERSION_S = 104e-6      # 13 converter clocks at 125 kHz, ATmega2560 data sheet


def quad_gate() -> Iterator[tuple[str, float, str]]:
    """A 74LS00 from contact check to discharge, by the device's clock: it runs in real time while it waits for the host."""
    whole, ratio = [], []
    for seed in (1, 2, 3):
        with virtual_port(QUAD_GATE, seed) as port:
            done = sagbench("sweep", "74LS00", "--port", port, "--json", "-")
        timing = json.loads(done.stdout)["timing"]
        whole.append(timing["total_s"] * 1000)
        ratio.append(timing["pass_s"] / (timing["conversions"] * CONVERSION_S))
    yield "sweep_quad_gate_ms", statistics.median(whole), "ms"
    yield "adc_bound_ratio", statistics.median(ratio), "ratio"


def simulator_speed() -> Iterator[tuple[str, float, str]]:
    """Simulated seconds in a second of this machine while the firmware converts without a pause."""
    script = ROOT / "tests/figures/busy.py"
    done = subprocess.run([sys.executable, str(script)], env=ENV, text=True, capture_output=True, check=True)
    yield "sim_speed_ratio", float(done.stdout), "ratio"


def start_up() -> Iterator[tuple[str, float, str]]:
    """`sagbench --help` from start to end, best of five: what the machine can, not what else it was doing."""
    spent = []
    for _ in range(5):
        begun = time.perf_counter()
        sagbench("--help")
        spent.append(time.perf_counter() - begun)
    yield "help_ms", min(spent) * 1000, "ms"
