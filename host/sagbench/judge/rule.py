"""How one figure is held against one limit: the decision rule.

The estimate must be inside (or outside) the limit by a guard band w before anything is said of it; w is given in
units of U, the expanded uncertainty at k = 2.  Names and probabilities after JCGM 106:2012 (clauses 7 and 8) and
ILAC-G8:09/2019 (section 4.2 and its table of w; from memory):

    w = 1.5 U   a false accept below 0.16 %     w = 0.83 U   below 5 % (ISO 14253-1)
    w = U       below 2.5 %, the default        w = 0        simple acceptance: up to 50 %

    >>> Rule().outcome(Quantity(0.22, 0.01, "V"), 0.40)
    <Outcome.WITHIN: 'within'>

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from statistics import NormalDist

from sagbench.record import DecisionRule, Outcome, Quantity

K = 2.0  # U is so many standard uncertainties
MOST = 10.0  # a wider guard band than this lets nothing be said


def margin(value: Quantity, limit: float, kind: str = "max") -> float:
    """How far inside the limit the value is; negative outside. Unit of the value."""
    return limit - value.value if kind == "max" else value.value - limit


@dataclass(frozen=True)
class Rule:
    """A guard band of `guard` times U on both sides of a limit. ValueError if it is not 0 to 10."""

    guard: float = 1.0

    def __post_init__(self) -> None:
        if not 0 <= self.guard <= MOST:
            raise ValueError(f"a guard band must be 0 to {MOST:g} times U, not {self.guard:g}")

    def outcome(self, value: Quantity, limit: float, kind: str = "max") -> Outcome:
        """WITHIN, BEYOND, or UNSURE if the limit lies inside the guard band. kind: "max" or "min"."""
        inside, width = margin(value, limit, kind), self.guard * value.u
        if inside >= width:
            return Outcome.WITHIN
        return Outcome.BEYOND if inside < -width else Outcome.UNSURE

    @property
    def worst_risk(self) -> float:
        """Probability that a figure just accepted (or just rejected) is on the other side of its limit."""
        return NormalDist().cdf(-K * self.guard)

    def record(self) -> DecisionRule:
        """For the record: name, guard band, and the rule in one sentence."""
        if not self.guard:
            return DecisionRule(
                "simple acceptance",
                0.0,
                "A figure is within its limit if it does not exceed it and beyond it if it does, whatever its "
                "uncertainty (guard band w = 0): near the limit up to half of such verdicts are wrong.",
            )
        width = "U" if self.guard == 1 else f"{self.guard:g} U"
        return DecisionRule(
            f"guard band {width}",
            self.guard,
            f"A figure is within its limit if it is inside by {width} or more, beyond it if it is outside by more "
            f"than {width}, and undecided in between (guard band w = {width}, U at k = 2; JCGM 106, ILAC-G8): at "
            f"most {_percent(self.worst_risk)} of such verdicts on a figure are wrong.",
        )


def _percent(share: float) -> str:
    """To two digits, upwards, for it is said to be the most: "2.3 %"; what is too small to print is "1 in a million"."""
    if share < 1e-6:
        return "1 in a million"
    digit = Decimal(1).scaleb(Decimal(share).adjusted() - 1)  # of the second digit
    return f"{float(100 * Decimal(share).quantize(digit, ROUND_CEILING)):g} %"


DEFAULT = Rule()
