"""Sentences without the cause that they name, for a chip that is rather another part: then a level lost is no weak
transistor, and a pin that takes current no leak.

A cause stands after the last colon of a sentence on a pin or on the supply current; what stands there with figures
("0.72 V where it should be low") is what was seen.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace

from sagbench.judge.failures import Failure
from sagbench.record import Finding, SweepRecord

OTHER_PART = (Failure.WRONG_PART, Failure.WRONG_FAMILY)
RATHER = 0.5  # a first diagnosis so likely is what the report goes by


def is_another_part(record: SweepRecord) -> bool:
    """True if the first diagnosis is that the chip is not what is marked on it."""
    first = record.diagnoses[0] if record.diagnoses else None
    return first is not None and first.kind in OTHER_PART and first.probability >= RATHER


def without_causes(record: SweepRecord) -> SweepRecord:
    """The record with its findings and its advice bare of causes; weights and outcomes stay."""
    pins = tuple(
        replace(p, sentence=_bare(p.sentence), findings=tuple(map(_finding, p.findings))) for p in record.pins
    )
    reasons, supply = (tuple(map(_finding, some)) for some in (record.reasons, record.supply))
    advice = record.advice
    for before, after in zip(record.reasons[:1], reasons[:1], strict=True):
        advice = advice.replace(before.sentence, after.sentence)
    return replace(record, pins=pins, reasons=reasons, supply=supply, advice=advice)


def _finding(finding: Finding) -> Finding:
    if finding.pin is None and finding.quantity != "ICC":
        return finding
    return replace(finding, sentence=_bare(finding.sentence))


def _bare(sentence: str) -> str:
    said, _, cause = sentence.rpartition(": ")
    return sentence if not said or any(c.isdigit() for c in cause) else said
