"""Is a draft the same function as the library's?  Compared pin by pin through the behaviour machine, names left out.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from dataclasses import dataclass

from box import Box

from sagbench.identify.belief import chance
from sagbench.identify.candidates import candidates_of
from sagbench.identify.choose import lead, played
from sagbench.identify.follow import Follower
from sagbench.learn.draft import About
from sagbench.learn.learn import Result, learn
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import Definition, Pinout
from sagbench.parts.model import Expect
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.reader import read

STEPS = 6000          # toggles of a comparison of two parts with memory
REST = 300            # of these, before all that one of them knows has to be known to the other


@dataclass(frozen=True)
class Unknown:
    """A function of the library, taken as an unknown part."""

    number: str
    definition: Definition
    pinout: Pinout
    inputs: int
    state_bits: int

    @property
    def about(self) -> About:
        """What a user would know of it."""
        rails = [tuple(pin for pin, name in enumerate(self.pinout.pins, 1) if name in names) for names in (self.pinout.supply, self.pinout.ground)]
        return About("99", next(iter(self.definition.families)), len(self.pinout.pins), *rails)


def unknown(number: str) -> Unknown | None:
    """None for what needs parts outside (a timing capacitor): it is no logic."""
    whole = load_file(file_names()[number])
    family = next(iter(whole.families))
    definition, pinout = whole.of(family), whole.pinout(family)
    if pinout.analog:
        return None
    network = Network(definition)
    return Unknown(number, definition, pinout, len(network.inputs), len(network.states))


def combinational() -> list[Unknown]:
    """All functions without memory, up to 16 inputs."""
    return [u for number in file_names() if (u := unknown(number)) and not u.state_bits and u.inputs <= 16]


def clocked() -> list[Unknown]:
    """All functions with up to 64 states."""
    return [u for number in file_names() if (u := unknown(number)) and 0 < u.state_bits <= 6]


SPECIMEN = 1          # seed of the specimen that is learnt: what its part leaves open, it does in one way


def learnt(part: Unknown, seed: int = SPECIMEN) -> Result:
    """Learn it through its pins."""
    return learn(Box(part.definition, part.pinout, seed), part.about, random.Random(seed))


def exact(part: Unknown, found: Result) -> bool:
    """True if the draft does the same at every pin: everywhere without memory, on a long walk with memory or bus pins."""
    if not found.learnt.laws or found.learnt.missed:
        return False
    mine, theirs = Network(read(found.draft.text, "draft", origin="draft")), Network(part.definition)
    names = dict(zip(part.pinout.pins, found.draft.names, strict=True))
    if part.state_bits or set(theirs.inputs) & set(theirs.drivers):
        return _walked(mine, theirs, names)
    lanes = 1 << len(theirs.inputs)
    a, b = Machine(mine, lanes), Machine(theirs, lanes)
    for i, name in enumerate(theirs.inputs):
        ones = sum(((1 << (1 << i)) - 1) << (1 << i) + k * (2 << i) for k in range(lanes // (2 << i)))
        b.set_lanes(name, ones)
        if names[name] in mine.inputs:
            a.set_lanes(names[name], ones)
    a.settle()
    b.settle()
    for name in theirs.drivers:
        if names[name] not in mine.drivers:
            return False
        for got, want in zip(a.output(names[name]), b.output(name), strict=True):
            if want & ~got:
                return False
    return True


def own_test_failures(part: Unknown, found: Result) -> int:
    """Outputs that do otherwise than the logic test made from the draft expects, when it is played on the specimen; all, if there is no draft."""
    if not found.learnt.laws:
        return len(found.learnt.outputs)
    (candidate,) = candidates_of([read(found.draft.text, "draft", origin="draft")])
    box, follower = Box(part.definition, part.pinout, SPECIMEN), Follower(candidate)
    outputs = [pin for pin, role in enumerate(candidate.roles, 1) if role.is_output]
    failures = 0
    for pattern in played(candidate, frozenset(box.pins), longest=None):
        (seen,) = box.play([pattern], outputs)
        lead(follower, pattern)
        says = follower.says()
        failures += sum(chance(one, says[pin]) < 0.1 for pin, one in seen.items())
    return failures


def _walked(mine: Network, theirs: Network, names: dict[str, str]) -> bool:
    rng = random.Random(5)
    a, b = Machine(mine), Machine(theirs)
    levels: dict[str, bool | None] = {name: None if name in theirs.drivers else False for name in theirs.inputs}
    for step in range(-len(levels), STEPS):
        if step < 0:
            name = list(levels)[step]
        else:
            if step % 50 == 0:
                share, favourite = rng.choice((0.2, 0.5, 0.8, 0.95)), rng.choice(list(levels))
            name = favourite if rng.random() < 0.6 else rng.choice(list(levels))
            level = not levels[name] if name == favourite else rng.random() < share
            if name in theirs.drivers:                # a bus pin is driven only where the part lets go of it
                level = level if b.expect(name) is Expect.OFF else None
            else:
                for bus in set(theirs.drivers) & set(theirs.inputs):
                    b.set({bus: None})
                    levels[bus] = None
                    a.set({names[bus]: None} if names[bus] in mine.inputs else {})
            levels[name] = level
        b.set({name: levels[name]})
        if names[name] in mine.inputs:
            a.set({names[name]: levels[name]})
        for out in theirs.drivers:
            if names[out] not in mine.drivers:
                return False
            want, got = b.expect(out), a.expect(names[out])
            if want is not None and got is not want and (got is not None or step > REST):
                return False
    return True
