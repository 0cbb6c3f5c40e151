"""How much a test sequence finds: each fault of a part against the steps, by simulation.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sagbench.parts.model import Expect
from sagbench.vectors.compile import Compiled
from sagbench.vectors.lanes import Lanes, Node
from sagbench.vectors.pinfaults import Kind, PinFault

Levels = Mapping[str, bool | None]


@dataclass(frozen=True)
class NamedStep:
    """A step by pin names: what to set, what each output is to do."""

    set: Levels
    expect: Mapping[str, Expect]


@dataclass(frozen=True)
class Coverage:
    """Which faults a sequence finds: for each the number of the step that shows it first, or None."""

    found: Mapping[PinFault, int | None]

    def missed(self, *kinds: Kind) -> tuple[PinFault, ...]:
        """Faults of these kinds (all, if none is named) that no step shows."""
        return tuple(f for f, step in self.found.items() if step is None and (not kinds or f.kind in kinds))

    def share(self, *kinds: Kind, undetectable: Iterable[PinFault] = ()) -> float:
        """Detected share of these kinds, 0..1; `undetectable` ones do not count."""
        out = set(undetectable)
        counted = [step for f, step in self.found.items() if (not kinds or f.kind in kinds) and f not in out]
        return sum(step is not None for step in counted) / len(counted) if counted else 1.0

    def counts(self) -> Mapping[Kind, tuple[int, int]]:
        """Detected and all faults of each kind."""
        every = Counter(f.kind for f in self.found)
        found = Counter(f.kind for f, step in self.found.items() if step is not None)
        return {kind: (found[kind], every[kind]) for kind in every}


class Contradiction(Exception):
    """A sequence expects what the sound part does not do."""


def differs(node: Node, expect: Expect) -> int:
    """The lanes in which a pin surely does something else.

    Each expected level is read with a pull to the other side (and an off state with
    both), so that a pin that does not drive is found too, and one that does, at whatever level.
    """
    if expect is Expect.LOW:
        return node.high | node.off | node.between
    if expect is Expect.HIGH:
        return node.low | node.off | node.between
    return node.low | node.high | node.between | node.on


def simulate(part: Compiled, faults: Sequence[PinFault], steps: Iterable[NamedStep]) -> Coverage:
    """Run a sequence on the sound part and on one copy for each fault.

    Raises Contradiction if the sound part itself would fail a step.
    """
    steps = list(steps)
    first = _first_shown(Lanes(part, faults), steps)
    found: dict[PinFault, int | None] = {fault: first.get(lane) for lane, fault in enumerate(faults, 1)}
    missed = [fault for fault, step in found.items() if step is None]
    if part.bits and missed:
        found |= _from_any_state(part, missed, steps)
    return Coverage(found)


def _from_any_state(part: Compiled, faults: Sequence[PinFault], steps: Sequence[NamedStep]) -> dict[PinFault, int | None]:
    """For each fault the step by which it has shown from every power-up state tried; None if one hides it.

    A part that cannot be cleared or clocked, or a loop through a bridge, can keep an unknown level
    unknown for ever, while each of the states it can really be in shows the fault.
    """
    bits = len(part.bits)
    source = random.Random(bits)
    tried = list(range(1 << bits)) if bits <= 4 else [
        0, (1 << bits) - 1, *(source.getrandbits(bits) for _ in range(14))]
    lanes = Lanes(part, [fault for fault in faults for _ in tried])
    # The sound part (lane 0) begins in the first of the states; what the steps expect holds from any.
    states = [tried[0], *(state for _ in faults for state in tried)]
    lanes.power_up({place: sum((state >> place & 1) << lane for lane, state in enumerate(states))
                    for place in range(bits)})
    first = _first_shown(lanes, steps)
    count, found = len(tried), {}
    for place, fault in enumerate(faults):
        shown = [first.get(1 + place * count + k) for k in range(count)]
        found[fault] = None if None in shown else max(step for step in shown if step is not None)
    return found


def _first_shown(lanes: Lanes, steps: Iterable[NamedStep]) -> dict[int, int]:
    """For each lane in which a step shows something wrong: the number of the first such step.

    Lanes that have shown it are dropped whenever they are half of all.
    """
    first: dict[int, int] = {}
    which = list(range(len(lanes.faults) + 1))           # the caller's number of each lane that is left
    seen = 0
    for number, step in enumerate(steps):
        lanes.set(step.set)
        now = 0
        for name, expect in step.expect.items():
            now |= differs(lanes.nodes[name], expect)
            if now & 1:
                raise Contradiction(f"step {number}: {name} is expected {expect.value} and is not")
        fresh = now & ~seen
        seen |= now
        while fresh:
            low = fresh & -fresh
            first[which[low.bit_length() - 1]] = number
            fresh ^= low
        if seen.bit_count() == len(lanes.faults):
            break
        if 2 * seen.bit_count() >= len(lanes.faults):
            left = [lane for lane in range(1, len(which)) if not seen >> lane & 1]
            lanes, which, seen = lanes.keep(left), [0, *(which[lane] for lane in left)], 0
    return first


def expects(lanes: Lanes) -> dict[str, Expect]:
    """What the sound part (lane 0) does at each output that is known and not driven from outside."""
    found = {}
    for name, node in lanes.nodes.items():
        place = lanes.place.get(name)
        if place is not None and (lanes.state.outer1[place] | lanes.state.outer0[place]) & 1:
            continue
        if (node.low | node.high | node.off) & 1:
            found[name] = Expect.LOW if node.low & 1 else Expect.HIGH if node.high & 1 else Expect.OFF
    return found


def checked(part: Compiled, levels: Iterable[Levels]) -> list[NamedStep]:
    """Steps with everything the sound part is known to do."""
    lanes = Lanes(part, ())
    steps = []
    for change in levels:
        lanes.set(change)
        steps.append(NamedStep(dict(change), expects(lanes)))
    return steps
