"""From the pattern of figures and findings to the likely failure, with the evidence and what speaks against it.

    causes.py            which single input, stuck inside, would give exactly these answers
    case.py              the facts: outputs beside their sisters, inputs beside the others
    failures.py          the kinds of failure, and evidence with weights
    suspect_*.py         one suspicion after the other
    diagnosis.py         ranked: a softmax over all suspicions, and over something else entirely

    diagnose(part, record) -> (Diagnosis, ...)

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from math import exp

from sagbench.judge.case import Case
from sagbench.judge.failures import Failure, Suspicion
from sagbench.judge.suspect_chip import chip
from sagbench.judge.suspect_inputs import Cause, inputs
from sagbench.judge.suspect_outputs import outputs
from sagbench.parts.model import Part, Role
from sagbench.record import Diagnosis, SweepRecord, Verdict

LEAST = 0.01  # less likely diagnoses are not told
MOST = 6  # nor more than so many
MANY = 0.6  # of the outputs with the same failure: an epidemic
ELSE = 1.0  # the weight of what is not on the list of failures at all
BAR = 1.5  # a suspicion with no more than this behind it is none


def diagnose(part: Part, record: SweepRecord, causes: Sequence[Cause] = ()) -> tuple[Diagnosis, ...]:
    """Likely failures, likeliest first; empty if nothing speaks against the chip.

    causes: inputs that, stuck, would explain all answers (`causes.causes`).
    """
    if record.verdict is Verdict.SOUND or not record.reasons and record.partial and record.partial != "not seated":
        return ()  # nothing is wrong, or a sweep was broken off before anything was found
    case = Case(part, record)
    found = [s for s in (*chip(case), *outputs(case, bool(causes)), *inputs(case, causes)) if s.score >= BAR]
    return _ranked(_without_epidemics(case, found))


def _without_epidemics(case: Case, found: Sequence[Suspicion]) -> Sequence[Suspicion]:
    """The same failure at most outputs is none of each: something common is behind it."""
    if any(s.kind is Failure.WRONG_PART for s in found):
        for s in found:
            if s.pin is not None and case.part.pin(s.pin).role not in (Role.SUPPLY, Role.GROUND) and not case.bad_contact(s.pin):
                s.clue(-2.0, "no output of the chip is right: rather another part than so many failures")
    kinds = Counter(s.kind for s in found if s.pin is not None and case.part.pin(s.pin).role.is_output)
    for s in found:
        if s.pin is not None and kinds[s.kind] >= max(3, MANY * len(case.part.outputs)):
            s.clue(-2.5, "most other outputs are the same: rather something that they have in common")
    return found


def _ranked(found: Sequence[Suspicion]) -> tuple[Diagnosis, ...]:
    if not found:
        return ()
    top = max(s.score for s in found)
    weights = [exp(s.score - top) for s in found]
    total = sum(weights) + exp(ELSE - top)
    pairs = sorted(zip(found, weights, strict=True), key=lambda p: (-p[1], p[0].pin or 0))
    return tuple(
        Diagnosis(s.kind.value, s.pin, w / total, s.sentence, tuple(s.speaks_for), tuple(s.speaks_against))
        for s, w in pairs[:MOST]
        if w / total >= LEAST
    )
