"""Chips identified at an in-process virtual fixture: for tests, figures and a study.

`tests/identify_library.py` is the long run.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any

from inprocess import BOOT_S

from sagbench.device import Device
from sagbench.identify.candidates import Candidate, candidates_of
from sagbench.identify.run import Identification, identify
from sagbench.parts.lookup import file_names, load_file
from virtual_fixture.chips import databook
from virtual_fixture.chips.behaviour import PARTS, key_parts
from virtual_fixture.chips.families import name_of
from virtual_fixture.chips.population import available
from virtual_fixture.inproc import Fixture


# One bad output: without drive, stuck, or weak by what stands in its bond wire.
BAD = ({"kind": "dead"}, {"kind": "stuck", "level": "low"}, {"kind": "stuck", "level": "high"}, {"kind": "series", "ohms": 470},
       {"kind": "series", "ohms": 3300})


@cache
def library() -> tuple[Candidate, ...]:
    """All candidates of the library, read once a process."""
    return candidates_of(load_file(path) for path in file_names().values())


def identify_here(chip: Any, seed: int, build: Mapping[str, Any] | None = None, **options: Any) -> tuple[Identification, float, list[Any]]:
    """Identify one chip: what was found, simulated seconds, and what was driven beyond its ratings.

    build: words of the virtual fixture (`wiring`: another one's file).
    """
    with Fixture(seed=seed, **(build or {})) as fixture:
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


def cases(seed: int, *, bad: bool, count: int) -> list[Case]:
    """Chips of every function, pinout and logic in turns, drawn anew in each turn, of families drawn by lot
    from those that the data book or else the chip's class names.

    bad: with one output, drawn too, that is dead, stuck or weak.
    """
    rng = random.Random(f"identify/{seed}/{bad}")
    made: list[Case] = []
    while len(made) < count:
        for key in rng.sample(sorted(PARTS), min(len(PARTS), count - len(made))):
            family = rng.choice([f for f in databook.families_of(key) if available(key, f)] or PARTS[key].families.split() or ["TTL"])
            number = key_parts(key)[1]
            chip: dict[str, Any] = {"part": name_of(number, family)}
            if bad:
                pin = rng.choice([name.removeprefix("<>") for name in PARTS[key].output_names()])
                chip["fault"] = [{"pin": pin} | rng.choice(BAD)]
            made.append(Case(number, chip, rng.randrange(1, 10**6)))
    return made


def place(found: Identification, number: str) -> int:
    """Where the truth, or the class that it is in, stands in the ranking; 1 is the first, 0: nowhere."""
    return next((i for i, a in enumerate(found.ranked, 1) if number in {c.function for c in a.members}), 0)


@dataclass(frozen=True)
class Result:
    """One chip of the study: its place (0: nowhere), simulated seconds, and what was driven beyond its ratings."""

    case: Case
    place: int
    seconds: float
    violations: int
    found: Identification


def study(seed: int, *, bad: bool, count: int) -> Iterator[Result]:
    """Identify them one after the other."""
    for case in cases(seed, bad=bad, count=count):
        yield identified(case)


def identified(case: Case) -> Result:
    """One of them."""
    found, seconds, violations = identify_here(case.chip, case.seed)
    return Result(case, place(found, case.number), seconds, len(violations), found)
