# SPDX-License-Identifier: GPL-3.0-or-later
"""Claims of the room `replace` on chips that were written from data books and never from the library: the virtual ones.

Parts that are called the same must answer the same on the pins the claim wires together; parts that are called different must differ.
"""
from __future__ import annotations

import random
from collections.abc import Iterator
from functools import cache

import pytest

from sagbench.parts import Part
from sagbench.parts.lookup import LIBRARY, load_file, load_part
from sagbench.replace import Fit, Place, replacements
from virtual_fixture.chips.behaviour import OFF, PARTS
from virtual_fixture.chips.chip import POWER_UP, Logic

STEPS, COPIES = 200, 3


class Chip:
    """The logic of a virtual chip by pin numbers, in copies that powered up differently: a level counts if all agree."""

    def __init__(self, number: str, seed: int) -> None:
        self.kind = PARTS[number]
        self.copies = [Logic(self.kind(random.Random(seed + copy))) for copy in range(COPIES)]
        self.powered = sum(1 << self.kind.pin(name) for name in self.kind.supplies.split())
        for logic in self.copies:
            logic(self.powered, POWER_UP, 0.0)

    def apply(self, mask: int) -> dict[int, int | None]:
        """Output pin -> level, OFF, or None if it is not known; further supply pins, levels to the logic, are high."""
        results = [logic(mask | self.powered, 0, 0.0) for logic in self.copies]
        assert not any(logic.error for logic in self.copies)
        seen = {pin: {OFF if result >> (32 + pin) & 1 else result >> pin & 1 for result in results} for pin in self.copies[0].bits.values()}
        return {pin: levels.pop() if len(levels) == 1 else None for pin, levels in seen.items()}


def levels(part: Part, seed: int) -> Iterator[int]:
    """Masks of input levels: random ones, a pin at a time, then those of the part's own logic test, which reaches its far states."""
    chance, inputs = random.Random(seed), sorted(pin.number for pin in part.inputs)
    mask = sum(1 << pin for pin in inputs if chance.random() < 0.5)
    for _ in range(STEPS):
        yield mask
        mask ^= 1 << chance.choice(inputs)
    for step in part.sequence:
        for pin, level in step.set.items():
            mask = mask | 1 << pin if level else mask & ~(1 << pin)
        yield mask


def unlike(part: Part, other: str, wiring: dict[int, int], pulled_up: bool, seed: int) -> bool:
    """True if the second chip, wired in, answers otherwise at some step."""
    first, second = Chip(function(part.name), seed), Chip(other, seed + 100)
    inputs = sorted(first.copies[0].inputs)
    for mask in levels(part, seed):
        there = sum(1 << wiring[pin] for pin in inputs if mask >> pin & 1)
        answers = second.apply(there)
        for pin, level in first.apply(mask).items():
            got = answers[wiring[pin]]
            if pulled_up:
                level, got = (1 if x == OFF else x for x in (level, got))
            if level is not None and got is not None and level != got:
                return True
    return False


@cache
def claims(name: str) -> tuple[Fit, ...]:
    part, every = load_part(name), [load_file(path) for path in LIBRARY.glob("*.toml")]
    return replacements(part, load_file(LIBRARY / f"{part.function}.toml"), every, Place())[1]


@cache
def function(name: str) -> str:
    """The number that a type name has in the table of virtual chips."""
    bare = name.rstrip("ABCU") if name[:2] not in ("54", "74") else name[2:].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ").rstrip("ABC")
    return bare if bare in PARTS else ""


def outputs(number: str) -> set[int]:
    """Output pins of a virtual chip."""
    return set(Chip(number, 0).copies[0].bits.values())


CHIPS = ["7400", "7402", "7404", "7407", "7420", "7474", "7486", "74LS107", "74LS125", "74LS151", "74LS157", "74LS161A", "74160",
         "74LS163A", "74LS174", "74LS240", "74LS244", "74LS257B", "74LS273", "74LS373", "74LS374", "74190", "74192", "74155",
         "4011", "4013", "4070"]


@pytest.mark.parametrize("part", CHIPS)
def test_claims_hold_on_chips_of_another_hand(part):
    number, tried = function(part), set()
    for fit in claims(part):
        other = function(fit.part.name)
        if not other or other == number or other in tried or fit.match is None:
            continue
        wiring = dict(fit.match.wiring)
        if not {wiring[pin] for pin in outputs(number)} <= outputs(other):
            assert len(load_file(LIBRARY / f"{other}.toml").pinouts) > 1, (part, fit.part.name)
            continue                             # a family with pins of its own, which the virtual chip does not have
        tried.add(other)
        otherwise = [d for d in fit.differences if d.kind == "logic"]
        pulled_up = any(d.kind == "stage" for d in fit.differences)
        seen = [unlike(load_part(part), other, wiring, pulled_up, seed) for seed in range(2)]
        if otherwise:
            assert any(seen), (part, fit.part.name, fit.differences)
        else:
            assert not any(seen), (part, fit.part.name, fit.differences)
    assert tried


def test_something_was_held_against_something():
    pairs = {(function(part), function(fit.part.name)) for part in CHIPS for fit in claims(part)
             if function(fit.part.name) not in ("", function(part))}
    assert len(pairs) > 60
