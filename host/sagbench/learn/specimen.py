"""The chip as the learner sees it: levels in, and what its pins do.

Anything that plays patterns as `identify.bench.Bench` does will do: the chip in the socket, or, in tests, the
behaviour of a library's part with access to its pins only.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from sagbench.identify.belief import Seen
from sagbench.identify.choose import Pattern
from sagbench.parts.model import Role

BATCH = 200  # patterns of one pass
QUIET = 3  # rounds without a new output, and no more are looked for
ROUND = 40  # patterns of a round
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9, 0.97)  # of inputs high: wide gates answer only to extremes
HOLDS = (Seen.HOLDS_LOW, Seen.HOLDS_HIGH)

Look = tuple[Seen | None, ...]  # LOW, HIGH or OFF of each output in order; None: it cannot be told


class Specimen(Protocol):
    """A powered chip; patterns change pins one at a time, and what is not changed stays."""

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        """What these pins were seen to do after each pattern."""


@dataclass
class Bench:
    """A specimen, its inputs and outputs (pin numbers, ascending), the levels it holds, and how often it was looked at.

    Points are integers, bit i the level of `inputs[i]`.
    """

    specimen: Specimen
    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    rng: random.Random
    point: int = 0
    looks: int = 0
    _begun: bool = field(default=False, repr=False)

    def give(self, points: Iterable[int]) -> Iterator[tuple[int, Look]]:
        """Give points one after the other, pins changing one by one, ascending; each with what the outputs did."""
        todo = list(points)
        if not self._begun:
            self.specimen.play([Pattern(tuple((pin, False) for pin in self.inputs), look=False)], ())
            self.point, self._begun = 0, True
        for start in range(0, len(todo), BATCH):
            batch = todo[start : start + BATCH]
            seen = self.specimen.play([self._to(point) for point in batch], self.outputs)
            self.looks += len(batch)
            yield from ((point, tuple(one.get(pin) for pin in self.outputs)) for point, one in zip(batch, seen, strict=True))

    def _to(self, point: int) -> Pattern:
        changes = [(pin, bool((point >> i) & 1)) for i, pin in enumerate(self.inputs) if ((point ^ self.point) >> i) & 1]
        self.point = point
        return Pattern(tuple(changes))

    def some_point(self, fixed: int = 0, at: int = 0) -> int:
        """A point at random, mostly high, mostly low or half of each; variables of the mask `fixed` as in `at`."""
        share = self.rng.choice(SHARES)
        point = sum((self.rng.random() < share) << i for i in range(len(self.inputs)))
        return point & ~fixed | at & fixed


def find_outputs(specimen: Specimen, pins: Sequence[int], rng: random.Random) -> tuple[int, ...]:
    """Pins that hold a level against 560 ohm, sometimes.  All are driven at random; what holds is let go from then on."""
    outputs: set[int] = set()
    quiet = 0
    while quiet < QUIET:
        driven = [pin for pin in pins if pin not in outputs]
        share = rng.choice(SHARES)
        patterns = []
        for _ in range(ROUND):
            changes = [(pin, rng.random() < share) for pin in driven]
            rng.shuffle(changes)
            patterns.append(Pattern(tuple(changes)))
            share = rng.choice(SHARES)
        seen = specimen.play(patterns, driven)
        new = {pin for one in seen for pin, did in one.items() if did in HOLDS}
        if new:
            specimen.play([Pattern(tuple((pin, None) for pin in sorted(new)), look=False)], ())
        outputs |= new
        quiet = 0 if new else quiet + 1
    return tuple(sorted(outputs))


def role_of(seen: Iterable[Seen]) -> Role:
    """What an output is, from all it was seen to do when let alone."""
    did = set(seen)
    if Seen.OFF not in did:
        return Role.OUTPUT
    return Role.TRI_STATE if Seen.HIGH in did else Role.OPEN_COLLECTOR
