"""The kinds of failure that can be named, and one suspicion of one: evidence with weights.

A weight is a log likelihood ratio in round figures (natural logarithm): 1 says "rather", 3 "plainly", 5 and more
"hardly anything else does this".  They are common practice put into numbers, tuned on populations of virtual chips,
not measured on real ones.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum


class Failure(StrEnum):
    """What may be wrong with a chip, in the words that a report uses."""

    OPEN_INPUT = "open bond wire of an input"
    OPEN_OUTPUT = "open bond wire of an output"
    OPEN_SUPPLY = "open bond wire of supply or ground"
    SERIES = "added series resistance"
    SHORT = "internal short"
    LEAKY_INPUT = "leaking or punched-through input"
    LEAKY_OUTPUT = "leaking output"
    CLAMP = "damaged input clamp"
    LOST_GAIN = "sink transistor has lost gain"
    WEAK_PULL_UP = "weak pull-up"
    STUCK_OUTPUT = "stuck output"
    STUCK_INPUT = "stuck input"
    DEAD_OUTPUT = "dead output stage"
    THRESHOLD = "shifted input threshold"
    EXCESS_SUPPLY = "excess supply current"
    WRONG_FAMILY = "wrong part: another family"
    WRONG_PART = "wrong part: another function"
    SEATING = "not seated as it must be"


@dataclass
class Suspicion:
    """One failure at one pin (None: the chip), with what speaks for and against it."""

    kind: Failure
    pin: int | None
    sentence: str
    score: float = 0.0
    speaks_for: list[str] = field(default_factory=list)
    speaks_against: list[str] = field(default_factory=list)

    def clue(self, weight: float, text: str = "", *, when: object = True) -> Suspicion:
        """Count a piece of evidence if it holds; negative weights speak against. Gives itself back."""
        if when:
            self.score += weight
            if text:
                (self.speaks_for if weight > 0 else self.speaks_against).append(text)
        return self
