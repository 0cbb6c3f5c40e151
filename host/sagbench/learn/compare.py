"""A specimen held against a part file: where they differ, in which state of the inputs first.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sagbench.identify.belief import Seen
from sagbench.identify.candidates import candidates_of
from sagbench.identify.choose import TRAIN
from sagbench.learn.specimen import Bench, Look, Specimen
from sagbench.learn.walks import walk
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.model import Expect

LOOKS = 3000
SAYS = {Expect.LOW: Seen.LOW, Expect.HIGH: Seen.HIGH, Expect.OFF: Seen.OFF}


@dataclass(frozen=True)
class Difference:
    """One output that did otherwise: how often of how many looks, and the first time."""

    pin: int
    name: str
    times: int
    looks: int
    should: Seen
    did: Seen

    @property
    def sentence(self) -> str:
        """For a report."""
        return f"pin {self.pin} ({self.name}) {self.did.value} where it {self.should.value} by the draft; {self.times} of {self.looks} looks"


@dataclass(frozen=True)
class Compared:
    """All outputs that differ, and in how many looks."""

    differences: tuple[Difference, ...]
    looks: int


def compare(specimen: Specimen, definition: Definition, pinout: Pinout, rng: random.Random) -> Compared:
    """At random, and by the logic test that is made from the draft.  The specimen is powered."""
    network = Network(definition)
    inputs = tuple(pin for pin, name in enumerate(pinout.pins, 1) if name in network.inputs)
    outputs = tuple(pin for pin, name in enumerate(pinout.pins, 1) if name in network.drivers and name not in network.inputs)
    bench = Bench(specimen, inputs, outputs, rng)
    looks = list(bench.give([0, *walk(bench, LOOKS)]))
    looks += bench.give(own_test(bench, definition))
    first: dict[int, tuple[Seen, Seen]] = {}
    times: Counter[int] = Counter()
    for pin, should, did in differing(Machine(network), bench, pinout.pins, looks):
        first.setdefault(pin, (should, did))
        times[pin] += 1
    return Compared(tuple(Difference(pin, pinout.pins[pin - 1], times[pin], len(looks), *first[pin]) for pin in sorted(first)), len(looks))


def own_test(bench: Bench, definition: Definition) -> Iterator[int]:
    """The logic test that is made from a draft, one toggle at a time; levels of pins that are let go in it stay."""
    (candidate,) = candidates_of([definition])
    place = {pin: i for i, pin in enumerate(bench.inputs)}
    point = bench.point
    for step in candidate.sequence:
        for pin, level in step.set.items():
            if pin in place and level is not None and bool((point >> place[pin]) & 1) is not level:
                point ^= 1 << place[pin]
                yield point
        for pin, count in step.pulses.items():
            for _ in range(2 * min(count, TRAIN) if pin in place else 0):
                point ^= 1 << place[pin]
                yield point


def differing(machine: Machine, bench: Bench, names: Sequence[str], looks: Iterable[tuple[int, Look]]) -> Iterator[tuple[int, Seen, Seen]]:
    """Each time an output (pin) did otherwise than the machine: what it should have done, and did.

    names: of pins 1..N; those that the machine has not are not looked at, and what it does not know is no difference.
    """
    inputs, outputs = machine.network.inputs, machine.network.drivers
    for point, look in looks:
        levels = {names[pin - 1]: level for pin, level in bench.levels(point).items() if names[pin - 1] in inputs}
        for name in inputs:
            if name in outputs and machine.driven.get(name) is not None:
                machine.set({name: None})
        for name, level in levels.items():
            if machine.driven.get(name) is not level:
                machine.set({name: level})
        for pin, seen in zip(bench.outputs, look, strict=True):
            says = machine.expect(names[pin - 1]) if names[pin - 1] in outputs else None
            if seen is not None and says is not None and SAYS[says] is not seen:
                yield pin, SAYS[says], seen
