"""The C side under a storm of random input, with address and undefined-behaviour sanitizers.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import os
import subprocess
from pathlib import Path

import pytest

from virtual_fixture import clib
from virtual_fixture.specimen import build

FIXTURE = Path(__file__).resolve().parents[1]
OUT = clib.ROOT / "build" / "virtual" / "storm"


@pytest.fixture(scope="module")
def storm() -> Path:
    sources = [*FIXTURE.glob("*.c"), Path(__file__).parent / "storm" / "storm.c"]
    newest = max(p.stat().st_mtime for p in [*sources, *FIXTURE.glob("*.h")])
    if not OUT.exists() or OUT.stat().st_mtime < newest:
        flags = subprocess.run(["pkg-config", "--cflags", "--libs", "simavr"], capture_output=True, text=True,
                               check=True).stdout.split()
        subprocess.run(["gcc", "-std=gnu11", "-O1", "-g", "-fsanitize=address,undefined", "-fno-sanitize-recover=all",
                        f"-I{FIXTURE}", "-o", str(OUT), *map(str, sources), *flags, "-lelf", "-lutil", "-ldl", "-lm"],
                       check=True)
    return OUT


@pytest.mark.parametrize("seed", [1, 2])
def test_storm_is_clean_and_every_network_is_solved(storm: Path, tmp_path: Path, seed: int) -> None:
    drawn = tmp_path / "specimen"
    drawn.write_bytes(bytes(build(seed)[0]))
    # libsimavr itself leaks what it allocates once; leaks are not looked for
    done = subprocess.run([str(storm), str(drawn), str(clib.IMAGE), str(clib.NATIVE), str(seed)], text=True,
                          capture_output=True, env={**os.environ, "ASAN_OPTIONS": "detect_leaks=0"})
    assert done.returncode == 0, done.stderr[-3000:]
    for solves, unsolved in (map(int, line.split()) for line in done.stdout.splitlines()[-2:]):
        assert solves > 3000 and unsolved == 0
