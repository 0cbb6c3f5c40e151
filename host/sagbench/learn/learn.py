"""One specimen, learnt: outputs found, outputs without memory tried through, state bits accounted for, and the draft
held against the specimen.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate

from sagbench.identify.choose import Pattern
from sagbench.identify.follow import Change
from sagbench.learn.compare import differing, own_test
from sagbench.learn.draft import About, Draft, draft
from sagbench.learn.functions import Sampled
from sagbench.learn.laws import Law, Learnt, Memory
from sagbench.learn.levels import Levels, spread
from sagbench.learn.memory import NotShown, Shown, Toggle, Veiled, toggles, veils
from sagbench.learn.naming import uses
from sagbench.learn.specimen import Bench, Look, Specimen, find_outputs, role_of
from sagbench.learn.twoway import with_both
from sagbench.learn.unseen import Unseen
from sagbench.learn.walks import walk
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Role
from sagbench.parts.reader import read

WALKS = (1500, 3000, 5000, 9000, 15000, 30000)  # looks of one walk after the other, until the draft bears what they show
PROGRAM = 30  # toggles of the draft's own test for each input,
STEPS = 2000  # as long as they are no more than that: a part file bears 4096
CHECK = 1000  # looks at which the draft is held against the specimen
LONG = 5000  # a walk of that length settles what is not reached; the rest is gone to on purpose
KEYS = 4  # inputs that may switch outputs with memory off
CORRECTIONS = 12  # times that what was not seen, or a draft's own test, is learnt from

ALONE = 300  # points at which an output is looked at twice, to see whether it moves while no input does,
BY_ITSELF = 3  # so often, and it is no state bit: what a bit remembers stays

PULSES = "it goes back by itself, with no input changed: pulses of a timing part, which are not learnt"
HIDDEN = "more is remembered than shows at the outputs"
OTHERWISE = "the draft and the specimen did not do the same"
TOGETHER = "it hangs together with an output that was not reached"


Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class Result:
    """What was learnt, and the draft that says it."""

    learnt: Learnt
    draft: Draft


def learn(specimen: Specimen, about: About, rng: random.Random, progress: Progress | None = None) -> Result:
    """Learn a powered specimen; `progress` is called with (stage, done, total).  Raises what the specimen raises."""
    rails = about.supplies + about.grounds
    pins = [pin for pin in range(1, about.size + 1) if pin not in rails]
    told = _Told(progress or (lambda *_: None))
    told("which pins are outputs")
    outputs, looks = find_outputs(specimen, pins, rng), 0
    while True:
        inputs = tuple(pin for pin in pins if pin not in outputs)
        bench = Bench(specimen, inputs, outputs, rng, looks=looks, watched=frozenset(inputs), looked=told.looked)
        told("levels")
        levels = Levels(bench)
        levels.look()
        if not bench.overlooked:
            result = _accounted(levels, about, told)
            if not bench.overlooked:
                return result
        outputs, looks = tuple(sorted({*outputs, *bench.overlooked})), bench.looks
        specimen.play([Pattern(tuple((pin, None) for pin in sorted(bench.overlooked)), look=False)], ())


class _Told:
    """What the learner is at, and how many looks it has taken, of the most it may take as far as that is known."""

    def __init__(self, progress: Progress) -> None:
        self._progress, self._stage, self._most, self._looks = progress, "", 0, 0

    def __call__(self, stage: str, further: int = 0) -> None:
        """A stage begins, of so many looks at most (0: not known)."""
        self._stage, self._most = stage, self._looks + further if further else 0
        self.looked(self._looks)

    def looked(self, looks: int) -> None:
        """So many looks so far."""
        self._looks = looks
        self._progress(f"{self._stage}, looks:" if looks else self._stage, looks, max(self._most, looks) if self._most else 0)


def _accounted(levels: Levels, about: About, told: _Told) -> Result:
    """Pins that are both, state bits, the draft held against the specimen; while all this, what seems idle is watched: an
    output that sinks in one state of many is taken for an input at first, and nothing ever hangs on it."""
    bench = levels.bench
    if (wider := with_both(levels)) is not None:
        bench, levels = wider, Levels(wider)
        levels.look()
    walking = _Walking(levels)
    before = ""
    for turn, length in enumerate(WALKS):
        bench.watched = walking.learnt().idle
        if walking.places:
            told("state bits", sum(WALKS[turn:]) + (len(WALKS) - turn) * CHECK)
            walking.further(length)
        learnt, made, wrong = walking.held(walking.learnt(), about)
        if turn == 0 and (wrong or learnt.missed) and walking.left_alone():
            learnt, made, wrong = walking.held(walking.learnt(), about)
        enough = made.logic == before if length < LONG or learnt.missed else True
        if not walking.places or (not wrong and enough and not (learnt.missed and length < LONG)):
            break
        before = made.logic
    for turn in range(CORRECTIONS):
        told("what was not seen")
        learnt, made, wrong = walking.held(walking.learnt(), about, tested=True)
        if wrong:
            walking.account()
            learnt = replace(walking.learnt(), walk=learnt.walk)
        if walking.as_told(learnt, draft(learnt, about)) and not wrong:
            break
        walking.account()
    while wrong:
        learnt, made, wrong = walking.held(_without(learnt, dict.fromkeys(wrong, OTHERWISE)), about, tested=True)
    return Result(learnt, made)


class _Walking:
    """Outputs without memory as they were seen; those with memory followed on walks, each longer than the one before."""

    def __init__(self, levels: Levels) -> None:
        self.levels, self.bench = levels, levels.bench
        self.favourites: list[int] = []
        self._walks: list[list[tuple[int, Look]]] = []  # apart, for the chip is played with between them
        self._laws: dict[int, Law] = {}
        self._memories: dict[int, Memory] = {}
        self._hidden: dict[int, str] = {}
        self._pulses: dict[int, str] = {}
        self._sort()

    def _sort(self) -> None:
        """Outputs with memory and without, from all that was seen."""
        self._plain, self._lost = _plain(self.levels), _lost(self.levels) | self._pulses
        self.places = [j for j, pin in enumerate(self.bench.outputs) if pin not in self._plain and pin not in self._lost]
        seen = self.levels.seen
        self._offs = {j: seen[j].away for j in self.places if role_of(seen[j].kinds) is Role.TRI_STATE}

    def further(self, length: int) -> None:
        """Walk on, and account anew for all that was seen."""
        fixed, at = _kept_on(self.bench, list(self._offs.values()))
        self._walks.append(self.levels.note(walk(self.bench, length, fixed, at, self.favourites)))
        self.account()

    def left_alone(self) -> bool:
        """Points given and looked at twice: outputs that move between are of a timing part, and are given up; True if any are."""
        looks = list(self.bench.give(point for point in walk(self.bench, ALONE) for _ in range(2)))
        pairs = [(first, again) for (_, first), (_, again) in zip(looks[::2], looks[1::2], strict=True)]
        for j in self.places:
            if sum(None not in (first[j], again[j]) and first[j] is not again[j] for first, again in pairs) >= BY_ITSELF:
                self._pulses[self.bench.outputs[j]] = PULSES
        self.account()
        return bool(self._pulses)

    def held(self, learnt: Learnt, about: About, *, tested: bool = False) -> tuple[Learnt, Draft, set[int]]:
        """The draft held against the specimen (`tested`: by its own logic test too), and outputs that did otherwise than it
        says.  What was seen counts from the next account on."""
        learnt, made, wrong, looks = _held_against(self.bench, learnt, about, self.favourites, tested)
        self.levels.keep(looks)
        self._walks.append(looks)
        return learnt, made, wrong

    def as_told(self, learnt: Learnt, made: Draft) -> bool:
        """Go where the draft says something that was not seen; False if it is wrong there.  Comes after `held`."""
        if not learnt.memories or self.bench.both:
            return True
        machine = Machine(Network(read(made.text, "draft", origin="draft")))
        last = self._walks[-1]
        for _ in differing(machine, self.bench, made.names, last):
            pass
        places = [self.bench.outputs.index(pin) for pin in learnt.states]
        unseen = Unseen(learnt, (toggle for looks in self._walks for toggle in toggles(looks, places, self._offs)))
        fixed, at = _kept_on(self.bench, list(self._offs.values()))
        begin = walk(self.bench, 1, fixed, at)
        looks = self.levels.note(begin)
        self._walks.append(looks)
        wrong = list(differing(machine, self.bench, made.names, looks))
        looks = self.levels.note(unseen.way(self.bench, machine.copy(), made.names, learnt.states, fixed, self.favourites))
        self._walks.append(looks)
        return not wrong and not list(differing(machine, self.bench, made.names, looks))

    def account(self) -> None:
        """Account anew for all that was seen."""
        self._sort()
        left, self._hidden = list(self.places), {}
        while left:
            seen = [toggle for looks in self._walks for toggle in toggles(looks, left, self._offs)]
            moved = Counter((t.before ^ t.after).bit_length() - 1 for t in seen if t.was != t.became)
            self.favourites = [i for i, count in moved.items() for _ in range(1 + 20 * count // max(1, len(seen)))]
            shown = Shown(seen, len(self.bench.inputs), len(left))
            try:
                memories = shown.memories()
                values = {k: None if k in shown.states else shown.at_rest(k) for k in range(len(left))}
                break
            except NotShown as lack:
                if (unveiled := _unveiled(seen, len(self.bench.inputs), len(left))) is not None:
                    memories, values = unveiled
                    break
                self._hidden |= {self.bench.outputs[left[k]]: HIDDEN for k in lack.outputs}
                left = [j for k, j in enumerate(left) if k not in lack.outputs]
        pins = [self.bench.outputs[j] for j in left]
        self._memories = {pins[k]: memory for k, memory in memories.items()} if left else {}
        self._laws = {pins[k]: Law(pins[k], role_of(self.levels.seen[j].kinds), values[k], self._offs.get(j)) for k, j in enumerate(left)}

    def learnt(self) -> Learnt:
        """All so far."""
        bench = self.bench
        made = Learnt(bench.inputs, bench.outputs, tuple(sorted(self._memories)), self._plain | self._laws, self._memories,
                      self._lost | self._hidden, frozenset(), (), bench.looks)  # fmt: skip
        return _with_idle(made)


def _unveiled(seen: Sequence[Toggle], count: int, outputs: int) -> tuple[dict[int, Memory], dict[int, Sampled | None]] | None:
    """State bits and levels of outputs that some inputs hide, by place; None if that explains nothing."""
    for mask, at in veils(seen, count):
        veiled = Veiled(seen, count, outputs, mask, at)
        try:
            memories = veiled.shown.memories()
        except NotShown:
            continue
        values = {k: veiled.value(k) for k in range(outputs)}
        if not any(value.contradicts for value in values.values()):
            return memories, {**values}
    return None


def _plain(levels: Levels) -> dict[int, Law]:
    """Laws of the outputs that do not remember."""
    bench, found = levels.bench, {}
    n = len(bench.inputs)
    two_way = {one.pin: one for one in bench.both}
    for pin, one in zip(bench.outputs, levels.seen, strict=True):
        if one.remembers or not one.kinds:
            continue
        role, value, off = role_of(one.kinds), one.value, None
        if pin in two_way:
            role, off = Role.BIDIRECTIONAL, two_way[pin].off
            value = value.over(~(1 << bench.inputs.index(pin)))
            if value.contradicts:
                continue
        elif role is Role.TRI_STATE:
            off = one.away
        support = value.support(n) | (off.support(n) if off else 0)
        found[pin] = Law(pin, role, value, off, _everywhere(value, off, support, n))
    return found


def _everywhere(value: Sampled, off: Sampled | None, support: int, count: int) -> bool:
    """True if an output was seen at every combination of its support: its level, or that it is off."""
    mask = off.support(count) if off else 0
    seen, away = value.over(support), off.over(mask).ones if off else frozenset()
    points = (spread(k, support) for k in range(1 << support.bit_count()))
    return all(p in seen.ones or p in seen.zeros or (off is not None and p & mask in away) for p in points)


def _lost(levels: Levels) -> dict[int, str]:
    """Outputs out of reach: nothing to be told of them, or switched off by something that is remembered."""
    lost = {}
    for pin, one in zip(levels.bench.outputs, levels.seen, strict=True):
        if not one.kinds:
            lost[pin] = "its level could never be told"
        elif role_of(one.kinds) is Role.TRI_STATE and one.away.contradicts:
            lost[pin] = "off or not at the same levels of all inputs: it remembers that, or it is an input at times"
    return lost


def _kept_on(bench: Bench, offs: Sequence[Sampled]) -> tuple[int, int]:
    """Inputs to keep (mask), and their levels, so that all of these outputs are on; none if there is no such way."""
    n = len(bench.inputs)
    mask = 0
    for off in offs:
        mask |= off.support(n)
    if not mask or mask.bit_count() > KEYS:
        return 0, 0
    parts = [off.over(mask) for off in offs]
    on = frozenset.intersection(*(part.zeros - part.ones for part in parts))
    return (mask, min(on)) if on else (0, 0)


def _with_idle(learnt: Learnt) -> Learnt:
    used = 0
    for pin in learnt.laws:
        used |= uses(learnt, pin)
    return replace(learnt, idle=frozenset(pin for i, pin in enumerate(learnt.inputs) if not (used >> i) & 1 and pin not in learnt.outputs))


def _without(learnt: Learnt, missed: dict[int, str]) -> Learnt:
    """The same without these outputs and all that name their state bits."""
    n, gone = len(learnt.inputs), dict(missed)
    while more := [pin for pin in learnt.laws if pin not in gone
                   and any((uses(learnt, pin) >> n + k) & 1 for k, state in enumerate(learnt.states) if state in gone)]:  # fmt: skip
        gone |= dict.fromkeys(more, TOGETHER)
    kept = [k for k, state in enumerate(learnt.states) if state not in gone]
    every = sum(1 << n + k for k in kept) | (1 << n) - 1

    def moved(function: Sampled | None) -> Sampled | None:
        return function and Sampled(*(frozenset(_moved(p & every, n, kept) for p in s) for s in (function.ones, function.zeros)))

    laws = {pin: replace(law, value=moved(law.value)) for pin, law in learnt.laws.items() if pin not in gone}

    def least(function: Sampled) -> Sampled:
        return moved(function.over(function.support(learnt.variables))) or function

    memories = {pin: replace(m, next=least(m.next), turns=tuple(replace(turn, turns=least(turn.turns)) for turn in m.turns))
                for pin, m in learnt.memories.items() if pin not in gone}  # fmt: skip
    return _with_idle(replace(learnt, states=tuple(learnt.states[k] for k in kept), laws=laws, memories=memories,
                              missed={**learnt.missed, **gone}))  # fmt: skip


def _moved(point: int, n: int, kept: Sequence[int]) -> int:
    return point & (1 << n) - 1 | sum(((point >> n + k) & 1) << n + new for new, k in enumerate(kept))


def _short(way: Iterable[tuple[Change, ...]]) -> tuple[tuple[Change, ...], ...]:
    """As much of a way as a part file bears."""
    steps = list(accumulate(map(len, way := list(way))))
    return tuple(way[: sum(total <= STEPS for total in steps)])


def _held_against(bench: Bench, learnt: Learnt, about: About, favourites: Sequence[int],
                  tested: bool) -> tuple[Learnt, Draft, set[int], list[tuple[int, Look]]]:  # fmt: skip
    """The draft, its program played, and more; outputs that did otherwise than it says; all that was seen."""
    looks = list(bench.give([0]))
    own = walk(bench, PROGRAM * len(bench.inputs), favourites=favourites) if learnt.memories or bench.both else []
    way = _short(bench.way([0, *own])) if own else ()
    looks += bench.give(own[: len(way)])
    looks += bench.give(walk(bench, CHECK))
    learnt = replace(learnt, looks=bench.looks, walk=way, checked=len(looks))
    made = draft(learnt, about)
    if not learnt.laws:
        return learnt, made, set(), looks
    definition = read(made.text, "draft", origin="draft")
    if tested:
        looks += bench.give(own_test(bench, definition))
        learnt = replace(learnt, looks=bench.looks, checked=len(looks))
        made = draft(learnt, about)
    machine = Machine(Network(definition))
    return learnt, made, {pin for pin, *_ in differing(machine, bench, made.names, looks)}, looks
