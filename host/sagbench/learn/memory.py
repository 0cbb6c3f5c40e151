"""Outputs with memory, where the state shows at the outputs: state bits, their clocks, and what they take.

Inputs are toggled one by one at random.  What an output does next is then a function of the toggled input, the levels
and what the outputs did before.  For each of them the simplest account is looked for: levels that set and clear it,
and a clock (one input, or two together) with what it takes at its edge, or two clocks, each of which turns it over.  An output that follows from the levels and
the other outputs alone has no state bit of its own.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from sagbench.identify.belief import Seen
from sagbench.learn.functions import Sampled
from sagbench.learn.laws import Gate, Memory, Turn
from sagbench.learn.specimen import Look

LATCH = 8  # how much a latch's account may say, times 2 to half of the inputs
VEILED = 2  # pictures of all outputs that are left where the state is hidden
VEILS = 4  # inputs that are tried as such
LEVELS = 2  # what levels can do is believed, even if an edge says it in half as much
ACTIVE = 4  # inputs that are thought of as clocks,
TWO = 6  # and as one of two clocks, for each of these is used half as often
SEEN_EACH = 4  # an output follows from others only if each combination of these was seen so often on average


@dataclass(frozen=True)
class Toggle:
    """One input toggled: the points before and after, and all outputs with memory before and after (bit k: high)."""

    before: int
    after: int
    was: int
    became: int


class NotShown(Exception):
    """Outputs hang on something that does not show; `outputs` by place."""

    def __init__(self, outputs: Sequence[int]) -> None:
        super().__init__("more is remembered than shows at the outputs")
        self.outputs = tuple(outputs)


def toggles(looks: Sequence[tuple[int, Look]], places: Sequence[int], tri_state: Iterable[int] = ()) -> list[Toggle]:
    """Pairs of looks one toggle apart, at which all these outputs drove or, of an open collector, were low or off.

    tri_state: of the places, outputs that show nothing while they are off.
    """
    blank = frozenset(tri_state)
    packed = [(point, _packed(look, places, blank)) for point, look in looks]
    return [Toggle(a, b, was, became) for (a, was), (b, became) in zip(packed, packed[1:], strict=False)
            if was is not None and became is not None and (a ^ b).bit_count() == 1]  # fmt: skip


def _packed(look: Look, places: Sequence[int], tri_state: frozenset[int]) -> int | None:
    bits = 0
    for k, place in enumerate(places):
        if look[place] is None or (look[place] is Seen.OFF and place in tri_state):
            return None
        bits |= (look[place] is not Seen.LOW) << k
    return bits


def veils(seen: Sequence[Toggle], count: int) -> list[tuple[int, int]]:
    """Sets of inputs (mask, levels) at which outputs show more than at the other levels, the smallest sets first.

    An input that hides the state (an enable, a blanking input, a lamp test) leaves two pictures of the outputs at most.
    """
    single = []
    for i in range(count):
        for level in (0, 1):
            if 0 < len({t.became for t in seen if (t.after >> i) & 1 != level}) <= VEILED:
                single.append((1 << i, level << i))
    single = single[:VEILS]
    sets = (some for size in range(1, len(single) + 1) for some in combinations(single, size))
    return [(sum(m for m, _ in some), sum(a for _, a in some)) for some in sets if len({m for m, _ in some}) == len(some)]


class Veiled:
    """Laws of outputs that show their state only while the inputs of `mask` are as in `at`."""

    def __init__(self, seen: Sequence[Toggle], count: int, outputs: int, mask: int, at: int) -> None:
        self._all, self._mask, self._at, self._count = seen, mask, at, count
        self.shown = Shown([t for t in seen if t.before & mask == at and t.after & mask == at], count, outputs)

    def value(self, k: int) -> Sampled:
        """Output k over inputs and state bits, at all levels; contradicts itself where the veil is none."""
        open_at = self.shown.at_rest(k)
        out: tuple[set[int], set[int]] = (set(), set())
        codes = {p >> self._count for p in open_at.ones | open_at.zeros}
        for t in self._all:
            if t.after & self._mask != self._at:
                out[(t.became >> k) & 1].update(t.after | code << self._count for code in codes)
        return Sampled(open_at.ones | out[1], open_at.zeros | out[0])


class Shown:
    """State bits found in toggles.  `count` inputs, `outputs` outputs with memory (bits of `was`)."""

    def __init__(self, seen: Sequence[Toggle], count: int, outputs: int) -> None:
        self.seen, self.count = list(dict.fromkeys(seen)), count
        self.states = list(range(outputs))
        self._share_out()

    # ------------------------------------------------------------- what has a state bit of its own
    def _share_out(self) -> None:
        while True:
            found = [(mask.bit_count(), -k) for k in self.states if (mask := self._follows(k)) is not None]
            if not found:
                return
            self.states.remove(-min(found)[1])

    def _follows(self, k: int) -> int | None:
        """A mask of variables that output k follows from at any time, or None."""
        others = [s for s in self.states if s != k]
        function = self.at_rest(k, others)
        if function.contradicts:
            return None
        mask = function.support(self.count + len(others), orders=1)
        less = function.over(mask)
        enough = len(function.ones) >= SEEN_EACH * len(less.ones) and len(function.zeros) >= SEEN_EACH * len(less.zeros)
        return mask if enough else None

    def at_rest(self, k: int, states: Sequence[int] | None = None) -> Sampled:
        """Output k as a function of inputs and state bits at the same time."""
        states = self.states if states is None else states
        at: tuple[set[int], set[int]] = (set(), set())
        for t in self.seen:
            at[(t.became >> k) & 1].add(t.after | self._bits(t.became, states) << self.count)
        return Sampled(frozenset(at[1]), frozenset(at[0]))

    @staticmethod
    def _bits(outputs: int, states: Sequence[int]) -> int:
        return sum(((outputs >> s) & 1) << i for i, s in enumerate(states))

    # ------------------------------------------------------------- state bits
    def memories(self) -> dict[int, Memory]:
        """An account of each state bit.  Raises NotShown for those that have none."""
        found = {k: self._account(k) for k in self.states}
        lacking = [k for k, memory in found.items() if memory is None]
        if lacking:
            raise NotShown(lacking)
        return {k: memory for k, memory in found.items() if memory is not None}

    def _account(self, k: int) -> Memory | None:
        moves = Counter((t.before ^ t.after).bit_length() - 1 for t in self.seen if ((t.was ^ t.became) >> k) & 1)
        ranked = [i for i, _ in moves.most_common()]
        active = ranked[:ACTIVE]
        for gates in ([None, *self._single(active)], self._double(active)):
            tried = [(self._size(m), n, m) for n, gate in enumerate(gates) if (m := self._with(k, gate))]
            told = [one for one in tried if one[2].gate or one[0] <= LATCH << self.count // 2]  # a latch of everything is no account
            if told:
                return min(told, key=lambda one: (one[0] / (1 if one[2].gate else LEVELS), one[1]))[2]
        forked = [m for i, j in combinations(ranked[:TWO], 2) for a in (True, False) for b in (True, False)
                  if (m := self._forked(k, Gate(1 << i, 1 << i, a), Gate(1 << j, 1 << j, b)))]  # fmt: skip
        return min(forked, key=self._size, default=None)

    @staticmethod
    def _single(active: Sequence[int]) -> Iterator[Gate | None]:
        for i in active:
            for rising in (True, False):
                yield Gate(1 << i, 1 << i, rising)

    @staticmethod
    def _double(active: Sequence[int]) -> Iterator[Gate | None]:
        for i, j in combinations(active, 2):
            for levels in range(4):
                for rising in (True, False):
                    yield Gate(1 << i | 1 << j, (levels & 1) << i | (levels >> 1) << j, rising)

    def _with(self, k: int, gate: Gate | None) -> Memory | None:
        """The account with this clock, or None if it contradicts what was seen."""
        edges = [t for t in self.seen if gate and gate.acts(t.before, t.after)]
        levels = self._levels(k, (t for t in self.seen if not (gate and gate.acts(t.before, t.after))))
        if levels is None:
            return None
        force, clear = levels
        takes: tuple[set[int], set[int]] = (set(), set())
        for t in edges:
            if not _holds(force, t.after) and not _holds(clear, t.after):
                takes[(t.became >> k) & 1].add(t.after | self._bits(t.was, self.states) << self.count)
        following = Sampled(frozenset(takes[1]), frozenset(takes[0]))
        return None if following.contradicts else Memory(gate, following, clear, force)

    def _levels(self, k: int, seen: Iterable[Toggle]) -> tuple[Sampled, Sampled] | None:
        """What sets and what clears bit k, of toggles that clock nothing; None if it moves by more than levels."""
        ups: set[int] = set()
        downs: set[int] = set()
        ones: set[int] = set()
        zeros: set[int] = set()
        for t in seen:
            was, became = (t.was >> k) & 1, (t.became >> k) & 1
            (ones if became else zeros).add(t.after)
            if became and not was:
                ups.add(t.after)
            if was and not became:
                downs.add(t.after)
        force, clear = Sampled(frozenset(ups), frozenset(zeros)), Sampled(frozenset(downs), frozenset(ones))
        return None if force.contradicts or clear.contradicts else (self._least(force), self._least(clear))

    def _forked(self, k: int, *gates: Gate) -> Memory | None:
        """The account with two clocks, each of which turns the bit over; what happens while neither rests is left out."""
        empty = Sampled(frozenset(), frozenset())
        turns = [Turn(gate, empty) for gate in gates]
        apart = [t for t in self.seen if any(turn.resting(t.before) for turn in turns)]
        levels = self._levels(k, (t for t in apart if not any(gate.acts(t.before, t.after) for gate in gates)))
        if levels is None:
            return None
        force, clear = levels
        made = []
        for gate in gates:
            turned: tuple[set[int], set[int]] = (set(), set())
            for t in apart:
                if gate.acts(t.before, t.after) and not _holds(force, t.after) and not _holds(clear, t.after):
                    turned[((t.was ^ t.became) >> k) & 1].add(t.after | self._bits(t.was, self.states) << self.count)
            made.append(Turn(gate, Sampled(frozenset(turned[1]), frozenset(turned[0]))))
        if any(turn.turns.contradicts or not turn.turns.ones for turn in made):
            return None
        return Memory(None, empty, clear, force, tuple(made))

    def _least(self, function: Sampled) -> Sampled:
        return function.over(function.support(self.count))

    def _size(self, memory: Memory) -> int:
        """How much an account has to say: places in the tables of its functions."""
        count = self.count + len(self.states)
        return sum(1 << function.support(count, orders=1).bit_count() for function in memory.functions)


def _holds(function: Sampled, point: int) -> bool:
    """True where a function, its points already reduced to its support, was seen to be high."""
    mask = 0
    for p in function.ones | function.zeros:
        mask |= p
    return point & mask in function.ones
