"""Suspicions about outputs, from their lines beside their sisters' and from their answers.

What tells the failures apart (common practice; the shapes worked out with transistor models in ngspice):
  lost gain     well under light load, then a cliff: the current stays, the volts run away
  resistance    excess in proportion to the current, and the same ohms on the high side
  weak pull-up  the high side only, well without load
  leak          wrong without load, and hardly worse than its sisters under a heavy one
  stuck         one level for good, and strong
  dead          follows whatever load it gets

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sagbench.judge.case import Case, Shape
from sagbench.judge.failures import Failure, Suspicion
from sagbench.judge.limits import in_volts
from sagbench.judge.supply import LEAK
from sagbench.parts.model import Role
from sagbench.record import Outcome

COMMON = "one input may be behind it: stuck it would explain all that is wrong, or it has no contact or a short"
ALL_LOSE = "most other outputs lose their low level too: rather something that they have in common"
GROWS = 1.25  # excess per ampere grows by so much from a medium to the heaviest load: no resistance
TRICKLE_A = 0.25e-3  # a dead stage and what leaks through it sink less
FEW_OHM, FEW = 5.0, 0.15  # a resistance of so little, or so little of the output's own, is hardly a bond
LEAST_OHM = 1.0  # less is no figure to tell
NOTABLE_V = 0.04  # excess of a low level that is worth a word,
SLIGHT_V = 0.012  # or so much, if the level is beyond its limit
NOTABLE_HIGH_V = 0.18  # of a high one, whose sisters differ more
MOST = 0.6  # of the outputs so many without their low level have something in common
RESISTANCE = 0.25  # a misfit below this is a resistance
LIMIT = 2.0  # a cliff above this is a current limit


def outputs(case: Case, causes: Sequence[tuple[int, bool]]) -> Iterator[Suspicion]:
    """All suspicions about outputs that have contact. causes: inputs that, stuck, would each explain all answers."""
    explained = bool(causes)
    common = explained and len(case.wrong) > 1 or any(case.bad_contact(p.number) for p in case.part.of_role(Role.INPUT))
    for pin in case.part.outputs:
        number = pin.number
        if case.bad_contact(number):
            continue
        if not case.found.get(number):
            if _hungry(case):  # within its limits, but it may be where a current goes that is too large
                yield from _leak(case, number, case.shape(number, True), case.shape(number, False))
            continue
        logic = case.has(number, "logic", outcome=Outcome.BEYOND, state="")
        dead = logic is not None and "drives nothing" in logic.sentence
        if dead:
            yield from (s.clue(-3.0, COMMON, when=common) for s in _dead(case, number))
            continue
        yield from (s.clue(-3.0, COMMON, when=common) for s in _stuck(case, number))
        low, high = case.shape(number, True), case.shape(number, False)
        answers = explained and number in case.wrong
        if low is not None and never_sinks(low):
            collector = pin.role is Role.OPEN_COLLECTOR
            for s in _dead(case, number):
                yield s.clue(-0.9, "an open collector has but one way to drive", when=collector).clue(-3.0, COMMON, when=common)
        elif low is None and high is not None and _never_sources(high):
            yield from (s.clue(-0.5, "its low side could not be loaded") for s in _dead(case, number))
        for s in (*_sink(case, number, low, high), *_source(case, number, low, high)):
            yield s.clue(-3.0, "a stuck input explains what it answers, and its loads were then taken in another state", when=answers)
        yield from _leak(case, number, low, high)


def _dead(case: Case, pin: int) -> Iterator[Suspicion]:
    name = case.name(pin)
    contact = f"{name} shows its junction to ground: its bond wire is whole"
    yield (
        Suspicion(Failure.DEAD_OUTPUT, pin, f"the output stage of {name} is dead: it drives neither way")
        .clue(5.0, f"{name} follows any load, up or down")
        .clue(1.0, contact)
    )
    yield (
        Suspicion(Failure.OPEN_OUTPUT, pin, f"the way from the output stage to {name} is open")
        .clue(3.5, f"{name} follows any load, up or down")
        .clue(-1.0, contact)
    )


def never_sinks(low: Shape) -> bool:
    """True if loads pull it up, but for what trickles through it."""
    return bool(low.amperes) and max(low.amperes) < TRICKLE_A and max(low.volts) > 3.0


def _never_sources(high: Shape) -> bool:
    return bool(high.amperes) and max(high.amperes) < 0.05e-3 and max(high.volts) < 0.6


def _stuck(case: Case, pin: int) -> Iterator[Suspicion]:
    logic = case.has(pin, "logic", outcome=Outcome.BEYOND, state="")
    name, role = case.name(pin), case.part.pin(pin).role
    if role is Role.OPEN_COLLECTOR and (low := case.shape(pin, True)) and never_sinks(low):
        yield (
            Suspicion(Failure.STUCK_OUTPUT, pin, f"{name} is stuck off: it never sinks")
            .clue(4.9, f"{name} never goes low under any load")
        )
        return
    if logic is None:
        return
    words = logic.sentence
    if "is stuck" not in words and "does not let go" not in words and "neither low nor high" not in words:
        return
    level = "low" if "stuck low" in words or "drives low" in words else "high"
    made = Suspicion(Failure.STUCK_OUTPUT, pin, f"{name} is stuck {level}")
    made.clue(5.0, f"{name} is {level} in every step", when="is stuck" in words)
    made.clue(3.0, f"{name} drives {level} when it should be off", when="does not let go" in words)
    made.clue(2.5, f"{name} gives no proper level", when="neither low nor high" in words)
    made.clue(1.0, f"{name} leaks when it is off", when=case.has(pin, "IOZ", outcome=Outcome.BEYOND))
    made.clue(0.7, "the supply current is higher than it should be", when=_hungry(case))
    yield made


def _hungry(case: Case) -> bool:
    return any(f.outcome is Outcome.BEYOND or "what is typical" in f.sentence and "only" not in f.sentence
               for f in case.record.supply)


def _sink(case: Case, pin: int, low: Shape | None, high: Shape | None) -> Iterator[Suspicion]:
    """Lost gain, or a resistance."""
    if low is None or never_sinks(low) or not case.has(pin, "VOL", "VOH", "logic"):
        return
    lost = case.has(pin, "VOL", outcome=Outcome.BEYOND)
    if low.most < (SLIGHT_V if lost else NOTABLE_V) and not (lost and not low.beside_sisters):
        return  # as its sisters are; what ails them all is none of its own
    name = case.name(pin)
    at = max(range(len(low.excess)), key=lambda k: low.excess[k] - low.slack[k])
    worst = f"{name} is {in_volts(low.excess[at])} higher than its like at {low.amperes[at] * 1e3:.1f} mA"
    proportional, limited = low.misfit < RESISTANCE and not low.late, low.cliff > LIMIT
    unloaded = low.surely_bare < NOTABLE_V
    gain = Suspicion(Failure.LOST_GAIN, pin, f"the transistor that pulls {name} low has lost its gain").clue(1.5, worst)
    gain.clue(3.0, f"its current stays near {low.amperes[-1] * 1e3:.1f} mA while its volts run away", when=limited)
    gain.clue(1.0, "under light load it is as low as it should be", when=not proportional and low.excess[0] - low.slack[0] < NOTABLE_V)
    gain.clue(1.5, "its excess grows faster than the current", when=low.growth > GROWS or low.late)
    few = abs(low.ohm) < max(FEW_OHM, FEW * case.usual_ohm)
    gain.clue(1.0, "its excess is slight, as of a transistor that saturates less", when=few and not limited)
    straight = proportional and not limited and low.growth < GROWS
    gain.clue(-3.0, "its excess is in proportion to the current", when=straight and not few)
    gain.clue(-2.0, "it is raised without any load", when=not unloaded)
    gain.clue(-3.0, ALL_LOSE, when=most_lost(case))
    yield gain
    surely = low.ohm > max(low.ohm_u, LEAST_OHM)  # a figure no larger than its uncertainty is none
    what = f"are about {low.ohm:.0f} ohm" if surely else "is a resistance"
    series = Suspicion(Failure.SERIES, pin, f"there {what} in the way of {name}: a bond, or the metal").clue(1.5, worst)
    series.clue(3.0, "its excess is in proportion to the current", when=proportional and not limited)
    series.clue(-3.0, ALL_LOSE, when=most_lost(case))
    series.clue(2.0, "its level rises along a straight line", when=lost and "series resistance" in lost.sentence)
    series.clue(-1.5, "its excess grows faster than the current", when=low.growth > GROWS)
    series.clue(-1.0 if straight else -2.5, "so few ohms are hardly a bond", when=few)
    series.clue(-3.0, "its current hits a limit, which no resistance does", when=limited and not proportional)
    series.clue(-1.0, "its excess is not in proportion to the current", when=not limited and not proportional)
    series.clue(-2.0, "it is raised without any load, where a resistance has nothing to drop", when=not unloaded)
    if high is not None and high.most > 0:
        alike = high.misfit < 0.5 and 0.5 < high.ohm / max(low.ohm, 0.1) < 2.0
        series.clue(1.5, f"the high side has about {high.ohm:.0f} ohm more too", when=alike and low.ohm > 8)
    yield series


def most_lost(case: Case) -> bool:
    """True if most outputs, and two at least, do not hold their low level."""
    lost = [p for p in case.part.outputs if case.has(p.number, "VOL", outcome=Outcome.BEYOND)]
    return len(lost) >= max(2.0, MOST * len(case.part.outputs))


def _source(case: Case, pin: int, low: Shape | None, high: Shape | None) -> Iterator[Suspicion]:
    """Weak pull-up, or a resistance that the low side would show as well."""
    ios = case.has(pin, "IOS", outcome=Outcome.BEYOND)
    weak = ios is not None and "weak" in ios.sentence
    if not (high is not None and high.most > NOTABLE_HIGH_V and case.has(pin, "VOH", "logic", "IOS")) and not weak:
        return
    name = case.name(pin)
    made = Suspicion(Failure.WEAK_PULL_UP, pin, f"what pulls {name} high has become weak")
    if high is not None and high.most > NOTABLE_HIGH_V:
        at = max(range(len(high.excess)), key=high.excess.__getitem__)
        made.clue(3.0, f"{name} is {in_volts(high.excess[at])} lower than its like at {high.amperes[at] * 1e3:.2g} mA")
        made.clue(-2.0, "it is low without any load too", when=high.bare > NOTABLE_HIGH_V)
    made.clue(2.0, "shorted it delivers too little", when=weak)
    made.clue(2.0, "its low side is as it should be", when=low is None or low.most < NOTABLE_V)
    if low is not None and high is not None and low.misfit < RESISTANCE and low.ohm > 8:
        made.clue(-2.5, "its low side shows a resistance too", when=0.4 < high.ohm / low.ohm < 2.5)
    made.clue(-1.0, "its low side is bad too", when=low is not None and low.most > NOTABLE_V)
    yield made


def _leak(case: Case, pin: int, low: Shape | None, high: Shape | None) -> Iterator[Suspicion]:
    name = case.name(pin)
    off = case.has(pin, "IOZ", outcome=Outcome.BEYOND)
    # A channel without load is at its rail, whatever its resistance: only a leak keeps it away.
    raised = low is not None and low.surely_bare > 0.75 * NOTABLE_V and (
        not case.bipolar or low.bare > 0.6 * low.excess[-1])
    least = NOTABLE_HIGH_V if case.bipolar else NOTABLE_V
    pulled = high is not None and high.surely_bare > least and (not case.bipolar or high.bare > 0.6 * high.excess[-1])
    let_go = case.has(pin, "logic", outcome=Outcome.BEYOND, state="")
    holds = let_go is not None and "does not let go" in let_go.sentence
    no_level = let_go is not None and "neither low nor high" in let_go.sentence
    at_rest = case.has(pin, "ICC", state=LEAK)
    if not (off or raised or pulled or holds or no_level or at_rest):
        return
    up, down = (raised, pulled) if at_rest is None else (f"leaks to {rail}" in at_rest.sentence for rail in ("supply", "ground"))
    to = "supply" if up and not down else "ground" if down and not up else "a rail"
    if at_rest and "leak to each other" in at_rest.sentence:
        to = "another output"
    made = Suspicion(Failure.LEAKY_OUTPUT, pin, f"{name} leaks to {to}")
    made.clue(4.5, off.sentence if off else "", when=off)
    made.clue(5.0 if at_rest and at_rest.outcome is Outcome.BEYOND else 3.5, at_rest.sentence if at_rest else "", when=at_rest)
    made.clue(4.0, f"its low level is {in_volts(low.bare) if low else ''} too high without load, and hardly more under load", when=raised)
    made.clue(4.0, f"its high level is {in_volts(high.bare) if high else ''} too low without load, and hardly more under load", when=pulled)
    made.clue(2.5, f"{name} does not let go when it should be off", when=holds)
    made.clue(2.8, f"{name} gives no proper level", when=no_level)
    made.clue(0.5, "the supply current is higher than it should be", when=_hungry(case))
    stuck = let_go is not None and "is stuck" in let_go.sentence
    made.clue(-2.0, f"{name} is at one level for good", when=stuck)
    yield made
