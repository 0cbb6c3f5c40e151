"""Suspicions about the whole chip: contacts, rails, supply current, and whether it is what it says.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from math import log

from sagbench.judge.case import Case
from sagbench.judge.contact import PLAIN_SHORT_OHM
from sagbench.judge.failures import Failure, Suspicion
from sagbench.judge.fingerprint import by_supply, name_of
from sagbench.judge.identity import Likeness
from sagbench.judge.limits import in_amperes, listed
from sagbench.judge.supply import CUT_OFF, LEAK
from sagbench.judge.suspect_common import MOSTLY, common, drives_nothing
from sagbench.judge.suspect_inputs import MANY, Cause, unmeasured
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Role
from sagbench.record import NOT_SEATED, Contact, Finding, Outcome, PinContact

_PIN = re.compile(r"pin (\d+)")
RAILS = (Role.SUPPLY, Role.GROUND)
MOST_NAMES = 3  # of families or functions in a sentence
PERHAPS = 0.1  # or, where limits of the marked family are broken, one so likely
OF_FAMILIES = ("IIL", "IIH", "ICC", "VOL", "VOH", "IOS", "VT+", "VT-")  # quantities whose limits differ most between families
ALIKE = 0.3  # a family so many times as likely as the likeliest is named with it


def chip(case: Case, causes: Sequence[Cause] = (), likenesses: Sequence[Likeness] = ()) -> Iterator[Suspicion]:
    """All suspicions that belong to no single output or input.

    causes: inputs that, stuck, explain all answers; likenesses: other functions that would answer so.
    """
    if case.record.partial.startswith(NOT_SEATED):
        yield Suspicion(Failure.SEATING, None, "it is not seated as it must be").clue(8.0, case.record.advice)
        ground = case.part.ground.number
        yield (
            Suspicion(Failure.OPEN_SUPPLY, ground, f"the bond wire of {case.name(ground)} is open, or all but open")
            .clue(5.0, "its pins conduct like those of no seating", when="in any seating" in case.record.advice)
            .clue(5.0, "nothing conducts to ground", when="no contact at ground" in case.record.advice)
        )
    for c in case.record.contacts:
        if c.contact is Contact.OPEN:
            yield from _open(case, c)
        elif c.contact is Contact.SHORTED and not _told_by_another(case, c):
            yield from _short(case, c)
    yield from common(case)
    yield from _supply(case)
    yield from _family(case)
    yield from _function(case, causes, likenesses)


def _open(case: Case, c: PinContact) -> Iterator[Suspicion]:
    role, name = case.part.pin(c.pin).role, case.name(c.pin)
    if role in RAILS:
        yield Suspicion(Failure.OPEN_SUPPLY, c.pin, f"the bond wire of {name} is open").clue(8.0, c.sentence)
        return
    kind = Failure.OPEN_INPUT if role is Role.INPUT else Failure.OPEN_OUTPUT
    made = Suspicion(kind, c.pin, f"the bond wire of {name} is open, or its leg is dirty").clue(7.0, c.sentence)
    logic = case.has(c.pin, "logic", outcome=Outcome.BEYOND)
    made.clue(1.0, f"{name} drives nothing", when=logic and "drives nothing" in logic.sentence)
    made.clue(-4.0, f"{name} answers rightly all the same", when=role.is_output and role is not Role.OPEN_COLLECTOR and any(
        f.quantity == "logic" and f.outcome is Outcome.WITHIN for f in case.pin(c.pin).findings))
    yield made


def _told_by_another(case: Case, c: PinContact) -> bool:
    """True if the short is told by another pin of it: a signal pin rather than a rail, the lowest of several."""
    if case.part.pin(c.pin).role in RAILS:
        return case.part.pin(c.pin).role is Role.GROUND or not all(w.startswith(("supply", "ground")) for w in c.shorted_to)
    partners = [int(number) for word in c.shorted_to for number in _PIN.findall(word)]
    return any(number < c.pin and case.part.pin(number).role not in RAILS for number in partners)


def _short(case: Case, c: PinContact) -> Iterator[Suspicion]:
    """A short, and the same as a leak where it has some ohms."""
    name, role = case.name(c.pin), case.part.pin(c.pin).role
    plain = c.ohm is None or c.ohm < PLAIN_SHORT_OHM
    to = listed(c.shorted_to)
    yield (
        Suspicion(Failure.SHORT, c.pin, f"{name} is shorted inside to {to}")
        .clue(7.0 if plain else 5.5, c.sentence)
        .clue(-0.5, f"some {c.ohm or 0:.0f} ohm are no plain short", when=not plain)
    )
    kind = Failure.LEAKY_INPUT if role is Role.INPUT else Failure.LEAKY_OUTPUT
    if role not in RAILS:
        yield (
            Suspicion(kind, c.pin, f"{name} leaks to {to}: punched through")
            .clue(6.0 if not plain else 5.0, c.sentence)
            .clue(-0.5, "so few ohms are rather a short", when=plain)
        )


def _supply(case: Case) -> Iterator[Suspicion]:
    high = [f for f in case.record.supply if f.outcome is Outcome.BEYOND]
    odd = [f for f in case.record.supply if f.outcome is Outcome.ODD and "only" not in f.sentence and "nothing" not in f.sentence]
    near = [f for f in case.record.supply if f.outcome is Outcome.UNSURE and f.weight]
    tripped = [f for f in case.record.reasons if f.state == CUT_OFF and f.outcome is Outcome.BEYOND]
    if not (high or odd or near or tripped):
        return
    made = Suspicion(Failure.EXCESS_SUPPLY, None, "something inside draws supply current that it should not")
    for f in (*tripped[:1], *high[:2]) or (*odd[:1], *near[:1]):
        made.clue(3.5 if f.outcome is Outcome.BEYOND else 2.5 if f.outcome is Outcome.ODD else 1.5, f.sentence)
    offsets = [f.value.value - f.typical for f in (*high, *odd) if f.value is not None and f.typical]
    made.clue(1.0, "it is about the same in every state", when=len(offsets) > 1 and max(offsets) < 1.5 * max(min(offsets), 1e-9))
    pins = [n for n, some in case.found.items() if any(f.outcome is Outcome.BEYOND and f.weight for f in some)]
    made.clue(-1.5, f"{case.name(min(pins))} is sick besides, which may be the cause" if pins else "", when=pins)
    leak = next((f for some in case.found.values() for f in some if f.state == LEAK and f.outcome is Outcome.BEYOND), None)
    made.clue(-3.0, "an output leaks, which is where it goes", when=leak)
    made.clue(-2.5, "a pin is shorted, which may be the cause", when=any(c.contact is Contact.SHORTED for c in case.record.contacts))
    made.clue(-5.0, "the silicon is of another family", when=case.chip("wrong family"))
    yield made
    if high and not case.bipolar and not pins:
        yield (
            Suspicion(Failure.LEAKY_OUTPUT, None, "an output leaks, by so little or so evenly that no state tells which: to a rail, or to its complement")
            .clue(made.score, "what CMOS draws at rest is what leaks")
            .clue(-1.5, "one output's leak mostly changes with its level")
        )


def _family(case: Case) -> Iterator[Suspicion]:
    """Silicon of another family: by its figures, or where there was no power to take them, by what it drew."""
    marked = case.part.family or PLAIN
    if wrong := case.chip("wrong family"):
        other = case.record.families[0] if case.record.families else None
        alike = [name_of(g.family) for g in case.record.families if other and g.probability > ALIKE * other.probability]
        whose = " or ".join(alike[:MOST_NAMES]) or "another family"
        made = Suspicion(Failure.WRONG_FAMILY, None, f"it is {whose} silicon sold as a {case.part.name}")
        made.clue(9.0, wrong.sentence)
        yield made
    elif case.record.families and case.record.families[0].family != marked:
        first = case.record.families[0]
        made = Suspicion(Failure.WRONG_FAMILY, None, f"its silicon looks like {name_of(first.family)} rather than {name_of(marked)}")
        ours = next((g.probability for g in case.record.families if g.family == marked), 0.0)
        made.clue(min(4.0, log(first.probability / max(ours, 1e-9))), "; ".join(said.removeprefix("for it: ") for said in first.evidence[:2]))
        if broken := _of_families(case):
            made.clue(2.0, broken.sentence)
        yield made
    else:
        yield from [*_hungry_family(case), *_perhaps_family(case, marked)] or _of_all_inputs(case, marked)


def _perhaps_family(case: Case, marked: str) -> Iterator[Suspicion]:
    """Another family that fits nearly as well as the marked one, where figures that hang on it are beyond their limits."""
    broken = _of_families(case)
    near = [g for g in case.record.families if g.family != marked and g.probability > PERHAPS]
    if broken and near:
        whose = " or ".join(name_of(g.family) for g in near[:MOST_NAMES])
        yield (
            Suspicion(Failure.WRONG_FAMILY, None, f"its silicon may be {whose}, sold as a {case.part.name}")
            .clue(1.0, f"{whose} fits the figures nearly as well as {name_of(marked)}")
            .clue(1.0, broken.sentence)
        )


def _of_all_inputs(case: Case, marked: str) -> Iterator[Suspicion]:
    """Most inputs beyond their limits in the same way, which no failure does: not the marked family's input stage."""
    if case.share_beyond("IIH", "IIL") > MANY and len(case.part.of_role(Role.INPUT)) > 2:
        some = next(f for p in case.part.of_role(Role.INPUT) if (f := case.has(p.number, "IIH", "IIL", outcome=Outcome.BEYOND)))
        little = next((f for f in case.record.supply if f.outcome is Outcome.ODD and ("only" in f.sentence or "nothing" in f.sentence)), None)
        yield (
            Suspicion(Failure.WRONG_FAMILY, None, f"its silicon may be another family's than {name_of(marked)}, sold as a {case.part.name}")
            .clue(2.0, f"most of its inputs are beyond their limits, as {some.sentence}")
            .clue(1.0, little.sentence if little else "", when=little)
        )


def _of_families(case: Case) -> Finding | None:
    """A figure beyond its limit that another family may well have."""
    return next((f for f in case.record.reasons if f.quantity in OF_FAMILIES and f.outcome is Outcome.BEYOND), None)


def _hungry_family(case: Case) -> Iterator[Suspicion]:
    """A supply current beyond all that the marked part may draw: another part's, or usual for this function in another family."""
    cut = next((f for f in case.record.reasons if f.state == CUT_OFF and f.outcome is Outcome.BEYOND), None)
    if cut is None or cut.value is None:
        return
    if fit := by_supply(case.part, cut.value.value):
        whose = " or ".join(name_of(f) for f in fit[:MOST_NAMES])
        yield (
            Suspicion(Failure.WRONG_FAMILY, None, f"its silicon may be {whose}, sold as a {case.part.name}")
            .clue(3.0, f"{in_amperes(cut.value.value)} are usual for a {case.part.function} of {whose}")
            .clue(-1.0, "nothing else could be measured without power")
        )
    else:
        yield (
            Suspicion(Failure.WRONG_PART, None, f"it is not a {case.part.name} but a part of another function")
            .clue(2.5, f"another part in its place may well draw {in_amperes(cut.value.value)}")
            .clue(-0.5, "nothing else could be measured without power")
        )


def _function(case: Case, causes: Sequence[Cause], likenesses: Sequence[Likeness]) -> Iterator[Suspicion]:
    """A part of another function: wrong answers all over, inputs that drive, pins without contact, no hysteresis."""
    asked = [p.number for p in case.part.outputs
             if any(f.quantity == "logic" for f in case.pin(p.number).findings) and not case.bad_contact(p.number)]
    wrong = [n for n in asked if case.has(n, "logic", outcome=Outcome.BEYOND, state="")]
    held = [p for p in case.part.inputs if case.has(p.number, "input", outcome=Outcome.BEYOND)]
    leaky = [p for p in case.part.inputs if case.has(p.number, "IIH", "IIL", outcome=Outcome.BEYOND) and p not in held]
    plain = [p for p in case.part.of_role(Role.INPUT) if p.schmitt and case.has(p.number, "VH", outcome=Outcome.BEYOND)]
    schmitt = [p for p in case.part.of_role(Role.INPUT) if p.schmitt]
    made = Suspicion(Failure.WRONG_PART, None, f"it is not a {case.part.name} but a part of another function")
    if likenesses:
        made.sentence += f": it answers like {listed(f'the {x.function} ({x.title})' for x in likenesses[:MOST_NAMES])}"
    every = len(wrong) == len(asked)
    made.clue(4.0 if every else 3.0, f"{len(wrong)} of its {len(asked)} outputs answer wrongly",
              when=len(wrong) > 1 and len(wrong) >= len(asked) / 2)
    made.clue(4.0, f"all its answers are those of a {likenesses[0].function}" if likenesses else "", when=likenesses)
    few = 0 < len(held) < len(case.part.inputs) / 2
    made.clue(2.5 * min(len(held), 2), f"{len(held)} of its inputs drive back, as outputs of another part do", when=few)
    made.clue(2.0 * min(len(leaky), 3), f"{len(leaky)} of its inputs behave like outputs of another part", when=len(leaky) > 1 and wrong)
    made.clue(3.0, f"{listed(map(case.name, case.twins))} take the very same current, as outputs of another part do",
              when=case.twins and case.share_beyond("IIH", "IIL") <= MANY)
    strong = [p for p in case.part.of_role(Role.INPUT) if unmeasured(case, p.number)]
    silent = len(wrong) > 1 and every and sum(drives_nothing(case, n) for n in wrong) >= MOSTLY * len(wrong)
    made.clue(3.0, "its outputs drive nothing, as inputs of another part do, though it has power", when=silent)
    made.clue(2.0, f"{case.name(strong[0].number)}, an input, drives" if strong else "", when=silent and strong)
    made.clue(7.0, "none of its Schmitt inputs has the hysteresis of one", when=len(plain) > 1 and len(plain) == len(schmitt))
    odd = next((f for p in case.part.of_role(Role.INPUT) if not p.schmitt and (f := case.has(p.number, "VH", outcome=Outcome.BEYOND))), None)
    made.clue(7.0, odd.sentence if odd else "", when=odd)
    driving = [p for p in case.part.of_role(Role.OPEN_COLLECTOR)
               if (f := case.has(p.number, "logic", outcome=Outcome.BEYOND, state="")) and "drives high" in f.sentence]
    made.clue(5.0, "open-collector outputs drive high, which none can", when=len(driving) > 1)
    contacts = [c for c in case.record.contacts if c.contact in (Contact.OPEN, Contact.SHORTED)]
    explained = next((case.name(pin) for pin, _ in causes if any(c.pin == pin for c in contacts)), "")
    if wrong and contacts:
        made.clue(-5.0, f"{explained} without contact explains all its answers", when=explained)
        made.clue(1.5, f"{contacts[0].sentence}, which does not explain its answers", when=not explained)
        made.clue(2.0 * (len(contacts) - 1), f"{len(contacts)} pins have no contact or a short at once", when=len(contacts) > 1)
    elif wrong:
        one = f"one stuck input, {case.name(causes[0][0])}, would explain all its answers" if causes else ""
        made.clue(-2.0, one, when=causes)
        vague = ("neither low nor high", "drives nothing") if every else ("neither low nor high",)  # an input of it floats
        unclear = [n for n in wrong if any(word in f.sentence for f in case.found[n] for word in vague)]
        all_unclear = len(unclear) == len(wrong)
        made.clue(-2.5 if all_unclear else -1.0, f"{'all' if all_unclear else 'some'} of them give no proper levels", when=unclear and not likenesses and not silent)
    yield made
