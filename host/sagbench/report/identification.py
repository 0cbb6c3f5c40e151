# SPDX-License-Identifier: MIT
"""What `identify` has found, as text of at most 79 columns and as data for a script."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator
from statistics import median
from typing import TYPE_CHECKING, Any

from sagbench.identify.candidates import Candidate
from sagbench.identify.family import Fingerprint, members_first
from sagbench.identify.run import Answer, Identification
from sagbench.judge.fingerprint import name_of
from sagbench.judge.traits import OWN, made_like
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Part
from sagbench.parts.names import type_name

if TYPE_CHECKING:
    from sagbench.parts.definition import Pinout

COLUMNS = 79
OWN_TYPE = "TTL"  # family of types whose number is their name (9311), with the limits of the plain 74
SHOWN = 3  # answers shown, and families
SURE = 0.95  # probability of a family from which a marking is called wrong
LEAST = 0.0005  # probability that is shown
WORD = {True: "settled by what conducts without power", False: "confirmed by you"}


def lines(found: Identification, print_of: Fingerprint | None = None, marked: Part | None = None) -> Iterator[str]:
    """The whole answer: rails, ranked classes with their evidence, none of these, family, and what is printed on it."""
    if found.rail is not None and not found.problem:
        yield from _wrapped(f"{found.rail.size} pins, {found.rail.in_words()}: {WORD[found.settled]}.")
        functions = "1 function of the library has its" if found.candidates == 1 else f"{found.candidates} functions of the library have their"
        yield from _wrapped(f"{functions} rails there; {found.looks} patterns were looked at.")
        yield ""
    if found.problem:
        yield from _wrapped(found.problem)
        return
    if found.none > 0.5:
        yield from _wrapped(f"None of these: no function of the library explains what its pins do (probability {_percent(found.none)}). "
                            "It may be programmable, a part of another kind, or have more than one bad pin.")  # fmt: skip
        yield from _wrapped("Nearest, and not to be relied on:" if found.ranked else "")
    elif found.ranked and found.ranked[0].mute:
        yield from _wrapped("Not decided: all outputs of what fits best would have to be bad, so that nothing its pins do speaks for it.")
    elif not found.found:
        yield from _wrapped("Not decided: what its pins do fits several functions; outputs that tell them apart may be dead.")
    for number, answer in enumerate(found.ranked[:SHOWN], start=1):
        if number == 1 or answer.probability >= LEAST:
            yield from _answer(number, answer)
    if found.none <= 0.5:
        yield f"None of these: {_percent(found.none)}"
    if found.untried and not found.found:
        names = ", ".join(sorted({c.function for c in found.untried}))
        yield from _wrapped(f"Not tried, for identify cannot switch their rails: {names}; `sagbench sweep` tells whether it is the one that you suspect.")
    if print_of is not None:
        yield ""
        yield from _family(print_of, found.ranked[0])
    if marked is not None:
        yield ""
        yield from _wrapped(on_marking(found, print_of, marked))


def on_marking(found: Identification, print_of: Fingerprint | None, marked: Part) -> str:
    """Whether the chip does what is printed on it, in one sentence or two."""
    if marked.function in {c.function for c in found.untried} - {m.function for a in found.ranked for m in a.members}:
        return f"Whether it is a {marked.name} was not tried, for identify cannot switch its rails: `sagbench sweep {marked.name}` tells."
    place = next((n for n, a in enumerate(found.ranked, 1) if marked.function in {m.function for m in a.members}), 0)
    if not found.found or place > 1:
        share = _percent(found.ranked[place - 1].probability if place else 0.0)
        return f"As marked, {marked.name}: likely with {share}."
    if not place:
        return f"It does not do what a {marked.name} does: a remarked or wrong part."
    family = print_of.families[0] if print_of and print_of.families else None
    makes = _makes(marked)
    if family and makes and family.family not in makes and family.probability > SURE:
        return f"It does what a {marked.name} does, but its silicon is that of {name_of(family.family)}: a remarked part."
    bad = found.ranked[0].bad_pins
    if bad:
        pins = f"pin{'' if len(bad) == 1 else 's'} {', '.join(map(str, bad))}"
        return f"It is likely what is printed on it, {marked.name}, but does not do that at {pins}; `sagbench sweep {marked.name}` judges it."
    return f"It does what is printed on it, {marked.name}; `sagbench sweep {marked.name}` judges it."


def _makes(part: Part) -> frozenset[str]:
    """Families that a sound one may be found to be of: as its guesses call it, as it is made, or as another of its class; none: any."""
    if (made := made_like(part)) == OWN:
        return frozenset()
    return frozenset({part.family or PLAIN, made} | ({PLAIN} if made == OWN_TYPE else set()))


def _types(members: Iterable[Candidate], family: str) -> list[str]:
    """Types of that family's silicon, those with a number of their own (9311) among the plain 74's."""
    own = {OWN_TYPE} if family == PLAIN else set()
    return [type_name(m.function, family if family in m.families else OWN_TYPE, 74) for m in members if {family, *own} & set(m.families)]


def _answer(number: int, answer: Answer) -> Iterator[str]:
    members = members_first(answer.members)
    yield from _wrapped(f"{number}. {_percent(answer.probability)}  {members[0].function}: {members[0].title}", hang=3)
    if len(members) > 1:
        yield from _wrapped("no logic test tells it from " + ", ".join(f"{m.function} ({m.title})" for m in members[1:]), 3)
    if answer.bad_pins:
        names = ", ".join(f"{pin} ({members[0].pinout.pins[pin - 1]})" for pin in answer.bad_pins)
        one = len(answer.bad_pins) == 1
        yield from _wrapped(f"if it is this, pin{'' if one else 's'} {names} {'is' if one else 'are'} bad: {'it does' if one else 'they do'} "
                            "not do what the rest says", 3)  # fmt: skip
    yield from _wrapped(f"{answer.right} readings were as it says, {answer.wrong} were not", 3)


def _family(print_of: Fingerprint, answer: Answer) -> Iterator[str]:
    if not print_of.families:
        yield from _wrapped("Family: too little was measured to say.")
        return
    yield f"Family, by its electrical figures (measured as a {print_of.part.name}):"
    for one in print_of.families[:SHOWN]:
        if one.probability >= LEAST:
            yield f"   {_percent(one.probability)}  {name_of(one.family)}"
    first = print_of.families[0].family
    if print_of.volts:
        yield from _wrapped(f"Its inputs have a hysteresis of {median(print_of.volts.values()):.2f} V.", 3)
    types = _types(members_first(print_of.members or answer.members), first)
    yield from _wrapped(f"So it is most likely a {' or '.join(types)}; `sagbench sweep {types[0]}` judges it.", 3)
    for sentence in print_of.families[0].evidence[:SHOWN]:
        yield from _wrapped(sentence, 9)


def as_json(found: Identification, print_of: Fingerprint | None = None, marked: Part | None = None) -> dict[str, Any]:
    """The same as data; probabilities from 0 to 1 (null: the chip was not powered), pins by number."""
    rail = found.rail
    return {
        "problem": found.problem,
        "on_marking": on_marking(found, print_of, marked) if marked and not found.problem else "",
        "pins": rail and rail.size,
        "supply_pins": list(rail.supplies) if rail else [],
        "ground_pins": list(rail.grounds) if rail else [],
        "settled_without_power": found.settled,
        "candidates": found.candidates,
        "patterns": found.looks,
        "none_of_these": found.none if found.looks else None,
        "not_tried": sorted({c.function for c in found.untried}),
        "answers": [
            {
                "probability": answer.probability,
                "bad_pins": list(answer.bad_pins),
                "readings_right": answer.right,
                "readings_wrong": answer.wrong,
                "functions": [_member(m) for m in members_first(answer.members)],
            }
            for answer in found.ranked
        ],
        "measured_as": print_of and print_of.part.name,
        "hysteresis_v": {str(pin): volts for pin, volts in print_of.volts.items()} if print_of else {},
        "left_by_hysteresis": [m.function for m in members_first(print_of.members)] if print_of and print_of.volts else [],
        "families": [{"family": g.family, "probability": g.probability, "evidence": list(g.evidence)} for g in print_of.families]
        if print_of else [],
    }  # fmt: skip


def _member(member: Candidate) -> dict[str, Any]:
    pinout: Pinout = member.pinout
    return {"function": member.function, "title": member.title, "families": list(member.families), "pinout": list(pinout.pins)}


def _percent(probability: float) -> str:
    """Never 100 %: the model is not that good."""
    if probability > 0.999:
        return "> 99.9 %"
    return "< 0.1 %" if probability < 0.001 else f"{100 * probability:.1f} %"


def _wrapped(text: str, indent: int = 0, hang: int = 0) -> list[str]:
    return textwrap.wrap(text, COLUMNS, initial_indent=" " * indent, subsequent_indent=" " * (indent + hang), break_long_words=False)
