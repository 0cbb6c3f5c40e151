"""`sagbench identify` over the whole library: each line is kept, so that a run that was stopped goes on where it was.

    python tests/identify_library.py [--chips N] [--workers W] [HALF ...]

    sound     N virtual chips in the virtual fixture, drawn by lot; without --chips one of every function, pinout and logic
    bad       the same with one output that is dead, stuck or weak
    paper     every function of the library on paper (its own definition, noise): what chooses and believes, without electricity
    deadpaper the same with a dead or stuck output
    strange   the same as `paper`, but the library has not got it nor what cannot be told from it: is "none of these" said?

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

from halves import Line, asked, tell
from identify_here import cases, identified
from study.lines import ROOT, work
from virtual_fixture.chips.behaviour import PARTS

sys.path.append(str(ROOT / "tests/host/identify"))
import paper

SOURCES = ("host/sagbench/identify/*", "host/sagbench/parts/**/*", "host/sagbench/vectors/*", "host/sagbench/plan/*", "host/sagbench/measure/contact.py",
           "firmware/core/*", "firmware/port_pc/*", "hardware/*.toml", "tests/virtual_fixture/**/*", "tests/identify*.py", "tests/host/identify/paper.py")
SEED = 1
CHIPS = len(PARTS)              # one of every function, and of each pinout and logic that it has


def _chip(job: tuple[int, bool, int]) -> Line:
    index, bad, count = job
    result = identified(cases(SEED, bad=bad, count=count)[index])
    return {"index": index, "what": dict(result.case.chip), "seed": result.case.seed, "place": result.place, "seconds": result.seconds,
            "beyond_ratings": result.violations, "none": result.found.none, "found": result.found.found, "problem": result.found.problem}


def _paper(job: tuple[int, str]) -> Line:
    index, half = job
    truth = paper.library()[index]
    rng = random.Random(f"{SEED}/{index}/{truth.function}")
    dead = paper.a_dead_output(truth, rng) if half == "deadpaper" else {}
    seed, rivals = rng.randrange(10**6), None
    if half == "strange":
        twins = {m for answer in paper.on_paper(truth, seed).ranked if truth in answer.members for m in answer.members}
        rivals = [c for c in paper.library() if c not in twins]
        if not any(c.rail == truth.rail for c in rivals):
            return {"index": index, "what": truth.function, "alone": True}
    found = paper.on_paper(truth, seed, dead, rivals)
    first = found.ranked[0] if found.ranked else None
    return {"index": index, "what": truth.function, "dead": [f"{p}: {s.value}" for p, s in dead.items()], "place": paper.place(found, truth),
            "none": found.none, "found": found.found, "first": [c.function for c in first.members] if first else []}


def _jobs(half: str, count: int) -> Iterator[tuple[Any, ...]]:
    return ((k, half == "bad", count) if half in ("sound", "bad") else (k, half) for k in range(count))


def run(half: str, chips: int, out: Path, workers: int = 1) -> list[Line]:
    """One half: a line for each chip, in order; those that `out` has are not done again."""
    fixture = half in ("sound", "bad")
    count = chips if fixture else len(paper.library())
    do: Callable[[Any], Line] = _chip if fixture else _paper
    return work(out, do, _jobs(half, count), count, workers, half, SOURCES)


def figures(half: str, lines: Sequence[Line]) -> Iterator[tuple[str, float, str]]:
    """Name, value, unit."""
    lines = [one for one in lines if not one.get("alone")]
    count = len(lines)
    if half == "strange":
        yield "identify_strange_not_named_percent", 100 * sum(not one["found"] for one in lines) / count, f"% of {count}"
        return
    yield f"identify_{half}_first_percent", 100 * sum(one["place"] == 1 for one in lines) / count, f"% of {count}"
    yield f"identify_{half}_top3_percent", 100 * sum(1 <= one["place"] <= 3 for one in lines) / count, f"% of {count}"
    if half in ("sound", "bad"):
        yield f"identify_{half}_time_s_max", max(one["seconds"] for one in lines), "s"
        yield f"identify_{half}_overstress_events", sum(one["beyond_ratings"] for one in lines), "events"


def main() -> None:
    """The halves asked for, all if none is; then what was wrong, and the figures."""
    halves = ("sound", "bad", "paper", "deadpaper", "strange")
    given = asked(__doc__.splitlines()[0], halves, Path("build/identify"), "chips", CHIPS)
    for half in given.half:
        lines = run(half, given.chips, given.out / f"{half}{given.chips if half in ('sound', 'bad') else ''}.jsonl", given.workers)

        def wrong(one: Line, half: str = half) -> bool:
            return not one.get("alone") and bool(one["found"] if half == "strange" else one["place"] != 1)

        tell(half, lines, wrong, figures(half, lines))


if __name__ == "__main__":
    main()
