"""`sagbench learn` over the whole library, taken as unknown parts: each line is kept, so that a run that was stopped goes on.

    python tests/learn_library.py [--every N] [--workers W] [HALF ...]

    combinational   all functions without memory, up to 16 inputs
    clocked         all functions with up to 64 states

A part is recovered if its draft, which `parts check` must accept, does at every pin what the library's own definition does
(`same.exact`), and if the logic test that is made from the draft passes on the specimen.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from time import process_time

from halves import Line, asked, tell
from study.lines import ROOT, work

sys.path.append(str(ROOT / "tests/host/learn"))
import same

SOURCES = ("host/sagbench/learn/*", "host/sagbench/identify/*", "host/sagbench/parts/**/*", "host/sagbench/vectors/*", "tests/learn_library.py",
           "tests/host/learn/*")
HALVES = {"combinational": same.combinational, "clocked": same.clocked}


def _one(job: tuple[int, str]) -> Line:
    index, number = job
    part = same.unknown(number)
    assert part is not None
    begun = process_time()
    found = same.learnt(part)
    exact = same.exact(part, found)
    return {"index": index, "function": number, "title": part.definition.title, "inputs": part.inputs, "state_bits": part.state_bits,
            "exact": exact, "own_test_failures": same.own_test_failures(part, found), "looks": found.learnt.looks,
            "missed": {str(pin): why for pin, why in found.learnt.missed.items()}, "cpu_s": round(process_time() - begun, 1)}


def recovered(one: Line) -> bool:
    """True if a part counts as learnt."""
    return bool(one["exact"] and not one["own_test_failures"])


def run(half: str, out: Path, every: int = 1, workers: int = 1) -> list[Line]:
    """One half, or each so many'th part of it: a line for each, in order."""
    parts = HALVES[half]()[::every]
    return work(out, _one, ((k, part.number) for k, part in enumerate(parts)), len(parts), workers, half, SOURCES)


def figures(half: str, lines: Sequence[Line]) -> Iterator[tuple[str, float, str]]:
    """Name, value, unit."""
    yield f"learn_{half}_percent", 100 * sum(map(recovered, lines)) / len(lines), f"% of {len(lines)}"
    yield f"learn_{half}_looks_max", max(one["looks"] for one in lines), "looks"


def main() -> None:
    """The halves asked for; what was not recovered, and the figures."""
    given = asked(__doc__.splitlines()[0], tuple(HALVES), Path("build/learn"), "every", 1)
    for half in given.half:
        lines = run(half, given.out / f"{half}{'' if given.every == 1 else given.every}.jsonl", given.every, given.workers)
        tell(half, lines, lambda one: not recovered(one), figures(half, lines))


if __name__ == "__main__":
    main()
