"""The chip as the learner sees it: levels in, and what its pins do.

Anything that plays patterns as `identify.bench.Bench` does will do: the chip in the socket, or, in tests, the
behaviour of a library's part with access to its pins only.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from sagbench.identify.belief import Seen
from sagbench.identify.choose import Pattern
from sagbench.identify.follow import Change
from sagbench.learn.functions import Sampled
from sagbench.parts.model import Role

BATCH = 200  # patterns of one pass
QUIET = 4  # rounds without a new output, and no more are looked for
ROUND = 100  # patterns of a round: an open collector of a decoder sinks in one state of sixteen
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9, 0.97)  # of inputs high: wide gates answer only to extremes
FREE = (Seen.LOW, Seen.HIGH, Seen.OFF)
HOLDS = (Seen.HOLDS_LOW, Seen.HOLDS_HIGH)

Look = tuple[Seen | None, ...]  # LOW, HIGH or OFF of each output in order; None: it cannot be told


class Specimen(Protocol):
    """A powered chip; patterns change pins one at a time, and what is not changed stays."""

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        """What these pins were seen to do after each pattern."""


@dataclass(frozen=True)
class Both:
    """A pin that is an output and an input.  `off`: when it is let go, over the inputs (reduced to its support `mask`);
    None: a resistor inside pulls it up, and it may be pulled low at any time."""

    pin: int
    off: Sampled | None = None
    mask: int = 0

    def level(self, point: int, bit: bool) -> bool | None:
        """What to drive it to for a variable's value; None: let it go."""
        if self.off is None:
            return None if bit else False
        return bit if point & self.mask in self.off.ones else None


@dataclass
class Bench:
    """A specimen, its inputs and outputs (pin numbers), the levels it holds, and how often it was looked at.

    Points are integers, bit i the level of `inputs[i]`.  Pins of `both` are the last of the inputs, and outputs too.
    """

    specimen: Specimen
    inputs: tuple[int, ...]
    outputs: tuple[int, ...]
    rng: random.Random
    both: tuple[Both, ...] = ()
    looks: int = 0
    point: int = 0
    watched: frozenset[int] = frozenset()  # inputs that may be outputs which have not driven yet,
    overlooked: set[int] = field(default_factory=set)  # and those that then held a level against the line
    looked: Callable[[int], None] = lambda looks: None  # called now and then with all looks so far
    _held: dict[int, bool] = field(default_factory=dict, repr=False)

    def give(self, points: Iterable[int]) -> Iterator[tuple[int, Look]]:
        """Give points one after the other, pins changing one by one, ascending; each with what the outputs did."""
        todo = list(points)
        for start in range(0, len(todo), BATCH):
            batch = todo[start : start + BATCH]
            seen = self.specimen.play([self._to(point) for point in batch], (*self.outputs, *self.watched))
            self.looks += len(batch)
            self.looked(self.looks)
            self.overlooked |= {pin for one in seen for pin in self.watched if one.get(pin) in HOLDS}
            for point, one in zip(batch, seen, strict=True):
                yield self._shown(point, one), tuple(did if (did := one.get(pin)) in FREE else None for pin in self.outputs)

    def levels(self, point: int) -> dict[int, bool | None]:
        """What each input is driven to, in this order; None: let go."""
        plain = len(self.inputs) - len(self.both)
        out: dict[int, bool | None] = {pin: bool((point >> i) & 1) for i, pin in enumerate(self.inputs[:plain])}
        return out | {one.pin: one.level(point, bool((point >> i) & 1)) for i, one in enumerate(self.both, plain)}

    def _to(self, point: int) -> Pattern:
        changes = self._changes(self._held, point)
        self._held = {pin: level for pin, level in self.levels(point).items() if level is not None}
        self.point = point
        return Pattern(changes)

    def _changes(self, held: Mapping[int, bool], point: int) -> tuple[Change, ...]:
        """From levels that are held to a point, in order: pins that are both are let go before anything else moves."""
        two_way = {one.pin for one in self.both}
        freed: list[Change] = [(pin, None) for pin in sorted(two_way & set(held))]
        return (*freed, *((p, level) for p, level in self.levels(point).items()
                          if level is not None and (p in two_way or held.get(p) is not level)))  # fmt: skip

    def way(self, points: Iterable[int]) -> Iterator[tuple[Change, ...]]:
        """What is changed for each of these points, one after the other, from all inputs low and pins that are both let go."""
        held = dict.fromkeys(self.inputs[: len(self.inputs) - len(self.both)], False)
        for point in points:
            yield self._changes(held, point)
            held = {pin: level for pin, level in self.levels(point).items() if level is not None}

    def _shown(self, point: int, one: Mapping[int, Seen]) -> int:
        """The point as it came to be: a pin that is pulled up inside is low where the chip itself holds it there."""
        plain = len(self.inputs) - len(self.both)
        low = sum(1 << i for i, both in enumerate(self.both, plain) if both.off is None and one.get(both.pin) is Seen.LOW)
        return point & ~low

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
