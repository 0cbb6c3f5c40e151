"""What a study must show, and what it must not fall below today.

A target that is not met yet has a floor: where things stand, with a little room for what another draw of the same size does.
The page shows target and answer beside each figure; only a floor that is broken makes a study fail.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


ANY = float("inf")
COVERAGE = (94.0, 97.5)


@dataclass(frozen=True)
class Limit:
    """`low` <= figure <= `high` is the target; outside of `floor_low` .. `floor_high` the study fails."""

    low: float
    high: float
    floor_low: float
    floor_high: float

    @property
    def asked(self) -> str:
        """The target in words."""
        if self.low == self.high:
            return f"{self.low:g}"
        if self.high == ANY:
            return f"at least {self.low:g}"
        return f"{self.low:g} .. {self.high:g}" if self.low else f"at most {self.high:g}"

    def answer(self, value: float) -> str:
        """yes, no, or no and below what it was."""
        said, holds = self.judge("", value)
        return "yes" if not said else "no" if holds else "no, and beyond its floor"

    def judge(self, name: str, value: float) -> tuple[str, bool]:
        """A sentence ("" if the target is met), and whether the floor holds."""
        if self.low <= value <= self.high:
            return "", True
        holds = self.floor_low <= value <= self.floor_high
        stands = f"not below the floor {self.floor_low:g} .. {self.floor_high:g}" if holds else (
            f"and outside of the floor {self.floor_low:g} .. {self.floor_high:g}")
        return f"{name} is {value:.4g}; the target is {self.asked}; {stands}", holds


def judge(figures: Mapping[str, float], limits: Mapping[str, Limit]) -> tuple[list[str], bool]:
    """Sentences on what is missed, and whether all floors hold. A figure with a limit that is not there is missed."""
    sentences, good = [], True
    for name, limit in limits.items():
        said, holds = limit.judge(name, figures[name]) if name in figures else (f"{name} was not measured", False)
        if said:
            sentences.append(said)
        good &= holds
    return sentences, good
