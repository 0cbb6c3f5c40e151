"""One target of the host, guided by the coverage of Python's lines (edges.c), in one process and in memory.

    python -m fuzz.host_run TARGET --runs N --seed S --found FOLDER --crash FOLDER [FOLDER_OF_SEEDS ...]

An input that reaches something new is kept in FOUND and changed further; one that raises is kept in CRASH with its
traceback, and ends the run. Prints one line of JSON.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import hashlib
import importlib.util
import json
import random
import signal
import subprocess
import sys
import sysconfig
import time
import traceback
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from types import FrameType, ModuleType

from fuzz.mutate import CHANGES, HARM, change_tree, graft, harmful_string, other_number, other_word
from fuzz.tally import OUT, ROOT, aside

PATIENCE_S = 10          # of the processor, for one input: the machine may be busy with others
KEPT_BYTES = 12_000      # of each target's corpus that is committed
BYTES = (0, 1, 2, 3, 4, 16, 32, 64, 100, 127, 128, 254, 255)


class Hang(BaseException):
    """An input that took too long; no reader may catch it."""


@cache
def edges() -> ModuleType:
    """The counter of edges, compiled for this interpreter if it is not yet."""
    source = ROOT / "tests/fuzz/edges.c"
    built = OUT / f"edges{sysconfig.get_config_var('EXT_SUFFIX')}"
    if not built.exists() or built.stat().st_mtime < source.stat().st_mtime:
        OUT.mkdir(parents=True, exist_ok=True)
        part = built.with_suffix(".part")
        subprocess.run(["gcc", "-O2", "-Wall", "-Wextra", "-Wno-missing-field-initializers", "-Werror", "-fPIC", "-shared",
                        "-I", sysconfig.get_path("include"), "-o", part, source], check=True)
        part.replace(built)
    spec = importlib.util.spec_from_file_location("edges", built)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _of_bytes(chance: random.Random, data: bytearray) -> None:
    """One small change."""
    at, what = chance.randrange(len(data) + 1), chance.randrange(8)
    if what == 0 or not data:
        data[at:at] = bytes([chance.choice(BYTES)])
    elif what == 1:
        del data[at:at + chance.choice((1, 1, 2, 4, 16))]
    elif what == 2:
        data[at:at + 1] = bytes([chance.randrange(256)])
    elif what == 3 and at < len(data):
        data[at] ^= 1 << chance.randrange(8)
    elif what == 4 and at < len(data):
        data[at] = (data[at] + chance.randint(-5, 5)) % 256
    elif what == 5:
        other = chance.randrange(len(data))
        data[at:at] = data[other:other + chance.choice((1, 2, 8, 32))]
    elif what == 6:
        data[at:at + 1] = bytes([chance.choice(BYTES)])
    else:
        data[at:at] = chance.randbytes(chance.choice((1, 2, 4)))


def changed(chance: random.Random, corpus: list[bytes], textual: bool, tree: bool = False) -> bytes:
    """An input of the corpus, changed; textual: also as those do who write files by hand; tree: mostly as JSON that stays JSON."""
    data = bytearray(chance.choice(corpus))
    if tree and chance.random() < 0.75:
        text = data.decode("utf-8", "replace")
        for _ in range(chance.choice((1, 1, 2, 3))):
            text = chance.choice((change_tree, graft, graft))(chance, text, None)
            if chance.random() < 0.2:
                text = chance.choice((other_number, other_word, harmful_string))(chance, text)
        return text.encode("utf-8", "replace")
    if chance.random() < 0.2:
        other = chance.choice(corpus)
        cut, at = chance.randrange(len(data) + 1), chance.randrange(len(other) + 1)
        data[cut:] = other[at:]
    for _ in range(chance.choice((1, 1, 2, 3, 5))):
        if textual and chance.random() < 0.5:
            text = data.decode("utf-8", "replace")
            text = chance.choice(CHANGES)(chance, text) if chance.random() < 0.9 else text + chance.choice(HARM)
            data = bytearray(text.encode("utf-8", "replace"))
        else:
            _of_bytes(chance, data)
    return bytes(data)


def _ring(_signal: int, _frame: FrameType | None) -> None:
    raise Hang(f"more than {PATIENCE_S} s of the processor")


def fuzz(target: Callable[[bytes], None], seeds: Iterable[bytes], runs: int, seed: int, longest: int, textual: bool,
         kept: Callable[[bytes], None] = lambda data: None, tree: bool = False) -> tuple[int, bytes | None, str]:
    """(inputs run beside the seeds, the one that broke it or None, its traceback)."""
    cover, chance, corpus, done = edges(), random.Random(seed), [], 0
    signal.signal(signal.SIGPROF, _ring)

    def one(data: bytes) -> int:
        signal.setitimer(signal.ITIMER_PROF, PATIENCE_S)
        try:
            return int(cover.run(target, data))
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)

    data = b""
    try:
        for data in (b"", *seeds):
            one(data)
            corpus.append(data)
        while done < runs:
            data = changed(chance, corpus, textual, tree)[:longest]
            done += 1
            if one(data):
                corpus.append(data)
                kept(data)
    except (Exception, Hang):
        return done, data, traceback.format_exc()
    return done, None, ""


def worth_keeping(target: Callable[[bytes], None], inputs: Iterable[bytes], most: int) -> list[bytes]:
    """The shortest inputs that between them reach what all reach, as long as they are `most` bytes or less together."""
    kept, size = [], 0
    for data in sorted(set(inputs), key=lambda one: (len(one), one)):
        if size + len(data) <= most and edges().run(target, data):
            kept.append(data)
            size += len(data)
    return kept


def again(target: Callable[[bytes], None], folder: Path) -> None:
    """Inputs that broke it once more: what no longer breaks is moved to the folder `mended` beside."""
    for kept in sorted(folder.iterdir()):
        if kept.suffix == ".txt" or fuzz(target, [kept.read_bytes()], 0, 0, 0, False)[1] is not None:
            continue
        for one in (kept, folder / f"{kept.name}.txt"):
            if one.exists():
                aside(one, "mended")


def main() -> int:
    """1 if an input broke the target."""
    from fuzz.host_targets import TARGETS
    parser = argparse.ArgumentParser(prog="python -m fuzz.host_run", description=__doc__.splitlines()[0])
    parser.add_argument("target", choices=TARGETS)
    parser.add_argument("folders", nargs="*", type=Path)
    parser.add_argument("--runs", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--longest", type=int, default=4000)
    parser.add_argument("--textual", action="store_true")
    parser.add_argument("--tree", action="store_true", help="inputs are JSON")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="run nothing; write the few inputs worth keeping there")
    parser.add_argument("--again", action="store_true", help="run only what is in CRASH; what no longer breaks goes to the folder mended beside it")
    parser.add_argument("--found", type=Path, default=OUT / "found")
    parser.add_argument("--crash", type=Path, default=OUT / "crash")
    asked = parser.parse_args()
    for folder in (asked.found, asked.crash):
        folder.mkdir(parents=True, exist_ok=True)

    if asked.again:
        again(TARGETS[asked.target], asked.crash)
        return 0

    def keep(data: bytes) -> None:
        (asked.found / hashlib.sha1(data).hexdigest()[:16]).write_bytes(data)

    seeds = [file.read_bytes() for folder in (*asked.folders, asked.found) if folder.is_dir() for file in sorted(folder.iterdir())]
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
        for data in worth_keeping(TARGETS[asked.target], seeds, KEPT_BYTES):
            (asked.keep / hashlib.sha1(data).hexdigest()[:16]).write_bytes(data)
        return 0
    begun = time.monotonic()
    done, broke, how = fuzz(TARGETS[asked.target], seeds, asked.runs, asked.seed, asked.longest, asked.textual, keep, asked.tree)
    if broke is not None:
        name = hashlib.sha1(broke).hexdigest()[:16]
        (asked.crash / name).write_bytes(broke)
        (asked.crash / f"{name}.txt").write_text(how)
    print(json.dumps({"executions": done, "seconds": round(time.monotonic() - begun, 1), "edges": edges().edges(),
                      "crashes": [name] if broke is not None else []}))
    return 1 if broke is not None else 0


if __name__ == "__main__":
    sys.exit(main())
