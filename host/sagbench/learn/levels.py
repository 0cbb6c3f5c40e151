"""Outputs without memory: which they are, what each depends on, and every combination of that.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from sagbench.identify.belief import Seen
from sagbench.learn.functions import Sampled
from sagbench.learn.specimen import Bench, Look
from sagbench.learn.walks import walk

WHOLE = 10  # inputs up to which simply everything is tried
MOST = 16  # inputs of a section of which everything is tried
POOL = 24  # points that are come back to from everywhere, to see what remembers
VISITS = 16
STROLL = 600  # toggles, for what only a clock shows
BASES = 300  # points around which every input is moved: one of 16 data inputs shows at one in 32


@dataclass
class Watched:
    """What one output was seen to do, at which points."""

    low: set[int] = field(default_factory=set)
    high: set[int] = field(default_factory=set)
    off: set[int] = field(default_factory=set)

    def add(self, point: int, did: Seen | None) -> None:
        """One look."""
        if did is not None:
            {Seen.LOW: self.low, Seen.HIGH: self.high, Seen.OFF: self.off}[did].add(point)

    @property
    def kinds(self) -> set[Seen]:
        """All it ever did."""
        return {kind for kind, at in ((Seen.LOW, self.low), (Seen.HIGH, self.high), (Seen.OFF, self.off)) if at}

    @property
    def value(self) -> Sampled:
        """Its level; off counts as high where it never drives high (an open collector)."""
        return Sampled(frozenset(self.high or self.off), frozenset(self.low))

    @property
    def away(self) -> Sampled:
        """When it is off."""
        return Sampled(frozenset(self.off), frozenset(self.low | self.high))

    @property
    def remembers(self) -> bool:
        """True if it did not always do the same at the same point."""
        return self.value.contradicts or self.away.contradicts


class Levels:
    """Looks at a specimen's outputs as if they had no memory; `seen` tells of each (by place in `bench.outputs`)."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.seen = [Watched() for _ in bench.outputs]
        self.moved = [0] * len(bench.outputs)  # inputs that moved it

    def look(self) -> None:
        """Everything: who remembers, what depends on what, and all combinations within reach."""
        rng, bench = self.bench.rng, self.bench
        pool = [bench.some_point() for _ in range(POOL)]
        self.note(rng.choice(pool) if turn % 2 else bench.some_point() for turn in range(2 * POOL * VISITS))
        self.note(walk(bench, STROLL))
        if len(bench.inputs) <= WHOLE:
            self.note(rng.sample(range(1 << len(bench.inputs)), 1 << len(bench.inputs)))
            self.note(rng.sample(range(1 << len(bench.inputs)), 1 << len(bench.inputs)))
        else:
            self._move_each()
            self._sections()

    def note(self, points: Iterable[int]) -> list[tuple[int, Look]]:
        """Give points, and keep what was seen."""
        looks = list(self.bench.give(points))
        self.keep(looks)
        return looks

    def keep(self, looks: Iterable[tuple[int, Look]]) -> None:
        """Looks that were taken otherwise."""
        for point, look in looks:
            for one, did in zip(self.seen, look, strict=True):
                one.add(point, did)

    def _move_each(self) -> None:
        n = len(self.bench.inputs)
        points = []
        for _ in range(BASES):
            base = self.bench.some_point()
            points += [base]
            for i in self.bench.rng.sample(range(n), n):
                points += [base ^ (1 << i), base]
        looks = self.note(points)
        for (last, before), (point, look) in zip(looks, looks[1:], strict=False):
            if (point ^ last).bit_count() == 1:
                for j, (was, did) in enumerate(zip(before, look, strict=True)):
                    if was is not None and did is not None and was is not did:
                        self.moved[j] |= point ^ last

    def sections(self) -> list[int]:
        """Masks of inputs that have an output in common that does not remember, small enough for all combinations."""
        masks: list[int] = []
        for one, moved in zip(self.seen, self.moved, strict=True):
            if moved and not one.remembers:
                apart = [m for m in masks if not m & moved]
                masks = [*apart, moved | _union(m for m in masks if m & moved)]
        return [m for m in masks if m.bit_count() <= MOST]

    def _sections(self) -> None:
        """All sections at once, each through all its combinations in an order of its own, the other inputs at random."""
        sections = self.sections()
        if not sections:
            return
        rng, bench = self.bench.rng, self.bench
        length = max(1 << m.bit_count() for m in sections)
        orders = {m: rng.sample(range(1 << m.bit_count()), 1 << m.bit_count()) for m in sections}
        points = []
        for turn in range(length):
            point = bench.some_point()
            for m, order in orders.items():
                point = point & ~m | spread(order[turn % len(order)], m)
            points.append(point)
        self.note(points)


def spread(number: int, variables: int) -> int:
    """The bits of a number, lowest first, put where the mask has ones."""
    out, k = 0, 0
    for i in range(variables.bit_length()):
        if (variables >> i) & 1:
            out |= ((number >> k) & 1) << i
            k += 1
    return out


def combinations(function: Sampled, variables: int) -> float:
    """How much of all combinations of these variables was seen, 0 to 1."""
    over = function.over(variables)
    return float(len(over.ones | over.zeros) / (1 << variables.bit_count()))


def _union(masks: Iterable[int]) -> int:
    out = 0
    for m in masks:
        out |= m
    return out
