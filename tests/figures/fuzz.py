"""What a short turn of the fuzzers comes to, now; the long runs stand in tests/fuzz/RESULT.md.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path

from fuzz import files, firmware, host
from fuzz.tally import ROOT, Chunk

FILES, HOST, FIRMWARE = 140, 5_000, 50_000
NUMBER = 1_000            # chunks of the long run begin at 0: these are others


def _firmware() -> Chunk:
    """Guided where there is clang; else the kept inputs, run again."""
    with tempfile.TemporaryDirectory() as room:
        if shutil.which("clang"):
            firmware.build()
            return firmware.chunk(NUMBER, FIRMWARE, Path(room))
    subprocess.run(["make", "-s", "-C", str(ROOT / "firmware"), "replay"], check=True)
    kept = sorted(firmware.CORPUS.iterdir())
    done = subprocess.run([ROOT / "build/firmware/fuzz/replay", *kept], capture_output=True, text=True, check=False)
    return Chunk(firmware.TARGET, len(kept), 0.0, crashes=["kept input"] if done.returncode else [])


def short() -> Iterator[tuple[str, float, str]]:
    """Spoilt files, inputs of the host's readers and of the firmware's core, and what broke."""
    read, faults = files.run(NUMBER * files.CHUNK, FILES)
    yield "mutated_files_tried", read.executions, "files"
    yield "tracebacks", sum(fault.what == "traceback" for fault in faults), "files"
    yield "mutated_files_not_read_as_they_should_be", len(faults), "files"
    with tempfile.TemporaryDirectory() as room:
        chunks = [host.chunk(target, NUMBER, HOST * share // 1000, Path(room)) for target, share in host.SHARES.items()]
    core = _firmware()
    yield "fuzz_execs_host", sum(chunk.executions for chunk in chunks), "inputs"
    yield "fuzz_execs_firmware", core.executions, "inputs"
    yield "fuzz_crashes", sum(len(chunk.crashes) for chunk in (*chunks, core)), "crashes"
