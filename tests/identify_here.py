"""Chips identified at an in-process virtual fixture: for tests, figures and a study.

    python tests/identify_here.py [dead] [seed=N] [NUMBER ...]

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
import sys
from collections.abc import Container, Iterator, Mapping
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
            pin = rng.choice([name.removeprefix("<>") for name in PARTS[number].output_names()])
            chip["fault"] = [rng.choice(({"kind": "dead", "pin": pin}, {"kind": "stuck", "pin": pin, "level": "low"},
                                         {"kind": "stuck", "pin": pin, "level": "high"}))]
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


def study(seed: int, *, dead: bool, count: int | None = None, numbers: Container[str] = ()) -> Iterator[Result]:
    """Identify them one after the other; `numbers`: only these."""
    for case in cases(seed, dead=dead, count=count):
        if not numbers or case.number in numbers:
            found, seconds, violations = identify_here(case.chip, case.seed)
            yield Result(case, place(found, case.number), seconds, len(violations), found)


def main() -> None:
    """Every chip, and the figures at the end."""
    words = sys.argv[1:]
    seed = next((int(w[5:]) for w in words if w.startswith("seed=")), 1)
    results = []
    for result in study(seed, dead="dead" in words, numbers=[w for w in words if w != "dead" and "=" not in w]):
        results.append(result)
        found, mark = result.found, "" if result.place == 1 and not result.violations else "   <-"
        print(f"{dict(result.case.chip)} seed {result.case.seed}: place {result.place}, {result.seconds:.2f} s, {found.looks} looks, "
              f"none {found.none:.3f} {found.problem}{mark}", flush=True)
        if mark:
            for answer in found.ranked[:3]:
                print(f"      {answer.probability:.3f} {[c.function for c in answer.members]} bad pins {answer.bad_pins}", flush=True)
    count = len(results)
    print(f"first {sum(r.place == 1 for r in results)} of {count}, among three {sum(1 <= r.place <= 3 for r in results)}, "
          f"longest {max(r.seconds for r in results):.2f} s, beyond ratings {sum(r.violations for r in results)}")


if __name__ == "__main__":
    main()
