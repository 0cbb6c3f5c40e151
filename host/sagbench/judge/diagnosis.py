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
from sagbench.judge.identity import Likeness
from sagbench.judge.limits import listed
from sagbench.judge.suspect_chip import chip
from sagbench.judge.suspect_inputs import Cause, inputs
from sagbench.judge.suspect_outputs import outputs
from sagbench.parts.model import Part, Role
from sagbench.record import NOT_SEATED, Diagnosis, SweepRecord, Verdict

LEAST = 0.01  # less likely diagnoses are not told
MOST = 6  # nor more than so many
MANY = 0.6  # of the outputs with the same failure: an epidemic
ELSE = 1.0  # the weight of what is not on the list of failures at all,
NOTHING = 5.0  # and of nothing being wrong, where nothing is surely beyond its limit or out of character
OF_ONE_OUTPUT = (Failure.STUCK_OUTPUT, Failure.DEAD_OUTPUT, Failure.LEAKY_OUTPUT, Failure.LOST_GAIN, Failure.WEAK_PULL_UP)
AS_GOOD = 1.0  # the same failure at pins whose evidence differs by less is one row with all of them
BAR = 1.5  # a suspicion with no more than this behind it is none


def diagnose(
    part: Part, record: SweepRecord, causes: Sequence[Cause] = (), likenesses: Sequence[Likeness] = ()
) -> tuple[Diagnosis, ...]:
    """Likely failures, likeliest first; empty if nothing speaks against the chip.

    causes: inputs that, stuck, would explain all answers (`causes.causes`); likenesses: other functions of which all
    answers would be right (`identity.alike`).
    """
    if record.verdict is Verdict.SOUND or not record.reasons and record.partial and record.partial != NOT_SEATED:
        return ()  # nothing is wrong, or a sweep was broken off before anything was found
    case = Case(part, record)
    found = [s for s in (*chip(case, causes, likenesses), *outputs(case, causes), *inputs(case, causes)) if s.score >= BAR]
    return _ranked(case, _without_epidemics(case, found), ELSE if record.verdict is not Verdict.UNSURE else NOTHING)


def _without_epidemics(case: Case, found: Sequence[Suspicion]) -> Sequence[Suspicion]:
    """The same failure at most outputs is none of each: something common is behind it."""
    for s in found:
        others = [n for n in case.wrong if n != s.pin]
        alike = [n for n in others if any(x.kind is s.kind and x.pin == n for x in found)]
        if s.kind in OF_ONE_OUTPUT and others:
            size = min(1.0 * len(others), 4.0 if len(alike) < len(others) else 2.0)
            s.clue(-size, f"{len(others)} other output{'s answer' if len(others) > 1 else ' answers'} wrongly too")
        if s.kind is Failure.EXCESS_SUPPLY:
            s.clue(-3.0, "outputs answer wrongly, which may be the cause", when=len(case.wrong) > 1)
    other = max((s.score for s in found if s.kind is Failure.WRONG_PART), default=0.0)
    for s in found:
        if s.pin is not None and case.part.pin(s.pin).role not in (Role.SUPPLY, Role.GROUND) and s.kind is not Failure.STUCK_INPUT:
            s.clue(-min(other, 6.0), "so much else is wrong that it is rather another part", when=other > BAR)
    together = any(s.kind is Failure.LOST_GAIN and s.pin is None for s in found)
    for s in found:
        s.clue(-3.0, "the current of most other outputs stays just so", when=together and s.kind is Failure.LOST_GAIN and s.pin)
    for word, pins in (("outputs", case.part.outputs), ("inputs", case.part.of_role(Role.INPUT))):
        kinds = Counter((s.kind, s.pin in {p.number for p in pins}) for s in found if s.pin is not None)
        for s in found:
            if any(s.pin == p.number for p in pins) and kinds[s.kind, True] >= max(3, MANY * len(pins)):
                s.clue(-2.0, f"most other {word} are the same: rather something that they have in common")
    return found


def _ranked(case: Case, found: Sequence[Suspicion], other: float) -> tuple[Diagnosis, ...]:
    if not found:
        return ()
    top = max(s.score for s in found)
    weights = [exp(s.score - top) for s in found]
    total = sum(weights) + exp(other - top)
    pairs = sorted(zip(found, weights, strict=True), key=lambda p: (-p[1], p[0].pin or 0))
    told = [(group, sum(w for _, w in group)) for group in _alike(pairs)]
    told.sort(key=lambda row: -row[1])
    return tuple(_row(case, [s for s, _ in group], w / total) for group, w in told[:MOST] if w / total >= LEAST)


def _alike(pairs: Sequence[tuple[Suspicion, float]]) -> list[list[tuple[Suspicion, float]]]:
    """Likeliest first, the same failure at several pins of the same kind and with as good evidence together."""
    groups: list[list[tuple[Suspicion, float]]] = []
    for s, weight in pairs:
        fits = (g for g in groups if s.pin and g[0][0].pin and g[0][0].kind is s.kind and g[0][0].score - s.score < AS_GOOD)
        group = next(fits, None)
        if group is None:
            groups.append([(s, weight)])
        else:
            group.append((s, weight))
    return groups


def _row(case: Case, group: Sequence[Suspicion], probability: float) -> Diagnosis:
    """One diagnosis, at the pin of the first; the sentence names the pins of the others."""
    first = group[0]
    others = [case.name(s.pin) for s in group[1:] if s.pin]
    sentence = f"{first.sentence}; likewise {listed(others)}" if others else first.sentence
    pro = dict.fromkeys(text for s in group for text in s.speaks_for)
    contra = dict.fromkeys(text for s in group for text in s.speaks_against)
    return Diagnosis(first.kind.value, first.pin, probability, sentence, tuple(pro), tuple(contra))
