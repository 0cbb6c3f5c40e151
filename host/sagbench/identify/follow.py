"""A candidate's machine, led along the levels that the unknown chip has been given.

The chip is given levels at pins whose role is not known: a pin that this candidate calls an output may be driven
too, through M, which an output overcomes.  What the candidate says each pin does is a `Says`.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import Enum

from sagbench.identify.candidates import Candidate
from sagbench.parts.behaviour import Machine
from sagbench.parts.model import Expect, Role

Change = tuple[int, bool | None]  # pin, level through M or None: let go


class Says(Enum):
    """What a candidate says of a pin."""

    LOW = "drives low"
    HIGH = "drives high"
    OFF = "drives nothing"
    INPUT = "an input"
    UNKNOWN = "an output, level unknown"
    NOTHING = "nothing known of it"


ROUNDS = 4  # of levels passed on from one shared pin to another
_LEVEL: Mapping[Expect | None, bool] = {Expect.LOW: False, Expect.HIGH: True}
_SAYS = {Expect.LOW: Says.LOW, Expect.HIGH: Says.HIGH, Expect.OFF: Says.OFF}


class Follower:
    """One candidate on the way."""

    def __init__(self, candidate: Candidate, machine: Machine | None = None, given: Mapping[int, bool | None] | None = None) -> None:
        self.candidate = candidate
        self._machine = machine or Machine(candidate.network)
        self._given = dict(given or {})  # shared pins -> what M does there
        self._says: dict[int, Says] | None = None
        names = candidate.pinout.pins
        self._inputs = {i: names[i - 1] for i, r in enumerate(candidate.roles, 1) if r is Role.INPUT}
        self._shared = {i: names[i - 1] for i, r in enumerate(candidate.roles, 1) if r is Role.BIDIRECTIONAL}
        pull = candidate.pull
        self._weak = self._shared.keys() | pull.resistor | pull.switch  # outputs at which it counts what M does
        self._held: frozenset[int] = frozenset()  # inputs that stay high although M holds them low
        self._low: set[int] = set()  # inputs that M holds low and may not be able to
        network = candidate.network  # a resistor inside that pulls up gives way to M
        self._pulled = {i for i, name in self._shared.items() if network.drivers[name].enable in network.always}

    def copy(self) -> Follower:
        """Another one in the same state."""
        twin = Follower(self.candidate, self._machine.copy(), self._given)
        twin._held, twin._low = self._held, set(self._low)
        return twin

    def hold(self, pins: Iterable[int]) -> None:
        """Pins that were seen high though M holds them low: where such an input may be too heavy for M, it is not known to be low."""
        held = frozenset(pins) & self.candidate.pull.heavy
        changed = (held ^ self._held) & self._low
        self._held = held
        if changed:
            self._machine.set({self._inputs.get(pin) or self._shared[pin]: None if pin in held else False for pin in changed})
            self._says = None
            self._give_way()

    def set(self, changes: Iterable[Change]) -> None:
        """Levels, all at once: for pins whose order does not matter, or of which nothing was known before."""
        levels = {}
        for pin, level in changes:
            if (name := self._inputs.get(pin) or self._shared.get(pin)) and not self._overcomes(pin):
                levels[name] = None if level is False and pin in self._held else level
            if pin in self._weak:
                self._given[pin] = level
                self._says = None
            if pin in self.candidate.pull.heavy:
                (self._low.add if level is False else self._low.discard)(pin)
        if levels:
            self._machine.set(levels)
            self._says = None
            self._give_way()

    def _overcomes(self, pin: int) -> bool:
        """True for a shared pin that the part drives: M changes nothing there (both sides of a transceiver may hold each other)."""
        return pin in self._shared and pin not in self._pulled and self._machine.expect(self._shared[pin]) in _LEVEL

    def pulse(self, pin: int, count: int) -> None:
        """A driven pin to its other level and back, so many times."""
        if name := self._inputs.get(pin):
            self._machine.set({f"{name}^{count}": True})
            self._says = None
            self._give_way()

    def _give_way(self) -> None:
        """A shared pin has the level that the part itself drives, if it does, whatever M says; else that of M.

        One that the part only pulls up is low if M says so.
        """
        for _ in range(ROUNDS):
            levels: dict[str, bool | None] = {}
            for pin, name in self._shared.items():
                given = self._given.get(pin)
                own = _LEVEL.get(self._machine.expect(name), given) if not (pin in self._pulled and given is False) else given
                if self._machine.driven.get(name) is not own:
                    levels[name] = own
            if not levels:
                return
            self._machine.set(levels)

    def says(self) -> Mapping[int, Says]:
        """What it says of each pin but the rails."""
        if self._says is None:
            self._says = dict(self._look())
        return self._says

    def _look(self) -> Iterable[tuple[int, Says]]:
        fought = self._fought() if self.candidate.pull.switch else frozenset()
        for pin, role in enumerate(self.candidate.roles, start=1):
            if pin in fought or pin in self._held & self._low:
                yield pin, Says.UNKNOWN
            elif pin in self.candidate.pull.no_junction:  # what the resistor goes to is not known: RINT of a 121 stays below M's high
                yield pin, Says.NOTHING
            elif role is Role.INPUT:
                yield pin, Says.INPUT
            elif role.is_output:
                expect = self._machine.expect(self.candidate.pinout.pins[pin - 1])
                against = self._given.get(pin) is False and expect is Expect.HIGH
                gives_way = pin in self._pulled and against
                perhaps = pin in self.candidate.pull.resistor and against
                yield pin, Says.UNKNOWN if expect is None or perhaps else Says.OFF if gives_way else _SAYS[expect]
            elif role is Role.UNUSED:
                yield pin, Says.OFF
            elif role is Role.ANALOG:
                yield pin, Says.NOTHING

    def _fought(self) -> frozenset[int]:
        """Pins whose level is not known while M drives an analog switch at its common pin.

        M's other level may come through from each input that has the level let through, or that is let go.
        """
        fought = frozenset[int]()
        for pin in self.candidate.pull.switch:
            given = self._given.get(pin)
            expect = self._machine.expect(self.candidate.pinout.pins[pin - 1])
            if given is None or expect is Expect.OFF or _LEVEL.get(expect) is given:
                continue
            through = _LEVEL.get(expect)
            fought |= {pin} | {i for i, name in self._inputs.items() if self._machine.driven.get(name) in (None, through)}
        return fought
