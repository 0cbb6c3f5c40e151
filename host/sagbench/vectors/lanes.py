"""Many copies of a part at once: each fault in a lane of its own, each candidate test in a block of lanes.

Lane f of block c is the part with fault f - 1 under candidate c; lane 0 of each block is
the sound part.  Changes that arrive within one step are taken as simultaneous.  A flip-flop
whose data and clock change together (only a bridge can do that) takes the level before the
edge: set-up times are positive and hold times about nil in the data sheets of all families.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import itemgetter
from typing import NamedTuple

from sagbench.parts.behaviour import train
from sagbench.parts.model import Role
from sagbench.vectors.compile import Bit, Compiled, Drive
from sagbench.vectors.pinfaults import How, Kind, PinFault

ROUNDS = 8                               # and two more a bit that another one moves: a ripple counter settles in one a stage


class Node(NamedTuple):
    """Levels of a pin in all lanes: surely low, surely high, surely not driven, surely neither level, surely driven.

    Neither is a pin in a loop that has no stable state: an inverting gate whose
    output is bridged to its own input rests near its threshold or oscillates.
    Driven, whatever the level, is what an output that should be off must not be.
    """

    low: int
    high: int
    off: int
    between: int = 0
    on: int = 0


@dataclass
class State:
    """What the copies remember; levels are (one, zero) lists in the order of the compiled part."""

    outer1: list[int]                    # levels applied to the pins that take them
    outer0: list[int]
    bit1: list[int]
    bit0: list[int]
    clock1: list[int]                    # clocks and next values when last looked at
    clock0: list[int]
    next1: list[int]
    next0: list[int]

    def lists(self) -> tuple[list[int], ...]:
        """All of it, for copying."""
        return (self.outer1, self.outer0, self.bit1, self.bit0, self.clock1, self.clock0, self.next1, self.next0)


@dataclass(frozen=True)
class _Pair:
    """Two bridged pins and the lanes of each way, all of them, and the rest."""

    first: str
    second: str
    ways: tuple[int, int, int]           # in the order of How
    lanes: int
    rest: int


class Lanes:
    """`blocks` blocks of 1 + len(faults) lanes."""

    def __init__(self, part: Compiled, faults: Sequence[PinFault], blocks: int = 1) -> None:
        self.part, self.faults, self.blocks = part, tuple(faults), blocks
        self.width = 1 + len(faults)
        self.block = (1 << self.width) - 1
        self.ones = sum(1 << c * self.width for c in range(blocks))      # lane 0 of each block
        self.every = self.block * self.ones
        self.place = {name: i for i, name in enumerate(part.pins)}
        self.drive = {drive.name: drive for drive in part.drives}
        self._masks()
        self.state = self._unknown()
        self.values: list[int] = []
        self.nodes: dict[str, Node] = {}
        self.awake = True                # False: the next levels are those at power-up, no edges

    def _masks(self) -> None:
        """Which lanes each fault concerns."""
        part = self.part
        self.stuck: dict[str, list[int]] = {}            # pin -> [lanes at 0, lanes at 1]
        self.open: dict[str, int] = {}
        pairs: dict[tuple[str, str], dict[How, int]] = {}
        f1, f0 = [0] * len(part.readings), [0] * len(part.readings)
        for lane, fault in enumerate(self.faults, 1):
            mask = self.ones << lane
            if fault.kind is Kind.INSIDE and fault.reading:
                (f1 if fault.value else f0)[fault.reading.number] |= mask
            elif fault.kind is Kind.OPEN:
                self.open[fault.pin] = self.open.get(fault.pin, 0) | mask
            elif fault.how:
                ways = pairs.setdefault((fault.pin, fault.other), dict.fromkeys(How, 0))
                ways[fault.how] |= mask
            else:
                self.stuck.setdefault(fault.pin, [0, 0])[fault.value] |= mask
        self.inside = (f1, f0, [self.every & ~m for m in f1], [self.every & ~m for m in f0])
        self.run = part.evaluate if any(f1) or any(f0) else part.plain
        self.pairs = [_Pair(a, b, (ways[How.FIRST], ways[How.SECOND], ways[How.AND]), both,
                            self.every & ~both) for (a, b), ways in pairs.items()
                      for both in [ways[How.FIRST] | ways[How.SECOND] | ways[How.AND]]]
        # Pins whose level as the chip sees it can depend on what the chip drives.
        loops = {name for name in part.pins if name in self.drive}
        for pair in self.pairs:
            if pair.first in self.drive or pair.second in self.drive:
                loops |= {pair.first, pair.second} & set(part.pins)
        self.loops = tuple(sorted(loops))
        self.looped = 0
        for pair in self.pairs:
            if pair.first in loops or pair.second in loops:
                self.looped |= pair.lanes
        self.outputs = self._partners(set(self.drive))
        self.watched = self._partners(loops)

    def _partners(self, wanted: set[str]) -> tuple[frozenset[str], tuple[str, ...], list[_Pair]]:
        """These pins; with those they are bridged to; and the bridges between them."""
        near = wanted.union(*({p.first, p.second} for p in self.pairs if {p.first, p.second} & wanted))
        return frozenset(wanted), tuple(sorted(near)), [p for p in self.pairs if p.first in near and p.second in near]

    def _unknown(self) -> State:
        pins, bits = len(self.part.pins), len(self.part.bits)
        return State(*([0] * n for n in (pins, pins, bits, bits, bits, bits, bits, bits)))

    def power_up(self, states: Mapping[int, int], unknown: int = 0) -> None:
        """Begin with known state bits instead of unknown ones.

        `states`: for each bit's place, the lanes in which it is high; `unknown`: lanes that begin unknown all the same.
        """
        known = self.every & ~unknown
        for place, ones in states.items():
            self.state.bit1[place], self.state.bit0[place] = ones & known, known & ~ones
        self.awake = False

    # ---------------------------------------------------------------- applying
    def apply(self, name: str, high: int, low: int) -> None:
        """Levels at a pin from outside: the lanes driven high and low; in the rest it is let go.  Does not settle."""
        place = self.place[name]
        self.state.outer1[place], self.state.outer0[place] = high, low

    def set(self, levels: Mapping[str, bool | None]) -> None:
        """The same levels in all lanes, then settle; then trains of pulses ("CLK^4096")."""
        for name, level in levels.items():
            if "^" not in name:
                self.apply(name, self.every if level else 0, self.every if level is False else 0)
        self.settle()
        for pin, count in (train(name) for name in levels if "^" in name):
            self._pulses(pin, count)

    def _pulses(self, pin: str, count: int) -> None:
        """A train of pulses; only after the last edge is it worked out what the outputs do."""
        rest = bool(self.state.outer1[self.place[pin]])
        both = [(self.every if level else 0, 0 if level else self.every) for level in (not rest, rest)]
        seen = []
        for high, low in both:
            self.apply(pin, high, low)
            seen.append(self._applied())
        for edge in range(2 * count):
            self.apply(pin, *both[edge % 2])
            self.settle(look=edge == 2 * count - 1, applied=seen[edge % 2])

    def settle(self, *, look: bool = True, applied: tuple[list[int], list[int]] | None = None) -> None:
        """Run until nothing changes; lanes that do not come to rest become unknown.

        `look` False: nobody will ask for the pins; `applied`: what `_applied` gives, if it is known already.
        """
        state = self.state
        seen1, seen0 = self._seen_first(applied or self._applied())
        restless = 0
        limit = ROUNDS + 2 * self.part.rippling
        for round_ in range(limit + ROUNDS):
            self.values = self.run(seen1, seen0, state.bit1, state.bit0, self.every, *self.inside)
            if not self.awake:
                self._note_clocks()
                self.awake = True
            moved = self._clock() | self._look(seen1, seen0)
            if not moved:
                break
            if round_ >= limit:
                restless |= moved
                self._forget(restless, seen1, seen0)
        if not look:
            return
        self.nodes = self._observe()
        if restless:
            self.nodes = {name: Node(n.low, n.high, n.off, restless & ~(n.low | n.high | n.off), n.on)
                          for name, n in self.nodes.items()}

    def _forget(self, lanes: int, seen1: list[int], seen0: list[int]) -> None:
        """Everything these lanes remember becomes unknown."""
        keep = self.every & ~lanes
        for levels in (self.state.bit1, self.state.bit0, seen1, seen0):
            for i, level in enumerate(levels):
                levels[i] = level & keep

    def _clock(self) -> int:
        """One round of all state bits from the same settled levels; the lanes in which any changed."""
        state, values, every, moved = self.state, self.values, self.every, 0
        for place, bit in enumerate(self.part.bits):
            clock = 2 * bit.clock
            on, off = values[clock], values[clock + 1]
            if bit.edge:
                still = on == state.clock1[place] and off == state.clock0[place] and on | off == every
            else:
                still = not on and off == every
            free = (bit.clear < 0 or values[2 * bit.clear + 1] == every) and (bit.set < 0 or values[2 * bit.set + 1] == every)
            if still and free:                                   # no edge, or a latch that is shut, in all lanes
                state.next1[place], state.next0[place] = values[2 * bit.next], values[2 * bit.next + 1]
                continue
            held1, held0 = state.bit1[place], state.bit0[place]
            if still and bit.edge:
                one, zero = self._forced(bit, held1, held0)
            else:
                one, zero = self._next(place, bit, values)
                state.clock1[place], state.clock0[place] = on, off
            moved |= (one ^ held1) | (zero ^ held0)
            state.bit1[place], state.bit0[place] = one, zero
            state.next1[place], state.next0[place] = values[2 * bit.next], values[2 * bit.next + 1]
        return moved

    def _note_clocks(self) -> None:
        """Keep clocks and next values for the round to come."""
        state, values = self.state, self.values
        for place, bit in enumerate(self.part.bits):
            state.next1[place], state.next0[place] = values[2 * bit.next], values[2 * bit.next + 1]
            state.clock1[place], state.clock0[place] = values[2 * bit.clock], values[2 * bit.clock + 1]

    def _next(self, place: int, bit: Bit, values: list[int]) -> tuple[int, int]:
        """A state bit after this round."""
        state = self.state
        new1, new0 = values[2 * bit.next], values[2 * bit.next + 1]
        held1, held0 = state.bit1[place], state.bit0[place]
        on, off = values[2 * bit.clock], values[2 * bit.clock + 1]
        if bit.edge:
            was_on, was_off = state.clock1[place], state.clock0[place]
            if bit.edge == "falling":
                on, off, was_on, was_off = off, on, was_off, was_on
            new1, new0 = state.next1[place], state.next0[place]
            surely, never = was_off & on, was_on | off
        else:
            surely, never = on, off
        one = surely & new1 | never & held1 | held1 & new1
        zero = surely & new0 | never & held0 | held0 & new0
        return self._forced(bit, one, zero)

    def _forced(self, bit: Bit, one: int, zero: int) -> tuple[int, int]:
        """What clear and set make of a state bit that else would be this."""
        if bit.clear < 0 and bit.set < 0:
            return one, zero
        values, every = self.values, self.every
        clear1, clear0 = (values[2 * bit.clear], values[2 * bit.clear + 1]) if bit.clear >= 0 else (0, every)
        set1, set0 = (values[2 * bit.set], values[2 * bit.set + 1]) if bit.set >= 0 else (0, every)
        # Both at once leave the bit unknown; where a bridge lets the part set itself it is
        # taken as cleared, for only a release of both in the same instant is undecided.
        return clear0 & (set1 | one), set0 & (clear1 | zero) | self.looped & clear1

    def take(self, block: int) -> None:
        """Every block goes on from where this one is."""
        shift = block * self.width
        for levels in self.state.lists():
            for i, level in enumerate(levels):
                levels[i] = (level >> shift & self.block) * self.ones
        self.settle()

    def keep(self, lanes: Sequence[int]) -> Lanes:
        """The same part in the same state with the sound part and these lanes only, in this order (one block).

        Faults that have been found need not be simulated further.
        """
        few = Lanes(self.part, [self.faults[lane - 1] for lane in lanes], 1)

        chosen = itemgetter(*reversed(lanes), 0)         # of the digits from the right; the highest lane is written first

        def gathered(level: int) -> int:
            return int("".join(chosen(f"{level:0{self.width}b}"[::-1])), 2) if level else 0

        for mine, theirs in zip(few.state.lists(), self.state.lists(), strict=True):
            mine[:] = map(gathered, theirs)
        few.values, few.awake = [gathered(value) for value in self.values], self.awake
        return few

    def spread(self, lanes: int) -> int:
        """Lane 0 of each block copied to the whole block."""
        return (lanes & self.ones) * self.block

    # ------------------------------------------------------------------- pins
    def _driven(self, drive: Drive) -> Node:
        """What an output does by itself, before anything is bridged to it."""
        one, zero = self.values[2 * drive.value], self.values[2 * drive.value + 1]
        if drive.role is Role.OPEN_COLLECTOR:
            on, low, high, off = zero, zero, 0, one
        elif drive.enable < 0:
            on, low, high, off = self.every, zero, one, 0
        else:
            on, off = self.values[2 * drive.enable], self.values[2 * drive.enable + 1]
            low, high = zero & on, one & on
        if drive.name in self.open:
            gone = self.open[drive.name]
            on, low, high, off = on & ~gone, low & ~gone, high & ~gone, off | gone
        return Node(low, high, off, 0, on)

    def _node(self, name: str) -> Node:
        """A pin before bridges: what the chip and what the outside do to it."""
        inner = self._driven(self.drive[name]) if name in self.drive else Node(0, 0, self.every)
        if name not in self.place:
            return inner
        high, low = self.state.outer1[self.place[name]], self.state.outer0[self.place[name]]
        free = self.every & ~(high | low)
        return Node(low & inner.off | free & inner.low | low & inner.low,
                    high & inner.off | free & inner.high | high & inner.high, free & inner.off, 0, free & inner.on)

    def _bridge(self, pair: _Pair, nodes: dict[str, Node]) -> None:
        """Mix the levels of two pins in the lanes where they are bridged."""
        a, b = nodes[pair.first], nodes[pair.second]
        first, second, both = pair.ways
        low = first & (a.low | a.off & b.low) | second & (b.low | b.off & a.low) | both & (a.low | b.low)
        high = (first & (a.high | a.off & b.high) | second & (b.high | b.off & a.high)
                | both & (a.high & (b.high | b.off) | b.high & a.off))
        off = pair.lanes & a.off & b.off
        rest = pair.rest
        nodes[pair.first] = Node(a.low & rest | low, a.high & rest | high, a.off & rest | off, 0, a.on & rest)
        nodes[pair.second] = Node(b.low & rest | low, b.high & rest | high, b.off & rest | off, 0, b.on & rest)

    def _applied(self) -> tuple[list[int], list[int]]:
        """Levels the chip would see if it drove nothing itself."""
        nodes = {name: Node(low, high, 0) for name, high, low in
                 zip(self.part.pins, self.state.outer1, self.state.outer0, strict=True)}
        for pair in self.pairs:
            if pair.first in nodes and pair.second in nodes:
                self._bridge(pair, nodes)
        seen1, seen0 = [], []
        for name in self.part.pins:
            node = self._faulty(name, nodes[name])
            seen1.append(node.high)
            seen0.append(node.low)
        return seen1, seen0

    def _seen_first(self, applied: tuple[list[int], list[int]]) -> tuple[list[int], list[int]]:
        """Levels the chip sees before it answers.

        Pins in a loop start from what the chip did last; where that is unknown, from what is applied.
        """
        applied1, applied0 = applied
        seen1, seen0 = list(applied1), list(applied0)
        if self.values and self.loops:
            self._look(seen1, seen0)
            for name in self.loops:
                place = self.place[name]
                unknown = self.every & ~(seen1[place] | seen0[place])
                seen1[place] |= applied1[place] & unknown
                seen0[place] |= applied0[place] & unknown
        return seen1, seen0

    def _faulty(self, name: str, node: Node) -> Node:
        """A pin with its own stuck faults."""
        if name not in self.stuck:
            return node
        at0, at1 = self.stuck[name]
        sound = ~(at0 | at1)
        return Node(node.low & sound | at0, node.high & sound | at1, node.off & sound, 0, node.on & sound)

    def _look(self, seen1: list[int], seen0: list[int]) -> int:
        """Update what the chip sees of pins it may drive itself; the lanes that changed."""
        if not self.loops:
            return 0
        nodes = self._observe(inputs=True)
        moved = 0
        for name in self.loops:
            node, place = nodes[name], self.place[name]
            moved |= (seen1[place] ^ node.high) | (seen0[place] ^ node.low)
            seen1[place], seen0[place] = node.high, node.low
        return moved

    def _observe(self, *, inputs: bool = False) -> dict[str, Node]:
        """Every output (with `inputs` instead: every pin in a loop) as it is at the pin."""
        wanted, near, pairs = self.watched if inputs else self.outputs
        nodes = {name: self._node(name) for name in near}
        for pair in pairs:
            self._bridge(pair, nodes)
        return {name: self._faulty(name, node) for name, node in nodes.items() if name in wanted}
