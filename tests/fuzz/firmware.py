"""The firmware's core under libFuzzer, chunk by chunk: firmware/fuzz/device.c, address and undefined-behaviour sanitizers.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

from fuzz.tally import OUT, ROOT, Chunk

PROGRAM = ROOT / "build/firmware/fuzz/device"
CORPUS = ROOT / "tests/firmware/corpus"
CHUNK = 250_000
LENGTHS = (96, 160, 96, 320)      # longest input, chunk by chunk: short ones are many, long ones go deep
TARGET = "firmware core"


def build() -> None:
    """The harness by clang. Raises CalledProcessError; its message has been shown."""
    subprocess.run(["make", "-s", "-C", str(ROOT / "firmware"), "fuzz-build"], check=True)


def chunk(number: int, executions: int, out: Path = OUT) -> Chunk:
    """One call of the fuzzer, beginning where the ones before left off."""
    found, crashes = out / "firmware/found", out / "firmware/crash"
    for folder in (found, crashes):
        folder.mkdir(parents=True, exist_ok=True)
    known = set(os.listdir(crashes))
    done = subprocess.run(
        [PROGRAM, f"-runs={executions}", f"-max_len={LENGTHS[number % len(LENGTHS)]}", "-len_control=0", "-entropic=0",
         "-detect_leaks=0", "-timeout=20", "-rss_limit_mb=1024", "-print_final_stats=1", f"-artifact_prefix={crashes}/",
         str(found), str(CORPUS)], capture_output=True, text=True, errors="replace", check=False)
    return Chunk(TARGET, *told(done.stderr), crashes=sorted(set(os.listdir(crashes)) - known))


def told(text: str) -> tuple[int, float, int]:
    """(executions beyond the inputs read in, seconds, edges) from what libFuzzer says."""
    executed = re.findall(r"stat::number_of_executed_units:\s*(\d+)", text)
    read_in = re.findall(r"#(\d+)\s+INITED", text)
    edges = re.findall(r"cov: (\d+)", text)
    seconds = re.findall(r"Done \d+ runs in (\d+) second", text)
    if not executed or not read_in:
        raise RuntimeError(f"the fuzzer did not run: {text[-2000:]}")
    return (int(executed[-1]) - int(read_in[0]), float(seconds[-1]) if seconds else 0.0, int(edges[-1]) if edges else 0)
