"""The firmware's core under libFuzzer, chunk by chunk: firmware/fuzz/device.c, address and undefined-behaviour sanitizers.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import os
import re
import subprocess
from pathlib import Path

from fuzz.tally import OUT, ROOT, Chunk, aside, processor_s

PROGRAM = ROOT / "build/firmware/fuzz/device"
CORPUS = ROOT / "tests/firmware/corpus"
CHUNK = 200_000
LENGTHS = (96, 160, 96, 320, 96, 160, 96, 800)    # longest input, chunk by chunk: short ones are many, long ones go deep
PATIENCE_S = 20                   # of one input
WAITED = ("timeout-", "slow-unit-")       # the fuzzer goes by the wall's clock, and others may have had the machine
TARGET = "firmware core"


def build() -> None:
    """The harness by clang. Raises CalledProcessError; its message has been shown."""
    subprocess.run(["make", "-s", "-C", str(ROOT / "firmware"), "fuzz-build"], check=True)


def chunk(number: int, executions: int, out: Path = OUT) -> Chunk:
    """One call of the fuzzer, beginning where the ones before left off."""
    from firmware.corpus_seeds import seeds
    found, crashes, good = out / "firmware/found", out / "firmware/crash", out / "firmware/seeds"
    for folder in (found, crashes, good):
        folder.mkdir(parents=True, exist_ok=True)
    for name, program in seeds().items():
        (good / name).write_bytes(program)
    known, before = set(os.listdir(crashes)), processor_s()
    read_in = 1 + sum(len(os.listdir(folder)) for folder in (found, CORPUS, good))     # the fuzzer counts them, and an empty one, with the others
    done = subprocess.run(
        [PROGRAM, f"-runs={executions + read_in}", f"-max_len={LENGTHS[number % len(LENGTHS)]}", "-len_control=0", "-entropic=0",
         "-detect_leaks=0", f"-timeout={PATIENCE_S}", "-rss_limit_mb=1024", "-print_final_stats=1", f"-artifact_prefix={crashes}/",
         str(found), str(CORPUS), str(good)], capture_output=True, text=True, errors="replace", check=False)
    new = sorted(set(os.listdir(crashes)) - known)
    spent = processor_s() - before
    return Chunk(TARGET, *told(done.stderr), crashes=[name for name in new if breaks(crashes / name)], processor=round(spent, 1))


def again(out: Path = OUT) -> None:
    """The inputs that broke it once more: what no longer breaks is moved to the folder `mended`."""
    for kept in sorted((out / "firmware/crash").glob("*")):
        if not _limited(kept):
            aside(kept, "mended")


def _limited(kept: Path) -> int:
    """The exit code for one input, which may take PATIENCE_S of the processor."""
    limit = ("sh", "-c", f'ulimit -t {PATIENCE_S}; exec "$@"', "sh")
    return subprocess.run([*limit, PROGRAM, "-timeout=3600", kept], capture_output=True, check=False).returncode


def breaks(kept: Path) -> bool:
    """Whether an input that the fuzzer complained of does what is no good once more; of one that only took long: by the processor's time.

    One that does not is moved aside, to the folder `slow`.
    """
    if not kept.name.startswith(WAITED) or _limited(kept):
        return True
    aside(kept, "slow")
    return False


def told(text: str) -> tuple[int, float, int]:
    """(executions beyond the inputs read in, seconds, edges) from what libFuzzer says."""
    executed = re.findall(r"stat::number_of_executed_units:\s*(\d+)", text)
    read_in = re.findall(r"#(\d+)\s+INITED", text)
    edges = re.findall(r"cov: (\d+)", text)
    seconds = re.findall(r"Done \d+ runs in (\d+) second", text)
    if not executed or not read_in:
        raise RuntimeError(f"the fuzzer did not run: {text[-2000:]}")
    return (int(executed[-1]) - int(read_in[0]), float(seconds[-1]) if seconds else 0.0, int(edges[-1]) if edges else 0)
