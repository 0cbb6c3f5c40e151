# SPDX-License-Identifier: MIT
"""Find all that can stand in for a part: every function and family there is, held beside it, judged and ranked."""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from sagbench.parts import lookup, names
from sagbench.parts.definition import PLAIN, Definition
from sagbench.parts.model import Marking, Part
from sagbench.replace import known
from sagbench.replace.alike import Match, by_names, by_places, pairings, with_states
from sagbench.replace.differ import Difference, differences
from sagbench.replace.fit import Fit, itself, judge
from sagbench.replace.functions import Form
from sagbench.replace.place import Place


def replacements(original: Part, own: Definition, every: Iterable[Definition], place: Place) -> tuple[Fit, tuple[Fit, ...]]:
    """The original in its place, and all replacements, the best first.

    own: the original's definition as its file gives it; every: all definitions, that one among them or not.
    """
    key = original.family or PLAIN
    form = Form(own.of(key), own.pinout(key))
    same = Match(form, form, {name: name for name in (*form.numbers, *form.network.states)})
    found = []
    for definition in (own, *(made for made in every if made.function != own.function)):
        for match, told, families in _alike(form, original.name, own.of(key), definition):
            for family in families:
                if definition is own and family == key:
                    continue
                part = _part(definition, family, original.grade)
                found.append(judge(original, part, match, told, place))
    return itself(original, same, place), tuple(sorted(found, key=lambda fit: fit.rank))


def _part(definition: Definition, family: str, grade: int) -> Part:
    """The part of a family, of the original's grade if it was made in it."""
    grade = 0 if family in names.OWN_NUMBER else grade or 74
    name = names.type_name(definition.function, family, grade or 74)
    return lookup.build(definition, Marking(name, "", grade, "" if family == PLAIN else family, definition.function, ""))


def _alike(form: Form, name: str, own: Definition,
           definition: Definition) -> Iterator[tuple[Match | None, Sequence[Difference], list[str]]]:
    """Each form of a definition that is near, put beside the original's in the best way, and its families."""
    for made, pinout in definition.forms():
        families = [f for f in made.families if definition.pinout(f) is pinout]
        other = Form(made, pinout)
        if own.static or made.static:            # what it does hangs on a resistor and a capacitor outside
            yield from _known(form, own, other, families)
        elif made is own and pinout is form.pinout:
            yield Match(form, other, {n: n for n in (*form.numbers, *form.network.states)}), (), families
        elif other.counts[:2] == form.counts[:2] and (best := _best(form, other, name)):
            really, mine = known.resembling(definition.function), known.resembling(own.function)
            told = (Difference("logic", really or f"drives by itself; the {name} is {mine}"),) if really != mine else ()
            yield best[0], (*best[1], *told), families


def _best(form: Form, other: Form, name: str) -> tuple[Match, Sequence[Difference]] | None:
    """The way to put them beside each other with the fewest differences, without an adapter if that makes none."""
    told = [(match, found) for match in pairings(form, other) if (found := differences(match, name)) is not None]
    return min(told, key=lambda pair: (sum(d.kind != "better" for d in pair[1]), not pair[0].same_places), default=None)


def _known(form: Form, own: Definition, other: Form, families: list[str]) -> Iterator[tuple[Match | None, Sequence[Difference], list[str]]]:
    """Parts with timing outside: the same function, or what is known to be near it."""
    made = other.definition
    signals = by_places(form, other) or by_names(form, other)
    match = Match(form, other, with_states(form, other, signals)) if signals is not None else None
    if made.function == own.function:
        yield match, (), families
    elif text := known.near(own.function).get(made.function):
        yield match, (Difference("timing", text),), families
