"""Files with mistakes, one after the other, to all that read files: taken rightly, or refused with file and line.

    python -m fuzz --files 1000                     # --again part:123 shows one

What counts as wrong: a traceback, a wait beyond PATIENCE_S, a refusal that names no place, a file lost or changed, anything
started, fetched, read or written that is none of its business (guard.py), a file taken that its referee refuses (readers.py).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import os
import re
import signal
import tempfile
import time
import traceback
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import FrameType

from fuzz.guard import watched
from fuzz.mutate import spoil
from fuzz.readers import INTERNAL, KINDS_OF_FILES, Kind, Said
from fuzz.tally import ROOT, Chunk

PATIENCE_S = 60          # of one file on a busy machine; all usual ones take far less than a second
TARGET = "files with mistakes"
CHUNK = 250


@dataclass(frozen=True)
class Fault:
    """One that was not read as it should be."""

    kind: str
    number: int
    what: str       # "traceback", "hang", "place", "lost", "reach", "referee"
    told: str

    def __str__(self) -> str:
        return f"{self.kind}:{self.number} {self.what}: {self.told}"


class Hang(Exception):
    """It took too long."""


@contextmanager
def _patience() -> Iterator[None]:
    def ring(_signal: int, _frame: FrameType | None) -> None:
        raise Hang

    before = signal.signal(signal.SIGALRM, ring)
    signal.setitimer(signal.ITIMER_REAL, PATIENCE_S)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


@contextmanager
def _room() -> Iterator[Path]:
    """A folder for the file, which is the user's data folder too, with another file that must stay as it is."""
    before = {name: os.environ.get(name) for name in ("SAGBENCH_DATA", "SAGBENCH_PARTS", "SAGBENCH_SETTINGS")}
    with tempfile.TemporaryDirectory(prefix="sagbench-files-") as name:
        os.environ.update(SAGBENCH_DATA=name, SAGBENCH_PARTS="", SAGBENCH_SETTINGS=f"{name}/settings.toml")
        try:
            yield Path(name)
        finally:
            for key, value in before.items():
                os.environ.pop(key) if value is None else os.environ.update({key: value})


def _all(room: Path) -> dict[str, bytes]:
    return {str(p.relative_to(room)): p.read_bytes() for p in sorted(room.rglob("*")) if p.is_file()}


def one(kind: Kind, number: int) -> tuple[Said | None, list[Fault]]:
    """Spoil one file, have it read, say what was wrong about that."""
    seeds = kind.seeds()
    name = sorted(seeds)[number % len(seeds)]
    data = spoil(seeds[name], f"{kind.name} {name}", number)
    with _room() as room:
        path = room / kind.file
        path.write_bytes(data)
        (room / "other.txt").write_bytes(b"of another program")
        before = _all(room)
        said, faults = None, []
        with watched(room, ROOT) as seen:
            try:
                with _patience():
                    said = kind.read(path)
            except Hang:
                faults.append(("hang", f"more than {PATIENCE_S} s"))
            except Exception:
                faults.append(("traceback", traceback.format_exc(limit=-3)))
        faults += [("reach", what) for what in dict.fromkeys(seen)]
        if _all(room) != before:
            after = _all(room)
            faults.append(("lost", f"changed: {[n for n in {**before, **after} if before.get(n) != after.get(n)]}"))
        if said:
            faults += _about(kind, said, path, data)
    return said, [Fault(kind.name, number, *fault) for fault in faults]


def _about(kind: Kind, said: Said, path: Path, data: bytes) -> Iterator[tuple[str, str]]:
    if any(word in said.text for word in INTERNAL):
        yield "traceback", said.text[:1500]
    elif said.wrong:
        yield "referee", said.wrong[:1500]
    elif not said.taken:
        text = " ".join(said.text.split())
        places = [int(n) for n in re.findall(re.escape(str(path)) + r":(\d+)", text)]
        most = data.count(b"\n") + data.count(b"\r") + 2
        if not places or not all(1 <= n <= most for n in places):
            yield "place", text[:300]


def run(first: int, count: int, kinds: tuple[Kind, ...] = KINDS_OF_FILES) -> tuple[Chunk, list[Fault]]:
    """The mistakes with numbers from `first`, kind by kind in turn."""
    started, faults, counts = time.monotonic(), [], {"accepted": 0, "refused with file and line": 0}
    for number in range(first, first + count):
        kind = kinds[number % len(kinds)]
        said, wrong = one(kind, number // len(kinds))
        faults += wrong
        if said and not wrong:
            counts["accepted" if said.taken else "refused with file and line"] += 1
    for what in ("traceback", "hang", "lost", "reach", "referee", "place"):
        counts[what] = sum(f.what == what for f in faults)
    return Chunk(TARGET, count, time.monotonic() - started, crashes=[f"{f.kind}:{f.number}" for f in faults], counts=counts), faults


def chunk(number: int, count: int) -> Chunk:
    """The `number`th so many, for the tally; what was wrong is printed."""
    done, faults = run(number * CHUNK, count)
    for fault in faults:
        print(fault)
    return done


def show(kind: Kind, number: int) -> str:
    """One of them: the file, what was said, what was wrong about it."""
    seeds = kind.seeds()
    name = sorted(seeds)[number % len(seeds)]
    said, faults = one(kind, number)
    return "\n".join((spoil(seeds[name], f"{kind.name} {name}", number).decode("utf-8", "backslashreplace"), "-" * 40,
                      json.dumps(said.__dict__ if said else None, indent=1), *map(str, faults)))
