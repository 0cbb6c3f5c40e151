"""Ways to what a draft says without having seen it: levels and states together that no walk came to.

Walks at random seldom come to a count that must be loaded first, or to an edge at which all enables are one way.  The
draft itself knows the way: many walks are tried on it at once, and the one that comes by most of what was not seen is
played on the specimen.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sagbench.learn.functions import Sampled
from sagbench.learn.laws import Gate, Learnt, Memory
from sagbench.learn.memory import Toggle
from sagbench.learn.specimen import Bench
from sagbench.parts.behaviour import Machine

TRIED = 48  # walks tried on the draft at once,
TOGGLES = 36  # so long each
MOST = 4000  # toggles of one way
DRY = 3  # times that nothing new was found, and it ends
WIDE = 10  # variables up to which all state bits are taken to have a say, those of which it is not known yet too

Key = tuple[int, int]  # which function, and its variables


@dataclass(frozen=True)
class _Edge:
    """A clock of a state bit, and the variables that have a say there."""

    number: int
    gate: Gate
    mask: int


class Unseen:
    """What was seen of a draft's state bits; variables are those of `Learnt`."""

    def __init__(self, learnt: Learnt, seen: Iterable[Toggle]) -> None:
        self._n = len(learnt.inputs)
        every = ((1 << len(learnt.states)) - 1) << self._n
        self._edges: list[_Edge] = []
        self._levels: list[tuple[int, int]] = []  # number, mask
        for k, pin in enumerate(learnt.states):
            memory = learnt.memories[pin]
            levels = _support(learnt, (memory.clear, memory.set))
            if levels:
                self._levels.append((-k - 1, levels | 1 << self._n + k))
            for gate, functions in _clocks(memory):
                mask = _support(learnt, functions)
                wide = mask | every
                self._edges.append(_Edge(len(self._edges), gate, wide if wide.bit_count() <= WIDE else mask))
        self._seen = {key for t in seen for key in self._keys(t.before, t.after, t.was)}

    def _keys(self, before: int, after: int, was: int) -> Iterator[Key]:
        variables = after | was << self._n
        for number, mask in self._levels:
            yield number, variables & mask
        for edge in self._edges:
            if edge.gate.acts(before, after):
                yield edge.number, variables & edge.mask

    def way(self, bench: Bench, machine: Machine, names: Sequence[str], states: Sequence[int], fixed: int, favourites: Sequence[int]) -> list[int]:
        """Points, each one toggle from the one before, from where the bench is; the machine is the draft in step with the specimen.

        names, states: of pins 1..N, and the pins that show state bits.  fixed: a mask of inputs that stay.
        """
        inputs = [(i, names[pin - 1]) for i, pin in enumerate(bench.inputs) if not (fixed >> i) & 1 and names[pin - 1] in machine.network.inputs]
        points: list[int] = []
        dry = 0
        shown = [names[pin - 1] for pin in states]
        while inputs and dry < DRY and len(points) < MOST:
            walks = [_walk(bench, points[-1] if points else bench.point, [i for i, _ in inputs], favourites) for _ in range(TRIED)]
            best = self._tried(walks, machine, inputs, shown, points[-1] if points else bench.point)
            dry = 0 if best else dry + 1
            for point in best:
                for i, name in inputs:
                    if machine.driven.get(name) is not (level := bool((point >> i) & 1)):
                        machine.set({name: level})
            points += best
        return points

    def _tried(self, walks: Sequence[Sequence[int]], machine: Machine, inputs: Sequence[tuple[int, str]], shown: Sequence[str], start: int) -> list[int]:
        """The walk that comes by most that is new for each toggle, up to the last of it, which then counts as seen."""
        lanes = _wide(machine, len(walks))
        new: list[dict[Key, int]] = [{} for _ in walks]
        before, was = [start] * len(walks), _states(lanes, shown, len(walks))
        for turn in range(TOGGLES):
            after = [walk[turn] for walk in walks]
            for i, name in inputs:
                if any((a ^ b) >> i & 1 for a, b in zip(before, after, strict=True)):
                    lanes.set_lanes(name, sum(((point >> i) & 1) << lane for lane, point in enumerate(after)))
            lanes.settle()
            for lane, found in enumerate(new):
                if (state := was[lane]) is not None:
                    for key in self._keys(before[lane], after[lane], state):
                        if key not in self._seen:
                            found.setdefault(key, turn)
            before, was = after, _states(lanes, shown, len(walks))
        best = max(range(len(walks)), key=lambda lane: len(new[lane]) / (1 + max(new[lane].values(), default=0)))
        if not new[best]:
            return []
        self._seen |= new[best].keys()
        return list(walks[best][: 1 + max(new[best].values())])


def _support(learnt: Learnt, functions: Iterable[Sampled]) -> int:
    mask = 0
    for function in functions:
        mask |= function.support(learnt.variables)
    return mask


def _clocks(memory: Memory) -> Iterator[tuple[Gate, tuple[Sampled, ...]]]:
    if memory.gate:
        yield memory.gate, (memory.next, memory.clear, memory.set)
    for turn in memory.turns:
        yield turn.gate, (turn.turns, memory.clear, memory.set)


def _walk(bench: Bench, point: int, free: Sequence[int], favourites: Sequence[int]) -> list[int]:
    """To a point at random, toggle by toggle, a favourite there and back, and so on."""
    rng, points = bench.rng, list[int]()
    usual = [i for i in favourites if i in free] or list(free)
    while len(points) < TOGGLES:
        goal, some = bench.some_point(), rng.random()
        for i in rng.sample(free, len(free)):
            if (point ^ goal) >> i & 1 and rng.random() < some:
                point ^= 1 << i
                points.append(point)
        favourite = rng.choice(usual)
        for _ in range(rng.choice((1, 2, 2, 4))):
            point ^= 1 << favourite
            points.append(point)
    return points[:TOGGLES]


def _wide(machine: Machine, lanes: int) -> Machine:
    """So many parts in the state of one."""
    twin = machine.copy()
    twin.widen(lanes)
    return twin


def _states(machine: Machine, names: Sequence[str], lanes: int) -> list[int | None]:
    """State bits that show, by lane; None where one does not."""
    states, known = [0] * lanes, (1 << lanes) - 1
    for k, name in enumerate(names):
        low, high, off = machine.output(name)
        if machine.network.drivers[name].role.name == "OPEN_COLLECTOR":
            high = off
        known &= low | high
        for lane in range(lanes):
            states[lane] |= ((high >> lane) & 1) << k
    return [state if (known >> lane) & 1 else None for lane, state in enumerate(states)]
