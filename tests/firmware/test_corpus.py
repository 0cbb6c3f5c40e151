"""Inputs that fuzzing has found worth keeping, run again under the address and undefined-behaviour sanitizers.

`make -C firmware fuzz` looks for more (libFuzzer, guided by coverage); what they check stands in firmware/fuzz/device.c.
"""
from __future__ import annotations

import os
import subprocess
from pathlib import Path

import pytest

from .corpus_seeds import seeds
from .world import BUILD, ROOT

CORPUS = ROOT / "tests/firmware/corpus"
FIRMWARE = ROOT / "firmware"
ENV = {name: value for name, value in os.environ.items() if name != "LD_PRELOAD"}


@pytest.fixture(scope="module")
def replay() -> Path:
    """The harness, built."""
    subprocess.run(["make", "-s", "-C", str(FIRMWARE), "replay"], check=True, env=ENV)
    return BUILD / "fuzz/replay"


def run(program: Path, *files: Path) -> subprocess.CompletedProcess[str]:
    """The harness over these files."""
    return subprocess.run([program, *files], env=ENV, text=True, capture_output=True, timeout=300, check=False)


def test_kept_inputs(replay: Path) -> None:
    kept = sorted(CORPUS.iterdir())
    assert len(kept) > 50 and sum(f.stat().st_size for f in kept) < 100_000
    done = run(replay, *kept)
    assert done.returncode == 0, done.stderr[-2000:]
    assert len(done.stderr.splitlines()) == len(kept)


def test_seeds(replay: Path, tmp_path: Path) -> None:
    """Programs that reach every step."""
    for name, program in seeds().items():
        (tmp_path / name).write_bytes(program)
    done = run(replay, *sorted(tmp_path.iterdir()))
    assert done.returncode == 0, done.stderr[-2000:]


def test_a_broken_rule_is_seen(tmp_path: Path) -> None:
    """The same harness with a watchdog that would bite after 0.2 ms: the first input breaks it."""
    sources = [*FIRMWARE.glob("core/*.c"), *FIRMWARE.glob("gen/*.c"), *FIRMWARE.glob("port_pc/p*.c"),
               FIRMWARE / "fuzz/device.c", FIRMWARE / "fuzz/replay.c"]
    subprocess.run(["gcc", "-std=gnu11", "-I", FIRMWARE, "-DGAP_NS=UINT64_C(200000)", "-o", tmp_path / "strict", *sources],
                   check=True, env=ENV)
    (tmp_path / "input").write_bytes(seeds()["scan"])
    done = run(tmp_path / "strict", tmp_path / "input")
    assert done.returncode < 0 and "broken: the main loop stood still" in done.stderr
