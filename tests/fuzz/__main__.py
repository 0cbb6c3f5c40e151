"""Fuzz until so many inputs were run in all: `python -m fuzz --firmware 10000000 --host 1000000 --files 1000`.

What was run is kept in build/fuzz/tally.jsonl, so that a stopped run goes on; --page writes tests/fuzz/RESULT.md from it.
An input that broke something is tried again by the next call, and moved aside once it no longer does. Returns 1 if any
still does.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import sys
from collections.abc import Callable

from fuzz import files, firmware, host, tally


def until(target: str, wanted: int, size: int, run: Callable[[int, int], tally.Chunk]) -> None:
    """Chunks of a target until `wanted` inputs have been run; stops at a crash."""
    while (before := tally.done(chunks := tally.kept(), target)) < wanted:
        one = run(sum(c.target == target for c in chunks), min(size, wanted - before))
        if not one.executions and not one.crashes:
            raise RuntimeError(f"{target}: a chunk ran no input")
        tally.keep(one)
        pace = f"{one.executions / one.processor:,.0f} a second of processor" if one.processor else f"{one.executions / max(one.seconds, 1):,.0f} a second"
        print(f"{target}: {before + one.executions:,} of {wanted:,}, {pace}, {one.edges} edges, {len(one.crashes)} crashes", flush=True)
        if one.crashes:
            print(f"fuzz: {target}: {', '.join(one.crashes)} in {tally.OUT}", file=sys.stderr)
            return


def main() -> int:
    """0 if no crash is known."""
    parser = argparse.ArgumentParser(prog="python -m fuzz", description=__doc__.splitlines()[0])
    parser.add_argument("--firmware", type=int, default=0, metavar="N", help="inputs of the firmware's core")
    parser.add_argument("--host", type=int, default=0, metavar="N", help="inputs of the host's decoder and file readers")
    parser.add_argument("--files", type=int, default=0, metavar="N", help="spoilt files of all kinds")
    parser.add_argument("--again", metavar="KIND:NUMBER", help="show one of the spoilt files")
    parser.add_argument("--page", action="store_true", help="write tests/fuzz/RESULT.md from what is kept")
    asked = parser.parse_args()
    if asked.again:
        kind, number = asked.again.split(":")
        print(files.show(next(k for k in files.KINDS_OF_FILES if k.name == kind), int(number)))
        return 0
    if asked.firmware:
        firmware.build()
        firmware.again()
        until(firmware.TARGET, asked.firmware, firmware.CHUNK, firmware.chunk)
    for target, share in host.SHARES.items() if asked.host else ():
        host.again(target)
        until(host.name(target), asked.host * share // 1000, host.CHUNKS.get(target, host.CHUNK), lambda number, size, target=target: host.chunk(target, number, size))
    if asked.files:
        until(files.TARGET, asked.files, files.CHUNK, files.chunk)
    chunks = tally.kept()
    if asked.page:
        tally.PAGE.write_text(tally.page(chunks, "make fuzz"))
    return 1 if tally.left(chunks) else 0


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        sys.exit("fuzz: stopped; what was counted is kept, and the same command goes on from there")
