"""The next patterns: those that are expected to tell the remaining candidates apart.

A pattern's worth is the mutual information between "which candidate" and what the pins will be seen to do, in bits,
summed over the pins (the pins are not independent, so the sum is an upper bound; as an order among patterns it does).
Patterns come from two places: at random, while there are many candidates; and from the candidates' own logic tests,
which know how to count a counter and address a memory, played on all candidates at once.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log2

from sagbench.identify.candidates import Candidate
from sagbench.identify.follow import Change, Follower, Says

FEW = 10  # candidates that are compared by their own logic tests
LONGEST = 160  # steps of a logic test that are played
TRAIN = 300  # pulses at once that are followed in every candidate
SHARES = (0.1, 0.3, 0.5, 0.7, 0.9)  # of pins high in a pattern at random: wide gates answer only to extremes
PROPOSALS = 5  # patterns at random that are compared,
MANY = 60  # unless there are so many candidates that any pattern tells much
WORTH = 0.05  # bits: less is not looked for


@dataclass(frozen=True)
class Pattern:
    """Changes in order, one after the other, and pulses; then, if `look`, all pins are read."""

    changes: tuple[Change, ...]
    pulses: tuple[tuple[int, int], ...] = ()
    look: bool = True


def drivable(candidates: Iterable[Candidate]) -> frozenset[int]:
    """Pins that one of them calls an input: these are driven; what all call an output is left to the chip."""
    return frozenset(pin for c in candidates for pin, role in enumerate(c.roles, 1) if role.is_input)


def random_pattern(now: Mapping[int, bool], pins: Sequence[int], rng: random.Random) -> Pattern:
    """Levels at random, mostly high, mostly low or half of each, in a random order; `now`: levels of pins that are driven."""
    share = rng.choice(SHARES)
    changes: list[Change] = []
    for pin in pins:
        level = rng.random() < share
        if now.get(pin) is not level:
            changes.append((pin, level))
    rng.shuffle(changes)
    return Pattern(tuple(changes))


def better_pattern(
    followers: Sequence[Follower], weight: Mapping[object, float], now: Mapping[int, bool], pins: Sequence[int],
    rng: random.Random,
) -> Pattern:  # fmt: skip
    """Of some patterns at random the one that is expected to tell most."""
    proposals = [random_pattern(now, pins, rng) for _ in range(PROPOSALS)]
    if len(followers) > MANY:
        return proposals[0]
    worth = []
    for pattern in proposals:
        copies = [f.copy() for f in followers]
        for copy in copies:
            lead(copy, pattern)
        worth.append(information({f.candidate: f.says() for f in copies}, weight))
    return proposals[worth.index(max(worth))]


def played(candidate: Candidate, drive: frozenset[int], longest: int | None = LONGEST) -> list[Pattern]:
    """The candidate's own logic test as patterns; `longest`: so many steps of it.

    Of a step the levels come one by one: data before clocks, as part files ask that no order matters, but a rival
    may see a clock where this candidate has data.
    """
    made = []
    for step in candidate.sequence[:longest]:
        changes = tuple((pin, level) for pin, level in step.set.items() if pin in drive)
        pulses = tuple((pin, min(count, TRAIN)) for pin, count in step.pulses.items())
        made.append(Pattern(changes, pulses))
    return made


def lead(follower: Follower, pattern: Pattern, held: Collection[int] = ()) -> None:
    """The candidate's machine along one pattern; held: pins that were seen high though M holds them low."""
    follower.hold(held)
    for change in pattern.changes:
        follower.set((change,))
    for pin, count in pattern.pulses:
        follower.pulse(pin, count)


def information(says: Mapping[object, Mapping[int, Says]], weight: Mapping[object, float]) -> float:
    """Bits that a look is expected to tell, summed over the pins."""
    total = sum(weight[key] for key in says)
    told = 0.0
    for pin in {pin for said in says.values() for pin in said}:
        mass: dict[Says, float] = defaultdict(float)
        vague = 0.0
        for key, said in says.items():
            level = said.get(pin, Says.NOTHING)
            if level in (Says.UNKNOWN, Says.NOTHING):
                vague += weight[key] / total
            else:
                mass[Says.OFF if level is Says.INPUT else level] += weight[key] / total
        told += (1 - vague) * _entropy(mass.values())
    return told


def _entropy(masses: Iterable[float]) -> float:
    kept = [m for m in masses if m > 0]
    total = sum(kept)
    return -sum(m / total * log2(m / total) for m in kept) if total else 0.0


def differ(one: Mapping[int, Says], other: Mapping[int, Says]) -> bool:
    """True if a look could tell the two: both are sure of a pin and say different things."""
    vague = (Says.UNKNOWN, Says.NOTHING)
    for pin in one.keys() | other.keys():
        a, b = one.get(pin, Says.NOTHING), other.get(pin, Says.NOTHING)
        if a not in vague and b not in vague and a is not b:
            return True
    return False


@dataclass(frozen=True)
class Choice:
    """Patterns worth playing, whose test they are, and the bits they are expected to tell."""

    whose: Candidate
    patterns: tuple[Pattern, ...]
    bits: float


def best(live: Sequence[Follower], weight: Mapping[object, float], drive: frozenset[int]) -> Choice | None:
    """Of the logic tests of the live candidates, the one that tells most; None if none tells anything.

    It is cut off behind the last step that tells; looks that would tell nothing are left out.
    """
    choices = []
    for one in live:
        copies = [f.copy() for f in live]
        patterns, bits, end = [], 0.0, 0
        for index, pattern in enumerate(played(one.candidate, drive)):
            for copy in copies:
                lead(copy, pattern)
            told = information({f.candidate: f.says() for f in copies}, weight)
            bits += told
            end = index + 1 if told > WORTH else end
            patterns.append(Pattern(pattern.changes, pattern.pulses, told > WORTH))
        choices.append(Choice(one.candidate, tuple(patterns[:end]), bits))
    choices = [c for c in choices if c.patterns]
    return max(choices, key=lambda c: c.bits, default=None)
