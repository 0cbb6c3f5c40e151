"""How likely a verdict is wrong: specific risks after JCGM 106:2012 (clauses 7.2 and 9.3), from what was measured alone.

The true value is taken to be normally distributed about the measured one with the standard uncertainty U / 2: no
earlier knowledge of the chip goes in (JCGM 106, 7.2.2 has it so for a measurement that says much more than what was
known before).  Then the probability that the limit is really met is Phi(margin / u).

Figures of one chip share components of uncertainty (the reference, a resistor), so the chip's risk is given by its
bounds: that of its worst figure, and the sum over all (Boole's inequality).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite
from statistics import NormalDist

from sagbench.judge.rule import K, margin
from sagbench.record import Finding, Outcome, Quantity, SweepRecord, Verdict


CHARACTER = ("sisters", "headroom")  # states of findings whose limit is not a data book's


@dataclass(frozen=True)
class Risk:
    """One comparison: how likely the limit is really met, and how likely what was said of it is wrong."""

    finding: Finding
    met: float  # probability that the true value is within the limit
    wrong: float | None  # that the verdict is wrong; None where nothing was decided


@dataclass(frozen=True)
class ChipRisk:
    """The whole chip: what would be wrong, and how likely it is, at least and at most; None where it cannot be said."""

    what: str
    least: float | None = None
    most: float | None = None


@dataclass(frozen=True)
class Risks:
    """All that can be said of one record."""

    chip: ChipRisk
    figures: tuple[Risk, ...]  # those that decided nothing first, then likeliest wrong first


def of_all(record: SweepRecord) -> Risks:
    """The chip's and each figure's."""
    return Risks(of_chip(record), tuple(of_record(record)))


def met(value: Quantity, limit: float, kind: str = "max") -> float:
    """Probability that the true value meets the limit.

        >>> round(met(Quantity(-5.47, 0.10, "V"), -5.40), 2)  # JCGM 106, example of a Zener diode (from memory)
        0.92
    """
    inside = margin(value, limit, kind)
    if value.u <= 0:
        return 1.0 if inside >= 0 else 0.0
    return NormalDist().cdf(K * inside / value.u)


def of_finding(finding: Finding) -> Risk | None:
    """The risk of one comparison; None if it is none of a figure with a limit."""
    if finding.value is None or finding.limit is None or finding.outcome is Outcome.NOT_MEASURED:
        return None
    if finding.outcome is Outcome.ODD and finding.state in CHARACTER or not isfinite(finding.value.value + finding.value.u):
        return None
    share = met(finding.value, finding.limit, finding.limit_kind)
    wrong = {Outcome.WITHIN: 1 - share, Outcome.ODD: 1 - share, Outcome.BEYOND: share}.get(finding.outcome)
    return Risk(finding, share, wrong)


def of_record(record: SweepRecord) -> list[Risk]:
    """All comparisons with a limit, those that decided nothing first, then likeliest wrong first."""
    risks = [risk for finding in _findings(record) if (risk := of_finding(finding))]
    return sorted(risks, key=lambda r: (r.wrong is not None, -(r.wrong or 0.0)))


def of_chip(record: SweepRecord) -> ChipRisk:
    """How likely the verdict on the chip is wrong."""
    risks = of_record(record)
    if record.verdict in (Verdict.SOUND, Verdict.TIRED):
        shares = [r.wrong for r in risks if r.wrong is not None]
        what = "that one or more of its figures are really beyond their limits"
        return ChipRisk(what, max(shares), min(1.0, sum(shares))) if shares else ChipRisk(what)
    if record.verdict is Verdict.FAILED:
        against = [f for f in record.reasons if f.outcome is Outcome.BEYOND]
        if any(of_finding(f) is None for f in against):
            return ChipRisk("it rests on contacts, wrong answers or whose silicon it is, not on a figure near a limit")
        shares = [r.met for f in against if (r := of_finding(f))]
        what = "that all figures found beyond their limits are really within them"
        return ChipRisk(what, max(0.0, 1 - sum(1 - s for s in shares)), min(shares)) if shares else ChipRisk(what)
    return ChipRisk("no verdict was given that could be wrong")


def _findings(record: SweepRecord) -> Iterator[Finding]:
    yield from record.supply
    for pin in record.pins:
        yield from pin.findings
