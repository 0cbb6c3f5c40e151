"""The host's readers fuzzed chunk by chunk, each target in a process of its own (host_run.py).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

from fuzz.tally import OUT, ROOT, Chunk, processor_s

CORPUS = ROOT / "tests/fuzz/corpus"
# Of a thousand inputs so many go to each: more to what is quick and to what reads the wire, 10,000 of a million at least.
SHARES = {"wire_messages": 330, "frames": 200, "marking": 90, "configuration": 60, "calibration": 60, "session": 95, "link": 60,
          "house_numbers": 30, "statements": 20, "place": 30, "record": 13, "part": 12}
TEXTUAL = ("statements", "part", "configuration", "calibration", "session", "record", "marking", "house_numbers", "place")
TREES = ("calibration", "session", "record")
LONGEST = {"frames": 100, "wire_messages": 100, "link": 300, "marking": 60, "statements": 300, "configuration": 300, "house_numbers": 300,
           "place": 300, "record": 6000}
ENVIRONMENT = {**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT}/tests:{ROOT}/host"}
CHUNK = 20_000
CHUNKS = {"record": 1500, "part": 1500, "statements": 4000, "link": 10_000, "place": 5000}      # what takes longer: some minutes at most between two counts


def name(target: str) -> str:
    """As it is tallied."""
    return f"host: {target}"


def again(target: str, out: Path = OUT) -> None:
    """The inputs that broke it once more: what no longer breaks is moved to the folder `mended`."""
    if any((out / "host" / target / "crash").glob("*")):
        subprocess.run([sys.executable, "-m", "fuzz.host_run", target, "--again", f"--crash={out / 'host' / target / 'crash'}"],
                       cwd=ROOT, check=True, env=ENVIRONMENT)


def chunk(target: str, number: int, executions: int, out: Path = OUT) -> Chunk:
    """One call of the fuzzer, beginning where those before left off. Raises RuntimeError if it does not run."""
    from fuzz.host_seeds import seeds
    room = out / "host" / target
    (room / "seeds").mkdir(parents=True, exist_ok=True)
    for label, data in seeds(target).items():
        (room / "seeds" / label).write_bytes(data)
    words = [sys.executable, "-m", "fuzz.host_run", target, str(room / "seeds"), str(CORPUS / target), f"--runs={executions}",
             f"--seed={number}", f"--found={room / 'found'}", f"--crash={room / 'crash'}", f"--longest={LONGEST.get(target, 4000)}"]
    words += ["--textual"] * (target in TEXTUAL) + ["--tree"] * (target in TREES)
    before = processor_s()
    done = subprocess.run(words, cwd=ROOT, text=True, errors="replace", check=False, env=ENVIRONMENT, capture_output=True)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{target}: the fuzzer did not run ({done.returncode}): {done.stderr[-2000:]}")
    return Chunk(name(target), **json.loads(done.stdout.splitlines()[-1]), processor=round(processor_s() - before, 1))
