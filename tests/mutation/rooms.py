"""What is changed, and which tests must notice.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent.parent
BUILD = ROOT / "build/mutation"

# The operating system's side of a room is tried where it can be seen, in tests/faults (a host killed, a cable pulled).
OUTSIDE = {"wire/guard.py", "wire/serial.py"}
# What writes files and pages for developers; `make check` and the library's tests hold their results.
FOR_DEVELOPERS = {"vectors/derive.py", "vectors/report.py"}
# Long, or against the clock: on a busy machine such a test fails by itself, and a mutant would be called noticed that was not.
LEFT_OUT = {"tests/host/vectors/test_vectors_library.py"}


@dataclass(frozen=True)
class Room:
    """A name, files to change, and files of tests, all paths from `root`."""

    name: str
    sources: tuple[str, ...]
    tests: tuple[str, ...]
    root: Path = ROOT


def _files(*patterns: str) -> tuple[str, ...]:
    """Paths from the root that match, sorted, without those that are left out by name above."""
    left_out = {f"host/sagbench/{name}" for name in OUTSIDE | FOR_DEVELOPERS} | LEFT_OUT
    found = {path.relative_to(ROOT).as_posix() for pattern in patterns for path in ROOT.glob(pattern)}
    return tuple(sorted(found - left_out))


def rooms() -> list[Room]:
    """The four rooms whose mistakes would show as a wrong verdict, from the wire upwards."""
    return [
        Room("framing", _files("host/sagbench/wire/*.py"),
             _files("tests/host/wire/test_*.py", "tests/protocol/test_*.py", "tests/host/test_device.py")),
        Room("vectors", _files("host/sagbench/vectors/*.py"), _files("tests/host/vectors/test_*.py")),
        Room("measure", _files("host/sagbench/measure/*.py"), _files("tests/host/measure/test_*.py")),
        Room("judge", _files("host/sagbench/judge/*.py"),
             _files("tests/host/judge/test_*.py", "tests/host/sweep/test_*.py")),
    ]


@cache
def digest(path: Path) -> str:
    """Tells one state of a file from another."""
    return hashlib.sha256(path.read_bytes()).hexdigest()[:12] if path.exists() else "gone"
