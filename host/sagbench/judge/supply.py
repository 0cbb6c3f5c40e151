"""Supply current against its limit, and against what is typical of the part.

A bipolar chip whose current is far above typical is sick even when it still answers rightly (common practice):
an LS04 that takes 34 mA where 3.6 mA is typical is dying, while 32 mA are healthy for an S04.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

from sagbench.judge.draws import Expected, expected
from sagbench.judge.limits import between_makers, in_amperes, in_times, outcome, pin_name, resolvable, weight
from sagbench.judge.rule import margin
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Expect, Part, Role, SupplyState
from sagbench.parts.supply import NAMES
from sagbench.plan.resting import Rest
from sagbench.record import Finding, Outcome, Quantity

FAR = 2.5  # so many times typical is out of character, whatever the limit
HIGH = 2.0  # so many times typical is, if that is also
NEAR = 0.90  # so much of the limit
NOTHING = 0.04  # less than so much is nothing
LITTLE = 0.25  # less than so much of typical: part of the chip is not at work
LIMIT_TO_TYPICAL = 1.7  # data-book limits are so many times typical (common practice)
STANDS_OUT = 1.5  # a current at rest so many times the largest of the other states is an output's leak
WORSE = 1.5  # less than so many times what another state draws is no news
MOST_LEAKS = 3  # more outputs that would explain it are no explanation
LEAK = "leak"  # state of a finding that an output leaks, by the supply current
ODD_WEIGHT = 32.0
FLOATING_A = 0.5e-3  # a gate of the 4000 series that hangs half-way draws no more, at 5 V (common practice)
CUT_OFF = "cut off"  # state of the finding that power was taken away for too much current


def usual(state: SupplyState) -> float | None:
    """What a sound chip draws in a state, about; None if the data book gives no figure."""
    return state.typical or (state.limit.value / LIMIT_TO_TYPICAL if state.limit else None)


def judge_supply(part: Part, state: SupplyState, amperes: Quantity | None) -> Finding:
    """One static state."""
    where = f"with {state.name}" if state.name.startswith("outputs") else f"when {state.name}"
    limit = state.limit.value if state.limit else None
    source = state.limit.source if state.limit else ""
    if amperes is None:
        return Finding(
            "ICC",
            Outcome.NOT_MEASURED,
            f"its supply current {where} was not measured",
            limit=limit,
            state=state.name,
            typical=state.typical,
            source=source,
        )
    if limit is None:
        return _without_limit(part, state, where, amperes)
    text = f"its supply current {where} is {in_amperes(amperes.value)}"
    what = outcome(amperes, limit)
    matters = weight("ICC", what, amperes, limit)
    if what is Outcome.BEYOND and amperes.value < FLOATING_A and (gate := _hanging(part)):
        what, matters = Outcome.UNSURE, weight("ICC", Outcome.UNSURE, amperes, limit)
        text += (
            f"; the limit is {in_amperes(limit)}, but {pin_name(part, gate)} hangs in the air here, "
            "and a CMOS gate that hangs draws current of its own"
        )
    elif what is Outcome.BEYOND:
        text += (
            f", {in_times(amperes.value / limit)} the limit of {in_amperes(limit)} for a {part.name}: "
            "something inside leaks or is shorted"
        )
    elif what is Outcome.UNSURE and not resolvable(amperes, limit):
        text = (
            f"its supply current {where} is below {in_amperes(max(amperes.value, 0.0) + amperes.u)}; "
            f"the limit of {in_amperes(limit)} is too fine for this fixture"
        )
    elif what is Outcome.UNSURE:
        text += f"; that is too near the limit of {in_amperes(limit)} to tell"
    elif odd := _odd(amperes, limit, state.typical):
        what, text, matters = Outcome.ODD, f"{text}; the limit is {in_amperes(limit)}, but {odd}", ODD_WEIGHT
    elif state.limit and (makers := between_makers(amperes, state.limit)):
        what, text, matters = Outcome.UNSURE, f"{text}; {makers}", weight("ICC", Outcome.UNSURE, amperes, limit)
    else:
        text += f"; the limit is {in_amperes(limit)}"
    return Finding(
        "ICC",
        what,
        text,
        value=amperes,
        limit=limit,
        margin=margin(amperes, limit),
        state=state.name,
        typical=state.typical,
        source=source,
        weight=matters,
    )


def _hanging(part: Part) -> int:
    """The gate of a CMOS oscillator (RCX of a 4047), which no line holds; 0 if there is none, or it is a monostable's timing pin."""
    cmos = all(limits.technology == "cmos" for limits in part.limits.values())
    gates = (p.number for p in part.of_role(Role.ANALOG) if p.name == "RCX")
    return next(gates, 0) if cmos and not part.pulses else 0


def _without_limit(part: Part, state: SupplyState, where: str, amperes: Quantity) -> Finding:
    """A current of which no limit is known is never a pass: out of character by what such a part may be expected to draw, or not judged."""
    key = next((key for key, name in NAMES.items() if name == state.name), "")
    likely = expected(part.function, part.family, key)
    least, most = (likely.amperes / LIMIT_TO_TYPICAL * NOTHING, likely.far) if likely else (float("-inf"), float("inf"))
    text = f"its supply current {where} is {in_amperes(amperes.value)}; no limit is known here for a {part.name}"
    if likely and amperes.value - amperes.u > most:
        what, matters = Outcome.ODD, ODD_WEIGHT
        text += f", but this is {in_times(amperes.value / likely.amperes)} what is to be expected, {_grounds(part, likely)}"
    elif likely and amperes.value + amperes.u < least:
        what, matters = Outcome.ODD, ODD_WEIGHT
        text += f", but this is next to nothing beside what is to be expected, {_grounds(part, likely)}"
    else:
        what, matters = Outcome.NOT_MEASURED, 0.0
        text += f"; it is not out of character beside what is to be expected, {_grounds(part, likely)}" if likely else ", nor any of its like"
    return Finding("ICC", what, text, value=amperes, state=state.name, typical=state.typical, weight=matters,
                   out_of_reach=what is Outcome.NOT_MEASURED)


def _grounds(part: Part, likely: Expected) -> str:
    """Where the expected limit is from."""
    there, mine = (f"{part.grade or 74}{'' if family == PLAIN else family}" for family in (likely.other, part.family or PLAIN))
    return (
        f"some {in_amperes(likely.amperes)} (a {there}{part.function} may draw {in_amperes(likely.amperes_there)} by its data book, and "
        f"{likely.functions} other functions of the {mine} series {likely.amperes / likely.amperes_there:.2g} times what those of the {there} do)"
    )


def judge_resting(
    part: Part, states: Sequence[tuple[SupplyState, Quantity | None]], own: Sequence[Finding] = ()
) -> list[Finding]:
    """CMOS at rest in further states: all that are beyond, and of what is within or undecided the worst.

    Of several with the same outcome one is a reason, the worst; `own`, of the part file's states, if it is as bad.
    """
    if not any(amperes for _, amperes in states):
        return []  # what the part file's own states say already
    found = [judge_supply(part, state, amperes) for state, amperes in states]
    out = [f for f in found if f.value is None]
    for what in (Outcome.BEYOND, Outcome.ODD, Outcome.UNSURE, Outcome.WITHIN):
        same = [f for f in found if f.outcome is what and f.value]
        worst = max(same, key=_drawn, default=None)
        told = max((_drawn(f) for f in own if f.outcome is what), default=0.0)
        if worst and what is not Outcome.WITHIN and _drawn(worst) <= WORSE * told:
            worst = replace(worst, weight=0.0) if what is Outcome.BEYOND else None
        others = [replace(f, weight=0.0) for f in same if f.state != (worst.state if worst else "")] if what is Outcome.BEYOND else []
        out += [f for f in (worst, *others) if f]
    order = [state.name for state, _ in states]
    return sorted(out, key=lambda f: order.index(f.state))


def _drawn(finding: Finding) -> float:
    return finding.value.value if finding.value else 0.0


def judge_leaks(part: Part, rests: Sequence[tuple[Rest, Quantity]]) -> list[Finding]:
    """Outputs that tell by their level whether a CMOS chip draws current at rest: each with a finding.

    Much in every state in which the output is at one level, little in all others: it leaks to the other rail.  Much in
    every state in which two outputs differ, little in all others: they leak to each other.
    """
    bounds = [rest.state.limit.value for rest, _ in rests if rest.state.limit]
    if len(rests) < 2 or not bounds:
        return []
    told = []
    for pin in part.outputs:
        for level, to in ((Expect.LOW, "supply"), (Expect.HIGH, "ground")):
            there = [i for rest, i in rests if (pin.number, level) in rest.does]
            else_ = [i for rest, i in rests if (pin.number, level) not in rest.does]
            if there and else_ and _stands_out(there, else_, max(bounds)):
                told.append((pin, "low" if level is Expect.LOW else "high", to, min(there, key=lambda i: i.value)))
    if not told:
        return _between_outputs(part, rests, max(bounds))
    return _leaks(
        "another output that changes with it",
        [(pin.number, f"{pin_name(part, pin.number)} leaks to {to}", f"it is {level}", amperes) for pin, level, to, amperes in told],
    )


def _between_outputs(part: Part, rests: Sequence[tuple[Rest, Quantity]], bound: float) -> list[Finding]:
    """Pairs of outputs that leak to each other, each told at the first of the two."""
    told = []
    for a, b in combinations([pin.number for pin in part.outputs], 2):
        differ: list[Quantity] = []
        same: list[Quantity] = []
        for rest, amperes in rests:
            does = {(pin, level) for pin, level in rest.does if pin in (a, b) and level is not Expect.OFF}
            (differ if len(does) == 2 and len({level for _, level in does}) == 2 else same).append(amperes)
        if differ and same and _stands_out(differ, same, bound):
            told.append((a, b, min(differ, key=lambda i: i.value)))
    return _leaks(
        "another pair of outputs",
        [(a, f"{pin_name(part, a)} and {pin_name(part, b)} leak to each other", "they differ", amperes) for a, b, amperes in told],
    )


def _leaks(other: str, told: Sequence[tuple[int, str, str, Quantity]]) -> list[Finding]:
    """One finding for each (pin, what leaks, while what, amperes); none for more than could be told apart."""
    if len(told) > MOST_LEAKS:
        return []
    what, matters = (Outcome.BEYOND, 90.0) if len(told) == 1 else (Outcome.ODD, 33.0)
    or_else = "" if len(told) == 1 else f", or {other} does"
    return [
        Finding(
            "ICC",
            what,
            f"{leak}: the chip draws {in_amperes(amperes.value)} more at rest while {when}{or_else}",
            pin,
            amperes,
            state=LEAK,
            weight=matters,
        )
        for pin, leak, when, amperes in told
    ]


def _stands_out(there: Sequence[Quantity], elsewhere: Sequence[Quantity], bound: float) -> bool:
    """True if each of the first is surely beyond the bound and far above each of the second."""
    least, most = min(there, key=lambda i: i.value - i.u), max(elsewhere, key=lambda i: i.value + i.u)
    return least.value - least.u > bound and least.value - least.u > STANDS_OUT * (most.value + most.u)


def _odd(amperes: Quantity, limit: float, typical: float | None) -> str:
    if not typical or amperes.u > typical / 2:
        return ""
    ratio = amperes.value / typical
    if ratio - amperes.u / typical > FAR or (ratio > HIGH and amperes.value > NEAR * limit):
        return f"this is {in_times(ratio)} what is typical"
    if ratio + amperes.u / typical < NOTHING:
        return f"this is next to nothing beside the {in_amperes(typical)} that are typical: it is of another family"
    if ratio + amperes.u / typical < LITTLE:
        return f"this is only {ratio:.2f} of what is typical: part of it is not at work, or it is of another family"
    return ""
