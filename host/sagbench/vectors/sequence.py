"""A test sequence for a part with memory (or with pins that go both ways), by search on its equations.

From where the sequence stands, many short random runs of legal moves (`moves`) are simulated at once, each with all
faults that are still missed; the run that finds most for its length is kept, or, if none
finds anything, the one after which most faults sit inside the part as a wrong state.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field

from sagbench.parts.definition import Definition
from sagbench.parts.model import Expect
from sagbench.vectors.compile import Compiled
from sagbench.vectors.coverage import Levels, checked, differs, simulate
from sagbench.vectors.lanes import Lanes
from sagbench.vectors.moves import Later, Move, Put, Rules, Toggle, data_change
from sagbench.vectors.pinfaults import PinFault

BLOCKS = 32                              # candidate runs tried at once
ATTEMPTS = 2                             # searches in vain, each from the end of the sequence, before it is given up
ROUNDS = 2                               # whole searches, the second for what the first only seemed to find
PATIENCE = 24                            # rounds without a find before the search ends


@dataclass
class _Run:
    """One candidate: its moves, the steps they became, what it found."""

    moves: list[Move]
    now: dict[str, bool | None]
    steps: list[Levels] = field(default_factory=list)
    found: int = 0                       # lanes of its block


class Search:
    """Extends a sequence until nothing more is found."""

    def __init__(self, definition: Definition, part: Compiled, base: Sequence[Levels], seed: int = 1) -> None:
        """`base` begins the sequence; its first steps must set every input."""
        self.part = part
        self.rules = Rules(definition, part)
        self.rng = random.Random(seed)
        self.steps: list[Levels] = [dict(step) for step in base]

    def run(self, faults: Sequence[PinFault], patience: int = PATIENCE) -> list[Levels]:
        """Add steps for these faults; gives the whole sequence."""
        missing, idle = list(faults), 0
        while missing and idle < ATTEMPTS:
            left = self._chase(missing, patience)
            idle = idle + 1 if len(left) == len(missing) else 0
            missing = left
        return self.steps

    def _chase(self, missing: list[PinFault], patience: int) -> list[PinFault]:
        """Rounds with one set of lanes until half of the faults are found or patience ends; what is left."""
        lanes = Lanes(self.part, missing, BLOCKS)
        # Faulty copies begin in some state, the same in each block: one that is never cleared would else stay
        # unknown.  What a find is worth is seen by `simulate`, which tries many states.
        lanes.power_up({bit: self.rng.getrandbits(lanes.width) * lanes.ones for bit in range(len(self.part.bits))},
                       unknown=lanes.ones)
        now: dict[str, bool | None] = {}
        for step in self.steps:
            lanes.set(step)
            now.update(step)
        left = lanes.block & ~1
        waiting = 0
        kept = len(self.steps)
        while left and left.bit_count() * 2 > len(missing) and waiting < patience:
            runs = self._round(lanes, now, left)
            best = max(range(BLOCKS), key=lambda c: (runs[c].found & left).bit_count() / (len(runs[c].steps) + 1))
            gain = runs[best].found & left
            if not gain:
                waiting += 1
                best = self._most_upset(lanes, left) if waiting % 2 else self.rng.randrange(BLOCKS)
            self.steps += runs[best].steps
            now = runs[best].now
            lanes.take(best)
            if gain:
                left &= ~gain
                waiting, kept = 0, len(self.steps)
        del self.steps[kept:]
        return [fault for i, fault in enumerate(missing, 1) if left >> i & 1]

    def _most_upset(self, lanes: Lanes, left: int) -> int:
        """The block in which most faults have changed the state; one at random if none has."""
        upset = 0
        for one, zero in zip(lanes.state.bit1, lanes.state.bit0, strict=True):
            upset |= lanes.spread(one) & zero | lanes.spread(zero) & one
        counts = [(upset >> c * lanes.width & left).bit_count() for c in range(BLOCKS)]
        top = max(counts)
        return self.rng.choice([c for c, count in enumerate(counts) if count == top])

    def _round(self, lanes: Lanes, now: dict[str, bool | None], left: int) -> list[_Run]:
        """Simulate a run in each block."""
        runs = [_Run(self.rules.moves(self.rng), dict(now)) for _ in range(BLOCKS)]
        for turn in range(max(len(run.moves) for run in runs)):
            before = [len(run.steps) for run in runs]
            changed: set[str] = set()
            for block, run in enumerate(runs):
                if turn < len(run.moves):
                    change = self._change(run.moves[turn], run, lanes, block)
                    if change:
                        run.steps.append(change)
                        run.now.update(change)
                        changed.update(change)
            for name in changed:
                high = sum(lanes.block << c * lanes.width for c, run in enumerate(runs) if run.now[name])
                low = sum(lanes.block << c * lanes.width for c, run in enumerate(runs) if run.now[name] is False)
                lanes.apply(name, high, low)
            if not changed:
                continue
            lanes.settle()
            seen = self._seen(lanes)
            for block, run in enumerate(runs):
                if len(run.steps) > before[block]:
                    run.found |= seen >> block * lanes.width & lanes.block
        return runs

    def _seen(self, lanes: Lanes) -> int:
        """Lanes in which an output differs from what the sound part of the block surely does."""
        seen = 0
        for name, node in lanes.nodes.items():
            free = lanes.every
            if name in lanes.place:
                place = lanes.place[name]
                free &= ~lanes.spread(lanes.state.outer1[place] | lanes.state.outer0[place])
            for expect, level in ((Expect.LOW, node.low), (Expect.HIGH, node.high), (Expect.OFF, node.off)):
                seen |= free & lanes.spread(level) & differs(node, expect)
        return seen

    def _change(self, move: Move, run: _Run, lanes: Lanes, block: int) -> Levels:
        """What a move is at this moment; {} if it is not allowed."""
        change = self._wanted(move, run, lanes, 1 << block * lanes.width)
        return change if self.rules.is_lawful(run.now, change) or move is Later.RELEASE else {}

    def _wanted(self, move: Move, run: _Run, lanes: Lanes, sound: int) -> Levels:
        if isinstance(move, (Toggle, Put)):
            held = move.pin in self.rules.turners and any(run.now[n] is not None for n in self.rules.shared)
            level = move.level if isinstance(move, Put) else not run.now[move.pin]
            return {} if held or run.now[move.pin] is level else {move.pin: level}
        if move is Later.RELEASE:
            return {n: None for n in self.rules.shared if run.now[n] is not None}
        pins = self.rules.data
        if move is Later.DRIVE:
            pins = tuple(n for n in self.rules.shared if run.now[n] is not None or self._is_off(n, lanes, sound))
            safe = self.rules.surely_off(run.now, pins)
            pins = tuple(n for n in pins if n in safe)
        pins = tuple(n for n in pins if self.rules.at_rest(n, lanes.values) & sound)
        return data_change(pins, run.now, self.rng) if pins else {}

    @staticmethod
    def _is_off(name: str, lanes: Lanes, sound: int) -> bool:
        return bool(lanes.nodes[name].off & sound)


def extend(definition: Definition, part: Compiled, faults: Sequence[PinFault], base: Sequence[Levels],
           seed: int = 1) -> list[Levels]:
    """`base`, and what must be added to it so that as many as possible of `faults` are found."""
    whole: list[Levels] = [dict(step) for step in base]
    missed = simulate(part, faults, checked(part, whole)).missed()
    for again in range(ROUNDS):
        if not missed:
            break
        longer = Search(definition, part, whole, seed + again).run(missed)
        found = simulate(part, missed, checked(part, longer)).found
        useful = max((step + 1 for step in found.values() if step is not None), default=0)
        whole = longer[:max(useful, len(whole))]
        missed = tuple(fault for fault, step in found.items() if step is None)
    return whole
