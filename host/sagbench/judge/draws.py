"""What a part may be expected to draw of which no data book here gives a supply current.

Two things are known instead: what the same function is allowed in other families, and what the family is allowed
beside each of those in other functions.  Their product is an estimate of the missing limit, of several families' the
middle one; how far the ratios scatter (median and median absolute deviation of their logarithms) says how far a current
must be off to be out of character.  Of the library's own 902 bipolar limits that have an estimate, each left out in turn,
90 in 100 are within a factor of 1.9 of it, 98 in 100 within 3, and 4 would be out of character (tests/host/judge/test_judge_draws.py).

    python -m sagbench.judge.derive     draws.json from the library: function -> family -> state -> limit in amperes

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from math import exp, log
from pathlib import Path
from statistics import median

from sagbench.parts.definition import PLAIN

DRAWS = Path(__file__).with_name("draws.json")
FEWEST = 5  # functions that two families must have in common: fewer are no ratio
LEAST_SPREAD = 0.15  # of ln: families are not closer than that, however alike a handful of limits are
MOST_SPREAD = 0.6  # and if they scatter more (bipolar beside CMOS, which is rated by size of chip) one tells nothing of the other
TO_SIGMA = 1.4826  # MAD of a normal distribution to its standard deviation
FAR = 3.0  # so many times the estimate is out of character,
FAR_SIGMAS = 2.5  # or so many robust standard deviations, if that is more
ANY = "any"  # the largest of a part's states, where two families do not give the same ones

Draws = Mapping[str, Mapping[str, Mapping[str, float]]]


@dataclass(frozen=True)
class Expected:
    """The limit to be expected of a part in one state."""

    amperes: float
    spread: float  # robust standard deviation of its logarithm
    other: str  # the family it goes by, as file names call it ("74" for plain),
    amperes_there: float  # the limit of the same function in that family,
    functions: int  # and how many other functions give the ratio of the two families

    @property
    def far(self) -> float:
        """Amperes beyond which a current is out of character."""
        return self.amperes * max(FAR, exp(FAR_SIGMAS * self.spread))


@cache
def known() -> Draws:
    """Limits of the library."""
    return dict(json.loads(DRAWS.read_text(encoding="utf-8")))


def expected(function: str, family: str, state: str, draws: Draws | None = None) -> Expected | None:
    """The estimate for a function in a family ("" or "74" for plain), the middle one of all families'.

    state: "high", "low", "off" or "quiescent"; None if no other family has the function, or none enough functions in
    common with this one.  What draws say of the part itself is not used.
    """
    draws = known() if draws is None else draws
    for key in (state, ANY):
        found = list(_estimates(function, family or PLAIN, key, draws))
        if found:
            return sorted(found, key=lambda one: one.amperes)[len(found) // 2]
    return None


def _estimates(function: str, family: str, state: str, draws: Draws) -> Iterator[Expected]:
    for other in draws.get(function, {}):
        there = None if other == family else _limit(draws, function, other, state)
        if there is None:
            continue
        pairs = [(_limit(draws, f, family, state), _limit(draws, f, other, state)) for f in draws if f != function]
        ratios = [log(mine / its) for mine, its in pairs if mine and its]
        if len(ratios) >= FEWEST:
            middle = median(ratios)
            spread = max(LEAST_SPREAD, TO_SIGMA * median(abs(r - middle) for r in ratios))
            if spread <= MOST_SPREAD:
                yield Expected(there * exp(middle), spread, other, there, len(ratios))


def _limit(draws: Draws, function: str, family: str, state: str) -> float | None:
    states = draws.get(function, {}).get(family, {})
    return max(states.values(), default=None) if state == ANY else states.get(state)
