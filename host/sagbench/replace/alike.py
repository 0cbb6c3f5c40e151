# SPDX-License-Identifier: MIT
"""Which pin of one part is which of another: by their places, by their names, or by what they do.

The last is a search for a pairing that makes all tables equal.  Pins and state bits are told apart by how much each
output depends on them, again and again with what that tells of their neighbours (colour refinement); where some stay
alike, as the gates of a hex inverter do, one is paired by choice and the search goes on.  Where no pairing makes the tables
equal, one that does so with clocks, enables, clears or presets active at their other level will do.
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass

from sagbench.replace.functions import Form, Pair, Root, combinations

_TRIES = 400                             # choices of one search; sister gates need one each

Pairing = Mapping[str, str]              # signal of the one -> signal of the other: inputs, outputs, state bits


@dataclass(frozen=True)
class Match:
    """Two forms put beside each other."""

    one: Form
    other: Form
    pairing: Pairing
    inverted: frozenset[str] = frozenset()           # inputs of the one that the other takes at the other level

    @property
    def same_places(self) -> bool:
        """True if the other can be put in the socket as it is: every signal on its pin, the rails on theirs."""
        mine, yours = self.one, self.other
        return (len(mine.pinout.pins) == len(yours.pinout.pins) and _rails(mine) == _rails(yours)
                and all(mine.numbers[a] == yours.numbers[b] for a, b in self.pairing.items() if a in mine.numbers))

    @property
    def wiring(self) -> tuple[tuple[int, int], ...]:
        """Pin of the place -> pin of the chip, for an adapter; rails last.  Pins that are no signals go by their names."""
        here, there = self.one.pinout, self.other.pinout
        analog = [(here.pins.index(name) + 1, there.pins.index(name) + 1) for name in here.analog & there.analog]
        pins = analog + [(self.one.numbers[a], self.other.numbers[b]) for a, b in self.pairing.items() if a in self.one.numbers]
        rails = [(min(a), pin) for a, b in zip(_rails(self.one), _rails(self.other), strict=True) for pin in sorted(b)]
        return (*sorted(pins), *rails)


def _rails(form: Form) -> tuple[frozenset[int], frozenset[int]]:
    """Supply pins and ground pins."""
    pins = list(enumerate(form.pinout.pins, start=1))
    return (frozenset(n for n, name in pins if name in form.pinout.supply),
            frozenset(n for n, name in pins if name in form.pinout.ground))


def pairings(one: Form, other: Form) -> Iterator[Match]:
    """Ways to put them beside each other that are worth comparing, the plainest first.

    Same places and same names say nothing of what the parts do; a pairing by what they do makes all tables equal, but for
    output stages (an open collector that is off counts as high).
    """
    for signals in (by_places(one, other), by_names(one, other)):
        if signals is not None:
            yield Match(one, other, with_states(one, other, signals))
    for lax in (False, True):
        if (found := by_doing(one, other, lax)) is not None:
            yield Match(one, other, *found)
            return


def by_places(one: Form, other: Form) -> dict[str, str] | None:
    """Signals on the same pins, if kinds and rails agree; None if not."""
    if len(one.pinout.pins) != len(other.pinout.pins) or _rails(one) != _rails(other):
        return None
    if set(one.numbers.values()) != set(other.numbers.values()):
        return None
    there = {number: name for name, number in other.numbers.items()}
    made = {name: there[number] for name, number in one.numbers.items()}
    return made if all(one.kind[a] == other.kind[b] for a, b in made.items()) else None


def by_names(one: Form, other: Form) -> dict[str, str] | None:
    """Signals of the same names, if these are all and of the same kinds."""
    if one.numbers.keys() != other.numbers.keys() or any(one.kind[n] != other.kind[n] for n in one.numbers):
        return None
    return {name: name for name in one.numbers}


def with_states(one: Form, other: Form, signals: Mapping[str, str]) -> dict[str, str]:
    """The pairing with state bits: those that show at paired outputs, then those of one name, then in order.
    Without them if their numbers differ."""
    if len(one.network.states) != len(other.network.states):
        return dict(signals)
    made: dict[str, str] = {}
    for out in one.outputs:
        mine, yours = _state_shown(one, out), _state_shown(other, signals[out])
        if mine and yours and mine not in made and yours not in made.values():
            made[mine] = yours
    for name in one.network.states:
        if name not in made and name in other.network.states and name not in made.values():
            made[name] = name
    rest = [name for name in other.network.states if name not in made.values()]
    made |= dict(zip((name for name in one.network.states if name not in made), rest, strict=True))
    return {**signals, **made}


def _state_shown(form: Form, out: str) -> str | None:
    """The only state bit an output reads."""
    states = form.reads(Root(out, "value")) & set(form.network.states)
    return next(iter(states)) if len(states) == 1 else None


def by_doing(one: Form, other: Form, lax: bool = False) -> tuple[dict[str, str], frozenset[str]] | None:
    """A pairing that makes all tables equal, pins staying where they are as far as they can; None if there is none.

    lax: clocks, enables, clears and presets may be inverted; those that are come second.
    """
    if one.counts != other.counts or one.large or other.large:
        return None
    if Counter(len(names) for names, _ in one.own_tables.values()) != Counter(len(names) for names, _ in other.own_tables.values()):
        return None
    return _Search(one, other, lax).run()


class _Search:
    """One search by what the pins do."""

    def __init__(self, one: Form, other: Form, lax: bool) -> None:
        self.one, self.other, self.lax = one, other, lax
        self.tries = _TRIES
        self.shared: dict[Hashable, int] = {}        # what has been seen -> its colour, for both parts

    def run(self) -> tuple[dict[str, str], frozenset[str]] | None:
        start = [{name: self.colour(kind) for name, kind in form.kind.items()} for form in (self.one, self.other)]
        return self.pair(*start)

    def colour(self, seen: Hashable) -> int:
        return self.shared.setdefault(seen, len(self.shared))

    def pair(self, mine: dict[str, int], yours: dict[str, int]) -> tuple[dict[str, str], frozenset[str]] | None:
        """Refine; where several stay alike, pair the first of them with each in turn."""
        mine, yours = self.refined(self.one, mine), self.refined(self.other, yours)
        if Counter(mine.values()) != Counter(yours.values()):
            return None
        alike = [colour for colour, count in Counter(mine.values()).items() if count > 1]
        if not alike:
            there = {colour: name for name, colour in yours.items()}
            pairing = {name: there[colour] for name, colour in mine.items()}
            inverted = self.inverted(pairing) if self.lax else frozenset()
            return (pairing, inverted) if equal(Match(self.one, self.other, pairing, inverted)) else None
        chosen = min((name for name, colour in mine.items() if colour in alike), key=lambda n: self.one.numbers.get(n, 99))
        for name in self.likely(chosen, [n for n, colour in yours.items() if colour == mine[chosen]]):
            self.tries -= 1
            if self.tries < 0:
                return None
            fresh = self.colour(("chosen", len(self.shared)))
            if made := self.pair({**mine, chosen: fresh}, {**yours, name: fresh}):
                return made
        return None

    def likely(self, chosen: str, names: list[str]) -> list[str]:
        """The one on the same pin first, then the one of the same name, then by pin number."""
        here = self.one.numbers.get(chosen)
        return sorted(names, key=lambda n: (self.other.numbers.get(n) != here, n != chosen, self.other.numbers.get(n, 99)))

    def refined(self, form: Form, colours: dict[str, int]) -> dict[str, int]:
        while True:
            seen: dict[str, list[Hashable]] = {name: [] for name in colours}
            for root, (names, (one, zero)) in form.own_tables.items():
                columns, _ = combinations(names)
                parts = {n: (colours[n], *self.halves(form, n, (one, zero), columns[n]), self.company(form, root, n, colours))
                         for n in names}
                here = self.colour((root.what, colours[root.owner], one.bit_count(), zero.bit_count(), tuple(sorted(parts.values()))))
                seen[root.owner].append((-1, here))
                for name, part in parts.items():
                    seen[name].append((here, *part))
            new = {name: self.colour((colours[name], tuple(sorted(map(repr, seen[name]))))) for name in colours}
            if len(set(new.values())) == len(set(colours.values())):
                return new
            colours = new


    def halves(self, form: Form, name: str, pair: Pair, column: int) -> tuple[tuple[int, int], ...]:
        """How often a table is 1 and 0 while a name is high, and while it is low; in no order if it may be inverted."""
        found = [((pair[0] & side).bit_count(), (pair[1] & side).bit_count()) for side in (column, ~column)]
        return tuple(sorted(found) if self.lax and name in form.controls else found)

    def company(self, form: Form, root: Root, name: str, colours: Mapping[str, int]) -> tuple[tuple[int, int, int], ...]:
        """How a name goes together with each other one in a table: in (A & B) | (C & D) A does otherwise with B than with C."""
        if self.lax and name in form.controls:
            return ()
        return tuple(sorted((colours[other], *counts) for other, counts in form.together[root][name].items()
                            if not (self.lax and other in form.controls)))

    def inverted(self, pairing: Pairing) -> frozenset[str]:
        """Controls that some table of the other asks for at the other level."""
        found = set()
        for root, (names, pair) in self.one.own_tables.items():
            there, other = self.other.own_tables.get(Root(pairing[root.owner], root.what), ((), (0, 0)))
            for name in set(names) & self.one.controls:
                if pairing[name] in there:
                    mine = self.sides(pair, combinations(names)[0][name])
                    yours = self.sides(other, combinations(there)[0][pairing[name]])
                    if mine != yours and mine == yours[::-1]:
                        found.add(name)
        return frozenset(found)

    @staticmethod
    def sides(pair: Pair, column: int) -> list[int]:
        return [(pair[0] & column).bit_count(), (pair[0] & ~column).bit_count()]


def equal(match: Match) -> bool:
    """True if all tables are equal where those of the one are known."""
    roots = {root: Root(match.pairing[root.owner], root.what) for root in match.one.roots}
    return set(roots.values()) == set(match.other.roots) and not any(_differ(match, a, b) for a, b in roots.items())


def _differ(match: Match, mine: Root, yours: Root) -> bool:
    """True if a root of the one is known somewhere and the other's is not the same there."""
    back = {b: a for a, b in match.pairing.items()}
    columns, every = combinations(sorted(match.one.reads(mine) | {back[n] for n in match.other.reads(yours)}))
    a = match.one.table(mine, {n: columns[n] for n in match.one.reads(mine)}, every)
    turned = {n: every if n in match.inverted else 0 for n in columns}
    b = match.other.table(yours, {n: columns[back[n]] ^ turned[back[n]] for n in match.other.reads(yours)}, every)
    return bool(a[0] & ~b[0] | a[1] & ~b[1])
