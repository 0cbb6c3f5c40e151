"""Chips identified at an in-process virtual fixture: for figures and studies.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
import sys
import time
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from inprocess import BOOT_S

from sagbench.device import Device
from sagbench.identify.candidates import Candidate, candidates_of
from sagbench.identify.run import Identification, identify
from sagbench.parts.lookup import file_names, load_file
from virtual_fixture.chips import databook
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.population import available, name_of
from virtual_fixture.inproc import Fixture


@cache
def library() -> tuple[Candidate, ...]:
    """All candidates of the library, read once a process."""
    return candidates_of(load_file(path) for path in file_names().values())


def identify_here(chip: Any, seed: int, **options: Any) -> tuple[Identification, float, list[Any]]:
    """Identify one chip: what was found, simulated seconds, and what was driven beyond its ratings."""
    with Fixture(seed=seed) as fixture:
        fixture.insert(chip)
        fixture.run(BOOT_S)
        begun = fixture.now_s
        with Device(fixture.line) as device:
            found = identify(device, library(), **options)
        return found, fixture.now_s - begun, list(fixture.violations)


@dataclass(frozen=True)
class Case:
    """One chip of the study: its description, what it is, and the fixture's and the chip's seed."""

    number: str
    chip: Mapping[str, Any]
    seed: int


def cases(seed: int, *, dead: bool, count: int | None = None) -> list[Case]:
    """A chip of each function that there are virtual chips of (or of `count` of them), of a family drawn by lot.

    dead: with one output, drawn too, that neither drives low nor high, or is stuck.
    """
    rng = random.Random(f"identify/{seed}/{dead}")
    numbers = sorted(PARTS)
    made = []
    for number in numbers if count is None else rng.sample(numbers, count):
        family = rng.choice([f for f in databook.families_of(number) if available(number, f)] or ["TTL"])
        chip: dict[str, Any] = {"part": name_of(number, family)}
        if dead:
            pin = rng.choice([n for n in PARTS[number].output_names() if not n.startswith("<>")] or [PARTS[number].output_names()[0].removeprefix("<>")])
            chip["fault"] = [rng.choice(({"kind": "dead", "pin": pin}, {"kind": "stuck", "pin": pin, "level": "low"},
                                         {"kind": "stuck", "pin": pin, "level": "high"}))]
        made.append(Case(number, chip, rng.randrange(1, 10**6)))
    return made


def place(found: Identification, number: str) -> int:
    """Where the truth, or the class that it is in, stands in the ranking; 1 is the first, 0: nowhere."""
    return next((i for i, a in enumerate(found.ranked, 1) if number in {c.function for c in a.members}), 0)


def main() -> None:
    """A study: `python tests/identify_here.py [dead] [SEED] [PART ...]`."""
    words = sys.argv[1:]
    dead = "dead" in words
    names = [w for w in words if w != "dead" and not w.startswith("seed=")]
    seed = next((int(w[5:]) for w in words if w.startswith("seed=")), 1)
    chosen = [c for c in cases(seed, dead=dead) if not names or c.number in names]
    places = []
    for case in chosen:
        begun = time.process_time()
        try:
            found, took, violations = identify_here(case.chip, case.seed)
        except Exception as error:  # a study goes on
            print(case.chip, "ERROR", repr(error), flush=True)
            places.append(0)
            continue
        places.append(place(found, case.number))
        good = places[-1] == 1 and not violations
        print("ok  " if good else "BAD ", case.chip, case.seed, "place", places[-1], f"{took:.2f} s, cpu {time.process_time() - begun:.1f}",
              "looks", found.looks, "none", f"{found.none:.3f}", found.problem, violations[:2], flush=True)
        if not good:
            print("      ", found.rail, [(round(a.probability, 3), [c.function for c in a.members], a.bad_pins) for a in found.ranked[:4]], flush=True)
    print("first", sum(p == 1 for p in places) / len(places), "top three", sum(1 <= p <= 3 for p in places) / len(places), len(places))


if __name__ == "__main__":
    main()
