"""A chip on paper: it does what a definition of the library says, from a state drawn by lot, with some noise.

For the whole library, of which there are not virtual chips for every part.  It tries what chooses and what believes,
not definitions nor electricity: the chip's logic is the library's own.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Mapping, Sequence
from functools import cache

from sagbench.identify.belief import Seen
from sagbench.identify.candidates import Candidate, candidates_of
from sagbench.identify.choose import Pattern
from sagbench.identify.follow import Follower, Says
from sagbench.identify.run import Identification, powerable, search
from sagbench.identify.seating import Hypothesis
from sagbench.parts.behaviour import Machine
from sagbench.parts.lookup import file_names, load_file
from sagbench.plan.fixture import load_fixture
from sagbench.plan.seat import Seat

NOISE = 0.001           # readings that are something else


@cache
def library() -> tuple[Candidate, ...]:
    """All candidates that the full fixture can power."""
    made = candidates_of(load_file(path) for path in file_names().values())
    return powerable(load_fixture("bench24"), made)


class PaperBench:
    """What `identify.bench.Bench` does, without a chip.  dead: pin -> what it does instead of its part."""

    def __init__(self, truth: Candidate, seed: int, dead: Mapping[int, Says] | None = None) -> None:
        self.random = random.Random(seed)
        start = [self.random.random() < 0.5 for _ in truth.network.registers]
        self.truth = Follower(truth, Machine(truth.network, start=start))
        self.dead = dict(dead or {})
        self.driven: dict[int, bool] = {}
        self.looks = 0
        self.heavy: set[int] = set()
        self.low_amperes: dict[int, list[float]] = {}

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        out = []
        for pattern in patterns:
            for pin, level in pattern.changes:
                self.truth.set(((pin, level),))
                if level is None:
                    self.driven.pop(pin, None)
                else:
                    self.driven[pin] = level
            for pin, count in pattern.pulses:
                self.truth.pulse(pin, count)
            if pattern.look:
                self.looks += 1
                out.append({pin: self._seen(pin) for pin in pins})
        return out

    def _seen(self, pin: int) -> Seen:
        if self.random.random() < NOISE:
            return self.random.choice((Seen.HOLDS_LOW, Seen.FOLLOWS_HIGH) if self.driven[pin] else (Seen.HOLDS_HIGH, Seen.FOLLOWS_LOW)) \
                if pin in self.driven else self.random.choice((Seen.LOW, Seen.HIGH, Seen.OFF))
        says = self.dead.get(pin, self.truth.says().get(pin, Says.OFF))
        if says in (Says.UNKNOWN, Says.NOTHING):
            says = self.random.choice((Says.LOW, Says.HIGH))
        if pin in self.driven:
            level = self.driven[pin]
            follows = says in (Says.INPUT, Says.OFF) or (says is Says.HIGH) == level
            return {(True, True): Seen.FOLLOWS_HIGH, (True, False): Seen.HOLDS_LOW, (False, True): Seen.FOLLOWS_LOW,
                    (False, False): Seen.HOLDS_HIGH}[level, follows]
        return {Says.LOW: Seen.LOW, Says.HIGH: Seen.HIGH, Says.OFF: Seen.OFF, Says.INPUT: Seen.HIGH}[says]


def on_paper(truth: Candidate, seed: int, dead: Mapping[int, Says] | None = None,
             rivals: Sequence[Candidate] | None = None) -> Identification:
    """The truth among all candidates with its rails (or `rivals`)."""
    known = tuple(c for c in (library() if rivals is None else rivals) if c.rail == truth.rail)
    bench = PaperBench(truth, seed, dead)
    return search(bench, Hypothesis(Seat(24, truth.rail.size), truth.rail, 0, truth.rail.size, known), [Follower(c) for c in known], lambda *_: None)  # type: ignore[arg-type]


def a_dead_output(truth: Candidate, rng: random.Random) -> dict[int, Says]:
    """One output, by lot, that is stuck or without drive."""
    outputs = [pin for pin, role in enumerate(truth.roles, 1) if role.is_output]
    return {rng.choice(outputs): rng.choice((Says.LOW, Says.HIGH, Says.OFF))} if outputs else {}


def place(found: Identification, truth: Candidate) -> int:
    """Where the class with the truth stands; 0: nowhere."""
    return next((i for i, a in enumerate(found.ranked, 1) if truth in a.members), 0)
