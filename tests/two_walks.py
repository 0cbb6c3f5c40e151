"""The part library against the virtual chips where the library's own test does not go: walks by lot.

    PYTHONPATH=host:.:tests python -m two_walks [NUMBER ...] [--steps N] [--seed N]

One input after another is turned over, by lot, on the library's model and on four copies of the virtual chip (other registers at
power-up, other lots where the data book leaves something open).  Told is the first step in which each output that the model
knows is something else on a copy: a mistake of either side, or a thing that the data book leaves open and the library claims to
know (`undefined` says that it does not).  What is told has to be read with the data sheet at hand.  Exit status 1 if anything is
told that OPEN does not explain.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import argparse
import random
import sys
from collections.abc import Iterator, Mapping

from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect, Role
from sagbench.parts.lookup import network_of
from two_hands import COPIES, Copy, Difference, Subject, numbers, said, subjects, wanted

HABIT = 40                              # steps after which other inputs are the busy ones
HABITS = (0.05, 0.05, 0.5, 3.0)         # how busy an input is, by lot
LET_GO = 0.3                            # share of steps in which a driven bidirectional pin is let go
_PULSE = ("pulse-triggered: J and K must rest while the clock is high; the library takes them as they are at the falling edge, "
          "here the master keeps what it caught")
_LOCKOUT = "what preset and clear leave of the data locked in while the clock is high: the sheets do not say"
# Numbers in which the library still claims more than the sheets say (each was tried as `undefined`; the fault report then has faults
# of which no proof says whether a test exists).
OPEN: Mapping[str, str] = {
    "71": _PULSE, "72": _PULSE, "78": _PULSE, "110": _LOCKOUT, "111": _LOCKOUT,
    "95": "MODE changed while a clock is high: \"undetermined\" in some of these cases (Motorola, SN54/74LS95B, truth table)",
    "198": "the mode changed while the clock is low: the sheet asks for changes while it is high only",
}

Levels = dict[str, bool | None]


class Walk:
    """The model and the copies, led by the hand together."""

    def __init__(self, subject: Subject, seed: int) -> None:
        part = subject.part
        self.rng = random.Random(f"two walks/{part.name}/{seed}")
        behaviour: Network = network_of(part)
        self.machine, self.inputs = Machine(behaviour), behaviour.inputs
        self.both = [n for n, role in behaviour.roles.items() if role is Role.BIDIRECTIONAL]
        self.number = {p.name: p.number for p in part.pins}
        self.copies = [Copy(part, subject.kind, 2 * (COPIES * seed + k)) for k in range(COPIES)]
        self.levels: Levels = {}
        self.apply({n: None if n in self.both else bool(self.rng.getrandbits(1)) for n in self.inputs})

    def apply(self, change: Mapping[str, bool | None]) -> None:
        self.machine.set(change)
        self.levels |= change
        for copy in self.copies:
            copy.change({self.number[n]: level for n, level in change.items()})
            copy.end()                      # a monostable's pulse is over before anybody looks

    def _driven_by_part(self, machine: Machine) -> set[str]:
        expects = machine.expects() if self.both else {}
        return {n for n in self.both if expects.get(n) is not Expect.OFF}

    def step(self, busy: Mapping[str, float]) -> str:
        """One input to its other level, bidirectional pins let go first where the part drives them; what was done."""
        name = self.rng.choices(self.inputs, [busy[n] for n in self.inputs])[0]
        level: bool | None = not self.levels[name]
        if name in self.both:
            level = None if self.levels[name] is not None and self.rng.random() < LET_GO else bool(self.rng.getrandbits(1))
        after = self.machine.copy()
        after.set({name: level})
        fights = self._driven_by_part(self.machine) | self._driven_by_part(after)
        if name in fights:
            return ""
        held = [n for n in fights if self.levels[n] is not None]
        if held:
            self.apply(dict.fromkeys(held))
        self.apply({name: level})
        return f"{name}={'-' if level is None else int(level)}"


def walk_differences(subject: Subject, steps: int, seed: int = 0) -> Iterator[Difference]:
    """The first step of each output in which model and copies part."""
    walk, told = Walk(subject, seed), set()
    busy: dict[str, float] = {}
    for index in range(steps):
        if index % HABIT == 0:
            busy = {n: walk.rng.choice(HABITS) for n in walk.inputs}
        done = walk.step(busy)
        for name, expect in walk.machine.expects().items():
            pin = walk.number[name]
            got = {copy.out[pin] for copy in walk.copies if pin in copy.out}
            if pin in told or not got or got == {wanted(expect, pin, walk.copies[0])}:
                continue
            told.add(pin)
            levels = " ".join(f"{n}={'-' if level is None else int(level)}" for n, level in walk.levels.items())
            yield Difference(subject.number, subject.part.name, "walk",
                             f"{name} here {said(got)}, the library's model says {expect.value} after {done} at {levels}", pin, index)


def main() -> int:
    reader = argparse.ArgumentParser(prog="two_walks", description=str(__doc__).split("\n", 1)[0])
    reader.add_argument("number", nargs="*", help="functions of the library; all that there are virtual chips of")
    reader.add_argument("--steps", type=int, default=1000)
    reader.add_argument("--seed", type=int, default=0)
    asked = reader.parse_args()
    count = left = known = 0
    for number in asked.number or numbers():
        for subject in subjects(number):
            count += 1
            for one in walk_differences(subject, asked.steps, asked.seed):
                if number in OPEN:
                    known += 1
                else:
                    left += 1
                    print(f"{one.name} pin {one.pin} step {one.step}: {one.text}", flush=True)
    print(f"{count} forms walked, {left} outputs differ, and {known} of {', '.join(OPEN)}, which OPEN explains", file=sys.stderr)
    return 1 if left else 0


if __name__ == "__main__":
    sys.exit(main())
