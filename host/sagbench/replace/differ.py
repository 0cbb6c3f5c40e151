# SPDX-License-Identifier: MIT
"""How two parts differ that are put beside each other, in sentences; and whether they are near each other at all.

Compared is what shows at the outputs (low, high, off) and what each state bit becomes.  A difference has to be one that can be
told: an inverted output, a level while some pin is high, a clear that waits for the clock, one state that is followed
by another.  Two parts with any other difference do different things and are not near.
"""
from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import NamedTuple

from sagbench.parts.definition import Block
from sagbench.parts.model import Role
from sagbench.replace.alike import Match
from sagbench.replace.functions import Form, Pair, Root, combinations, levels_at
from sagbench.replace.pins import together

_MOST_TEXTS = 3                          # different sentences about logic; with more, it is another function
_LITERALS = 3                            # names in a condition that is still easily read
_ESSENTIAL = 4                           # an output may differ in so small a part of the times that it is active
_RARE = 5                                # a state bit may be followed by another in one of so many combinations


@dataclass(frozen=True)
class Difference:
    """One difference of the other part against the one, as a sentence without a full stop."""

    kind: str                            # "stage", "schmitt", "analog", "logic"; "better": a gain; "timing": from known.toml
    text: str


_FOLLOWS = " is followed by "


class _Level(NamedTuple):
    """An output in all combinations."""

    low: int
    high: int
    off: int


class _Unrelated(Exception):
    """A difference that cannot be told in a sentence."""


def differences(match: Match, one: str) -> tuple[Difference, ...] | None:
    """All differences of the other part against the one, called `one`; () if they do the same; None if they are not near."""
    if len(match.one.network.states) != len(match.other.network.states):
        return None
    if match.one.definition is match.other.definition:
        return ()
    looked = _Comparison(match, one)
    try:
        texts = looked.inversions() + looked.outputs() + looked.states()
    except _Unrelated:
        return None
    grouped: dict[str, list[str]] = {}
    for name, text in texts:
        grouped.setdefault(text, []).append(name)
    if len(grouped) > _MOST_TEXTS:
        return None
    logic = [Difference("logic", _of(match, names) + text) for text, names in grouped.items()]
    return (*_stages(match, one), *_schmitt(match, one), *_analog(match, one), *logic)


class _Comparison:
    """The work of one comparison: tables of both parts over the names of the one."""

    def __init__(self, match: Match, name: str) -> None:
        self.match, self.name = match, name
        self.back = {b: a for a, b in match.pairing.items()}
        self.block = Block("", {}, frozenset(), ())              # that is looked at

    def enter(self, name: str) -> None:
        """Look at the block that has this output or state bit."""
        self.block = next(block for block in self.match.one.definition.blocks
                          if name in block.roles or any(s.target.text == name for s in block.statements))

    def label(self, name: str) -> str:
        """A pin or state bit as both parts call it."""
        there = self.match.pairing[name]
        if name in self.match.one.network.states:
            return name
        if name in self.block.roles and self.block.name in there:          # one of several gates: A, not 3A
            name, there = name.replace(self.block.name, "", 1), there.replace(self.block.name, "", 1)
        return name if there == name else f"{there} ({name} of the {self.name})"

    def columns(self, mine: Iterable[Root], yours: Iterable[Root]) -> tuple[dict[str, int], int]:
        """Combinations of all that these roots read, by the names of the one."""
        names = {n for root in mine for n in self.match.one.reads(root)}
        names |= {self.back[n] for root in yours for n in self.match.other.reads(root)}
        return combinations(sorted(names))

    def table(self, form: Form, root: Root, columns: Mapping[str, int], every: int) -> Pair | None:
        """A root's table; None if the part has no such thing."""
        if root not in form.roots:
            return None
        translate: Callable[[str], str] = (lambda n: n) if form is self.match.one else self.back.__getitem__
        turned = self.match.inverted if form is self.match.other else frozenset()
        return form.table(root, {n: columns[translate(n)] ^ (every if translate(n) in turned else 0) for n in form.reads(root)}, every)

    def inversions(self) -> list[tuple[str, str]]:
        """Inputs that are taken at the other level."""
        return [(name, "active at the other level: needs an inverter before it") for name in sorted(self.match.inverted)]

    def outputs(self) -> list[tuple[str, str]]:
        """Name and sentence for each output that does otherwise."""
        found: list[tuple[str, str]] = []
        for name in self.match.one.outputs:
            self.enter(name)
            found += [(name, text) for text in self.output(name, self.match.pairing[name])]
        return found

    def output(self, mine: str, yours: str) -> list[str]:
        one, other = self.match.one, self.match.other
        roots = [[Root(name, what) for what in ("value", "enable") if Root(name, what) in form.roots]
                 for form, name in ((one, mine), (other, yours))]
        columns, every = self.columns(*roots)
        a, b = (_level(form, name, [self.table(form, root, columns, every) for root in found], every)
                for form, name, found in ((one, mine, roots[0]), (other, yours, roots[1])))
        kinds = one.definition.roles[mine], other.definition.roles[yours]
        if Role.OPEN_COLLECTOR not in kinds:
            return self.off(a, b, columns, every) + self.level(a, b, columns, every)
        if kinds[0] is not kinds[1] and (b.off & a.low if kinds[0] is Role.OPEN_COLLECTOR else a.off & b.low):
            raise _Unrelated                         # what is off in the one is held low by the other
        mine_high, yours_high = [level._replace(high=level.high | level.off, off=0) if kind is Role.OPEN_COLLECTOR else level
                     for level, kind in zip((a, b), kinds, strict=True)]
        return self.level(mine_high, yours_high, columns, every)

    def off(self, a: _Level, b: _Level, columns: Mapping[str, int], every: int) -> list[str]:
        """When only one of the two drives."""
        more, less = b.off & (a.low | a.high), a.off & (b.low | b.high)
        if not more and not less:
            return []
        if more == a.high and not less:
            return [f"off where the {self.name} is high, as an open collector"]
        if more == a.low | a.high and less == a.off:
            return [f"on when {self.condition(b.low | b.high, columns, every)}, where the {self.name} is off"]
        if more and less:
            raise _Unrelated
        region, word, against = (more, "off", "drives") if more else (less, "drives", "is off")
        if not all(self.controls(name) for name, _ in _cube(region, columns)):
            raise _Unrelated                         # a gate's own data
        return [f"while {self.condition(region, columns, every)}: {word}, where the {self.name} {against}"]

    def level(self, a: _Level, b: _Level, columns: Mapping[str, int], every: int) -> list[str]:
        """Where both drive, but not to one level."""
        unlike = a.low & b.high | a.high & b.low
        if not unlike:
            if a.low & ~(b.low | b.off) or a.high & ~(b.high | b.off):
                raise _Unrelated                 # the other leaves open what the one promises
            return []
        both = (a.low | a.high) & (b.low | b.high)
        if unlike == both:
            return ["inverted"]
        alone = min(a.low.bit_count(), a.high.bit_count())
        rare = self.match.one.network.states and unlike.bit_count() * _RARE <= every.bit_count()
        if rare or _ESSENTIAL * unlike.bit_count() <= alone:            # else it does not do the essential of it
            return [self.example(unlike, columns, ("high", "low") if unlike & -unlike & b.high else ("low", "high"))]
        driven = _cube(both, columns)
        literals = [literal for literal in _cube(unlike, columns) if literal not in driven]
        if len(literals) != 1 or not self.controls(literals[0][0]):
            raise _Unrelated
        name, high = literals[0]
        if unlike == both & (columns[name] if high else ~columns[name]):
            return [f"inverted while {self.words(literals)}"]
        level = "low" if not unlike & b.high else "high" if not unlike & b.low else "another level"
        return [f"while {self.words(literals)}: {level}, which the {self.name} is not"]

    def controls(self, name: str) -> bool:
        """True for an input that all outputs have in common, no data of one of them."""
        one = self.match.one
        return name in one.network.inputs and sum(
            any(name in one.reads(root) for root in one.roots if root.owner == out) for out in one.outputs) > 1

    def states(self) -> list[tuple[str, str]]:
        """Name and sentence for each state bit that becomes something else."""
        found: list[tuple[str, str]] = []
        for name in self.match.one.network.states:
            self.enter(name)
            there = self.match.pairing[name]
            mine = [root for root in self.match.one.roots if root.owner == name]
            yours = [root for root in self.match.other.roots if root.owner == there]
            found += [("", text) for text in self.state(mine, yours)]
        told = list(dict.fromkeys(found))
        examples = [text for text in told if _FOLLOWS in text[1]]
        return [text for text in told if text not in examples[1:]]          # one is enough

    def state(self, mine: list[Root], yours: list[Root]) -> list[str]:
        one, other = self.match.one, self.match.other
        columns, every = self.columns(mine, yours)
        a = {root.what: self.table(one, root, columns, every) or (0, 0) for root in mine}
        b = {root.what: self.table(other, root, columns, every) or (0, 0) for root in yours}
        texts = self.clock(a, b, columns, every, [n for root in mine if root.what in ("clock", "gate") for n in one.reads(root)])
        free = every
        for what in ("clear", "set"):
            free &= a.get(what, (0, every))[1] & ~b.get(what, (0, every))[0]
        for what, forced in (("clear", 1), ("set", 0)):
            texts += self.force(what, a, b, forced, columns, every)
        nexts = a["next"], b["next"]
        unlike = (nexts[0][0] & ~nexts[1][0] | nexts[0][1] & ~nexts[1][1]) & free
        return texts + (self.following(mine[0].owner, unlike, free, nexts, columns, every) if unlike else [])

    def clock(self, a: Mapping[str, Pair], b: Mapping[str, Pair], columns: Mapping[str, int], every: int, names: list[str]) -> list[str]:
        """When it takes its data."""
        mine, yours = "clock" if "clock" in a else "gate", "clock" if "clock" in b else "gate"
        one, other = a[mine], b[yours]
        if mine != yours:
            if one != other and one != other[::-1]:
                raise _Unrelated
            word = {"clock": "takes its data at an edge", "gate": "is a latch, open all the time that its enable is active"}
            return [f"{word[yours]}, where the {self.name} {word[mine]}"]
        if one == other:
            return []
        if one == other[::-1]:
            what = "clocks at the other edge of" if mine == "clock" else "open at the other level of"
            return [what + " " + " and ".join(map(self.label, names))]
        unlike = one[0] & ~other[0] | one[1] & ~other[1]
        if unlike.bit_count() * _RARE > every.bit_count():
            raise _Unrelated
        if not unlike:
            return []                            # the one leaves open what the other says
        bits, levels = self.match.one.network.states[::-1], levels_at((unlike & -unlike).bit_length() - 1, columns, columns)
        before = "".join(str(int(levels.get(name, False))) for name in bits)
        return [f"{' '.join(bits)} = {before}{_FOLLOWS}another state than in the {self.name}"]

    def force(self, what: str, a: Mapping[str, Pair], b: Mapping[str, Pair], zero: int, columns: Mapping[str, int],
              every: int) -> list[str]:
        """Clear and set: at once, with the clock, or not at all; what the one leaves open is no difference, what the other does may be."""
        one, other = a.get(what, (0, every)), b.get(what, (0, every))
        verb = "clears" if what == "clear" else "sets"
        texts = []
        if missing := one[0] & ~other[0]:
            when = self.condition(missing, columns, every)
            waits = not missing & ~b["next"][zero]
            texts.append(f"{verb} only with the clock while {when}, where the {self.name} {verb} at once" if waits
                         else f"{'does' if missing & other[1] else 'may'} not {verb[:-1]} while {when}")
        if more := one[1] & ~other[1]:
            when = self.condition(more, columns, every)
            waited = not more & ~a["next"][zero]
            does = verb if more & other[0] else f"may {verb[:-1]}"
            texts.append(f"{does} at once while {when}, where the {self.name} waits for the clock" if waited else f"{does} while {when}")
        return texts

    def following(self, bit: str, unlike: int, free: int, nexts: tuple[Pair, Pair], columns: Mapping[str, int], every: int) -> list[str]:
        """What comes after a state, where that differs."""
        own, literals = columns.get(bit, 0), [cube for cube in _cube(unlike, columns) if cube[0] in self.match.one.network.inputs]
        cube = free
        for name, level in literals:
            cube &= columns[name] if level else ~columns[name]
        for index, text in ((1, f"does nothing at the clock, where the {self.name} does"),
                            (0, f"goes on with the clock, where the {self.name} does nothing")):
            holds = not cube & (nexts[index][0] ^ own)
            if holds and bit in columns and 1 <= len(literals) <= _LITERALS:
                return [f"while {self.words(literals)}: {text}"]
        if unlike.bit_count() * _RARE > every.bit_count():
            raise _Unrelated
        return [self.state_example(unlike, columns)]

    def state_example(self, unlike: int, columns: Mapping[str, int]) -> str:
        """One state with what follows it in both parts."""
        one, other = self.match.one, self.match.other
        levels = levels_at((unlike & -unlike).bit_length() - 1, columns, columns)
        bits = one.network.states[::-1]
        after = []
        for form, translate in ((other, self.match.pairing), (one, {n: n for n in one.leaves})):
            at = {translate[n]: int(levels.get(n, False)) for n in one.leaves}
            roots = [Root(translate[n], "next") for n in bits]
            after.append("".join(_digit(form.table(root, {r: at[r] for r in form.reads(root)}, 1)) for root in roots))
        before = "".join("1" if levels.get(n) else "0" for n in bits)
        return f"{' '.join(bits)} = {before}{_FOLLOWS}{after[0]}, by {after[1]} in the {self.name}"

    def example(self, unlike: int, columns: Mapping[str, int], levels: tuple[str, str]) -> str:
        place = (unlike & -unlike).bit_length() - 1
        said = " ".join(f"{self.label(n)}={int(v)}" for n, v in sorted(levels_at(place, columns, columns).items()))
        return f"{levels[0]} with {said}, where the {self.name} is {levels[1]}"

    def condition(self, region: int, columns: Mapping[str, int], every: int) -> str:
        """The region in words: some pins active together, or one of some."""
        literals = _cube(region, columns)
        covered = every
        for name, level in literals:
            covered &= columns[name] if level else ~columns[name]
        if covered == region and 1 <= len(literals) <= _LITERALS:
            return self.words(literals)
        literals = _cube(every & ~region, columns)             # or all but a product: one of several pins is active
        rest = every
        for name, level in literals:
            rest &= columns[name] if level else ~columns[name]
        if rest == every & ~region and 1 <= len(literals) <= _LITERALS:
            return " or ".join(f"{self.label(name)} is {'low' if level else 'high'}" for name, level in literals)
        raise _Unrelated

    def words(self, literals: Iterable[tuple[str, bool]]) -> str:
        return " and ".join(f"{self.label(name)} is {'high' if level else 'low'}" for name, level in literals)


def _digit(pair: Pair) -> str:
    return "1" if pair[0] else "0" if pair[1] else "?"


def _cube(region: int, columns: Mapping[str, int]) -> list[tuple[str, bool]]:
    """Levels that all combinations of a region share."""
    return [(name, level) for name, column in columns.items() for level, without in ((True, region & ~column), (False, region & column))
            if not without]


def _level(form: Form, name: str, tables: list[Pair | None], every: int) -> _Level:
    one, zero = tables[0] or (0, 0)
    if form.definition.roles[name] is Role.OPEN_COLLECTOR:
        return _Level(zero, 0, one)
    on, off = tables[1] or (0, 0) if len(tables) > 1 else (every, 0)
    return _Level(zero & on, one & on, off)


def _stages(match: Match, one: str) -> list[Difference]:
    """Output stages of another kind."""
    roles = match.one.definition.roles, match.other.definition.roles
    changed: dict[tuple[Role, Role], list[str]] = {}
    for name in match.one.outputs:
        pair = roles[0][name], roles[1][match.pairing[name]]
        if pair[0] is not pair[1] and Role.OPEN_COLLECTOR in pair:
            changed.setdefault(pair, []).append(name)
    word = {role: "push-pull" if role is Role.OUTPUT else role.value for role in Role}
    return [Difference("stage", f"{_of(match, names)}{word[b]}, where the {one} is {word[a]}") for (a, b), names in changed.items()]


def _schmitt(match: Match, one: str) -> list[Difference]:
    """Inputs that are Schmitt triggers in one of the two only."""
    sets = [{name for block in form.definition.blocks for name in block.schmitt} for form in (match.one, match.other)]
    there = {n: match.pairing[n] for n in match.one.network.inputs}
    lost = [n for n in there if n in sets[0] and there[n] not in sets[1]]
    won = [n for n in there if n not in sets[0] and there[n] in sets[1]]
    told = []
    if lost:
        told.append(Difference("schmitt", f"{_of(match, lost)}no Schmitt trigger: needs edges as steep as any gate's"))
    if won:
        told.append(Difference("better", f"{_of(match, won)}a Schmitt trigger, which the {one} is not"))
    return told


def _analog(match: Match, one: str) -> list[Difference]:
    """Pins of the one that are no signals (expanders, complements that the library leaves alone) and that the other has not."""
    here, there = match.one.pinout, match.other.pinout
    pins = [(number, name) for number, name in enumerate(here.pins, start=1) if name in here.analog]
    lacking = [f"{name} (pin {number})" for number, name in pins
               if (there.pins[number - 1] if match.same_places else name) not in there.analog]
    text = f"has nothing for {' and '.join(lacking)} of the {one}: only where nothing hangs there"
    return [Difference("analog", text)] if lacking else []


def _of(match: Match, names: Iterable[str]) -> str:
    """In front of a sentence: "1Y 2Y: "; nothing if it is of the whole part."""
    said = together((name for name in names if name), match.one.numbers)
    return f"{said}: " if said else ""
