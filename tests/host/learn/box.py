"""A library's part with access to its pins only: what a learner is tried on without a fixture.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

from sagbench.identify.belief import Seen
from sagbench.identify.choose import Pattern
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.model import Expect

FREE = {Expect.LOW: Seen.LOW, Expect.HIGH: Seen.HIGH, Expect.OFF: Seen.OFF}


class Box:
    """One specimen; plays patterns as the bench does.  An input let go is high, as in TTL."""

    def __init__(self, definition: Definition, pinout: Pinout, seed: int = 0) -> None:
        network = Network(definition)
        rng = random.Random(seed)
        self._machine = Machine(network, start=[rng.random() < 0.5 for _ in network.registers])
        self.names = dict(enumerate(pinout.pins, start=1))
        rails = set(pinout.supply) | set(pinout.ground)
        self.pins = tuple(pin for pin, name in self.names.items() if name not in rails and name != "NC")
        self._inputs = {pin for pin in self.pins if self.names[pin] in network.inputs}
        self._outputs = {pin for pin in self.pins if self.names[pin] in network.drivers}
        self._bidirectional = self._inputs & self._outputs
        self._pulled = {pin for pin in self._bidirectional if network.drivers[self.names[pin]].enable in network.always}
        self._driven: dict[int, bool] = {}
        self._machine.set({self.names[pin]: True for pin in self._inputs - self._bidirectional})
        self.looks = 0

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        """As `identify.bench.Bench.play`."""
        watched = tuple(pins)
        out = []
        for pattern in patterns:
            for pin, level in pattern.changes:
                self._give(pin, level)
            for pin, count in pattern.pulses:
                level = self._driven[pin]
                for turn in range(2 * count):
                    self._give(pin, level is bool(turn & 1))
            if pattern.look:
                self.looks += 1
                out.append({pin: seen for pin in watched if (seen := self._see(pin)) is not None})
        return out

    def _give(self, pin: int, level: bool | None) -> None:
        if level is None:
            self._driven.pop(pin, None)
        else:
            self._driven[pin] = level
        if pin in self._bidirectional:
            self._machine.set({self.names[pin]: True if level is None and pin not in self._pulled else level})
        elif pin in self._inputs:
            self._machine.set({self.names[pin]: True if level is None else level})

    def _see(self, pin: int) -> Seen | None:
        does = self._machine.expect(self.names[pin]) if pin in self._outputs else Expect.OFF
        level = self._driven.get(pin)
        if level is None:
            return FREE[does] if does is not None else None
        if level:
            return Seen.HOLDS_LOW if does is Expect.LOW else Seen.FOLLOWS_HIGH
        return Seen.HOLDS_HIGH if does is Expect.HIGH and pin not in self._pulled else Seen.FOLLOWS_LOW
