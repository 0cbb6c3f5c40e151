"""Figures of a whole sweep on the virtual fixture, and of the command's start.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterable, Iterator
from typing import Any

from sagbench.device import Device, PassResult
from sagbench.parts import load_part
from sagbench.sweep import sweep
from sagbench.wire import steps
from sagbench.wire.layout import Step

from rig import ENV, ROOT, sagbench, virtual_port

QUAD_GATE = ROOT / "tests/demo/sound.toml"
CONVERSION_US = 104        # 13 converter clocks at 125 kHz, ATmega2560 data sheet
LEVELS, SCAN, LOAD_SCAN = (make(*args).code[0] for make, args in (
    (steps.levels, (0,)), (steps.scan, (1, 1)), (steps.load_scan, (1, 1, 0, 0, 1, 0))))


def quad_gate() -> Iterator[tuple[str, float, str]]:
    """A 74LS00 from contact check to discharge, by the device's clock; and its logic passes against the converter's own time."""
    whole, ratio = [], []
    for seed in (1, 2, 3):
        passes: list[tuple[bytes, PassResult]] = []
        with virtual_port(QUAD_GATE, seed) as port, Device.connect(port) as device:
            device.run_pass = watched(device.run_pass, passes)       # type: ignore[method-assign]
            record = sweep(device, load_part("74LS00"))
        assert record.timing
        whole.append(record.timing.total_s * 1000)
        logic = [result for codes, result in passes if LEVELS in codes and (SCAN in codes or LOAD_SCAN in codes)]
        ratio.append(sum(r.elapsed_us for r in logic) / sum(r.conversions * CONVERSION_US for r in logic))
    yield "sweep_quad_gate_ms", statistics.median(whole), "ms"
    yield "adc_bound_ratio", statistics.median(ratio), "ratio"


def watched(run: Callable[..., PassResult], passes: list[tuple[bytes, PassResult]]) -> Callable[..., PassResult]:
    """The same, and every pass with its step codes is kept."""
    def run_pass(wanted: Iterable[Step], **options: Any) -> PassResult:
        wanted = list(wanted)
        result = run(wanted, **options)
        passes.append((bytes(step.code[0] for step in wanted), result))
        return result
    return run_pass


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
