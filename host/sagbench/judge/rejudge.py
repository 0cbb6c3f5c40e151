"""A finished record held against its limits by another rule: same figures, other guard band.

What was decided by more than a figure and its limit (a value taken at a harder load than rated, a wrong answer, a
contact) stays as it is; no rule makes those surer.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sagbench.judge.dc import NAMES, by_rule
from sagbench.judge.limits import in_amperes, in_volts, named, weight
from sagbench.judge.rule import DEFAULT, Rule
from sagbench.judge.verdict import conclude, findings_of, told_elsewhere, undecided
from sagbench.measure.line import How
from sagbench.record import Finding, Measured, Outcome, Quantity, SweepRecord, Verdict

DECIDED = (Outcome.WITHIN, Outcome.BEYOND, Outcome.UNSURE)
WORDS = {
    Outcome.WITHIN: "by the rule chosen that is within it",
    Outcome.BEYOND: "by the rule chosen that is beyond it",
    Outcome.UNSURE: "by the rule chosen that is too near to tell",
}


def rejudge(record: SweepRecord, rule: Rule) -> SweepRecord:
    """The record by this rule. A record without a verdict keeps having none; one judged by the same rule comes back as it is."""
    before = DEFAULT if record.rule is None else Rule(record.rule.guard)
    if before == rule:
        return replace(record, rule=rule.record())
    others = told_elsewhere(record)
    changed = replace(
        record,
        supply=tuple(_held(f, "", before, rule) for f in record.supply),
        pins=tuple(
            replace(p, findings=tuple(_held(f, named(p.pin, p.name), before, rule, _prolonged(f, p.measured)) for f in p.findings))
            for p in record.pins
        ),
        rule=rule.record(),
    )
    said = {f.sentence for f in findings_of(record)}
    others_open = (line for line in record.undecided if line not in said)
    changed = replace(changed, undecided=(*undecided(findings_of(changed)), *others_open))
    if record.verdict is Verdict.INCOMPLETE:
        return changed
    return conclude(changed, others)


def _prolonged(finding: Finding, figures: Sequence[Measured]) -> Measured | None:
    """The figure of a finding, if it is one that `dc` judges and was extrapolated."""
    mine = (m for m in figures if m.name == finding.quantity and m.name in NAMES and m.how == How.BEYOND)
    return next((m for m in mine if m.value == finding.value), None)


def _held(finding: Finding, pin: str, before: Rule, rule: Rule, prolonged: Measured | None = None) -> Finding:
    """The finding by the new rule."""
    value, limit, kind = finding.value, finding.limit, finding.limit_kind
    if value is None or limit is None or finding.outcome not in DECIDED:
        return finding
    if prolonged is not None:
        what, matters = by_rule(prolonged, limit, kind, rule)
        doubt = ", extrapolated as it is" if what is Outcome.UNSURE else ""
        return finding if what is finding.outcome else replace(finding, outcome=what, sentence=_sentence(finding, pin, what, limit) + doubt, weight=matters)
    what = rule.outcome(value, limit, kind)
    if finding.outcome is not before.outcome(value, limit, kind):  # decided by more than this figure
        what = Outcome.UNSURE if finding.outcome is Outcome.WITHIN and rule.guard > before.guard else finding.outcome
    if what is finding.outcome:
        return finding
    matters = weight(finding.quantity, what, value, limit, kind)
    return replace(finding, outcome=what, sentence=_sentence(finding, pin, what, limit), weight=matters)


def _sentence(finding: Finding, pin: str, what: Outcome, limit: float) -> str:
    assert finding.value is not None
    at = f" at {_words(finding.at, finding.at.value)}" if finding.at else f" with {finding.state}" if finding.state else ""
    who = f"{pin}: {finding.quantity}" if pin else f"its supply current ({finding.quantity})"
    return (
        f"{who}{at} is {_words(finding.value, finding.value.value)}, give or take {_words(finding.value, finding.value.u)}; "
        f"the limit is {_words(finding.value, limit)}: {WORDS[what]}"
    )


def _words(like: Quantity, number: float) -> str:
    if like.unit == "A":
        return in_amperes(number)
    return in_volts(number) if abs(number) >= 0.1 else f"{number * 1000:.0f} mV"
