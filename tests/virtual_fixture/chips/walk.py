"""A course through a part's states that shows every stuck input, found on its own logic.

It starts with random steps and goes on with stretches that are kept only if they show
one more input stuck high or low at some output, or an output in one more of its states.
Found once a process for a part.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import copy
import random
from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from .behaviour import OFF, PARTS, Part

OPENING = 40                      # random steps at the start
STRETCHES = (6, 10, 24)           # steps of a stretch
TRIALS = 1500                     # stretches tried
POWER_UPS = (0, 1, 2, 3, 4)             # states of the registers it must work from
HABITS = (0.03, 0.5, 0.97)        # how often an input is high during a stretch

Levels = dict[str, int]


class Reference:
    """A sound part's logic, told of every change as the chip's own logic is.

    stuck: an input the logic always sees at that level.
    """

    def __init__(self, part: type[Part], seed: int, stuck: tuple[str, int] | None = None) -> None:
        # The registers' stream of Chip: both come up alike.
        self.part = part(random.Random(f"{seed}/registers"))
        self.stuck = stuck
        self.both = [n.removeprefix("<>") for n in part.output_names() if n.startswith("<>")]
        self.started = False

    def step(self, levels: Levels) -> Levels:
        """Outputs by name (0, 1, OFF) after the inputs have taken these levels."""
        out = self._react(levels)
        if self.both:             # a pin that drives is what the logic sees there
            out = self._react(levels | {n: out[n] for n in self.both if out[n] != OFF})
        return out

    def _react(self, levels: Levels) -> Levels:
        now = dict(levels)
        if self.stuck:
            now[self.stuck[0]] = self.stuck[1]
        if self.started:
            self.part.before, self.part.now = self.part.now, now
        else:
            self.part.power_up()
            self.part.now, self.part.before, self.started = now, dict(now), True
        return {n.removeprefix("<>"): v for n, v in self.part.evaluate(now).items()}

    def snapshot(self) -> dict[str, Any]:
        return {k: copy.copy(v) for k, v in vars(self.part).items() if k != "rng"}

    def restore(self, kept: dict[str, Any]) -> None:
        vars(self.part).update({k: copy.copy(v) for k, v in kept.items()})


def _stretch(names: list[str], rng: random.Random) -> Iterator[Levels]:
    """Every input with a habit of its own, or all the same; one is a clock and changes always."""
    all_alike = rng.choice(HABITS) if rng.random() < 0.3 else None
    habit = {n: rng.choice(HABITS) if all_alike is None else all_alike for n in names}
    clock = rng.choice(names)
    now = {n: int(rng.random() < habit[n]) for n in names}
    for _ in range(rng.choice(STRETCHES)):
        yield dict(now)
        now[clock] ^= 1
        if rng.random() < 0.5:
            name = rng.choice(names)
            now[name] = int(rng.random() < habit[name])


def _opening(names: list[str], rng: random.Random) -> Iterator[Levels]:
    yield dict.fromkeys(names, 1)
    for k in range(OPENING):
        share = (0.5, 0.9, 0.1, 0.75)[k % 4]
        yield {n: int(rng.random() < share) for n in names}
    yield dict.fromkeys(names, 0)


class _Race:
    """Sound and faulty references side by side, from one power-up state."""

    def __init__(self, part: type[Part], seed: int) -> None:
        names = part.input_names()
        self.good = Reference(part, seed)
        three = part.three_state_names()
        outputs = [n.removeprefix("<>") for n in part.output_names()]
        self.states = {(n, v) for n in outputs for v in (0, 1, OFF) if v != OFF or n in three}
        self.faulty = [Reference(part, seed, (n, v)) for n in names for v in (0, 1)]

    def run(self, steps: list[Levels]) -> int:
        """Take the steps; faults that show at an output leave, and states that an output
        takes.  How many there were."""
        before = self.left()
        for levels in steps:
            expected = self.good.step(levels)
            self.states -= expected.items()
            self.faulty = [f for f in self.faulty if f.step(levels) == expected]
        return before - self.left()

    def left(self) -> int:
        return len(self.faulty) + len(self.states)

    def snapshot(self) -> list[dict[str, Any]]:
        return [r.snapshot() for r in (self.good, *self.faulty)]

    def restore(self, kept: list[dict[str, Any]]) -> None:
        for reference, state in zip((self.good, *self.faulty), kept, strict=True):
            reference.restore(state)


@cache
def course(number: str) -> tuple[Levels, ...]:
    """Input levels by name, step by step; the same for a part number always."""
    part = PARTS[number]
    names, rng = part.input_names(), random.Random(f"course/{number}")
    races = [_Race(part, seed) for seed in POWER_UPS]
    steps = list(_opening(names, rng))
    for race in races:
        race.run(steps)
    for _ in range(TRIALS):
        if not any(race.left() for race in races):
            break
        stretch = list(_stretch(names, rng))
        kept = [race.snapshot() for race in races]
        if sum(race.run(stretch) for race in races):
            steps += stretch
        else:
            for race, state in zip(races, kept, strict=True):
                race.restore(state)
    return tuple(steps)


def one_at_a_time(steps: Iterable[Levels]) -> Iterator[Levels]:
    """The same walk with one input changed in each step: no clock with its data, for books give a set-up time."""
    now: Levels = {}
    for levels in steps:
        if not now:
            now = dict(levels)
            yield dict(now)
        for name in (n for n in levels if levels[n] != now[n]):
            now[name] = levels[name]
            yield dict(now)


def counts(outputs: Levels) -> tuple[int, int, int]:
    """How many outputs are low, high, off."""
    values = list(outputs.values())
    return values.count(0), values.count(1), values.count(OFF)
