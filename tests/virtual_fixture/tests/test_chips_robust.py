"""No chip, sound or not, leaves the fixture's network without a solution.

What is hard: a CMOS chip left alone after power, on leakages of microamperes, its own
supply fed through its inputs and its channels half on.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from typing import Any

import pytest

from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.families import every_name
from virtual_fixture.chips.population import population

from .hands import Hands
from .test_chips_in_fixture import seated, shake, switches


def drop(hands: Hands, part: Any, on: list[str], rng: random.Random) -> None:
    """Power with random inputs, then everything off, GND or another pin raised: the contact look."""
    for position in range(1, 25):
        rng.choice([hands.high, hands.low, hands.off])(f"M{position}")
    hands.power(*on)
    hands.pump(5e-3)
    for position in range(1, 25):
        hands.off(f"M{position}")
    hands.power()
    hands.bench.run(rng.choice([2e-6, 200e-6, 20e-3]))
    raised = rng.randrange(1, 25)
    rng.choice([hands.high, hands.pull_up])(f"M{raised}")
    hands.low("LD")
    for position in rng.sample(range(1, 25), 6):
        hands.sense(position, rng.choice([1, 2, 7]))
        hands.bench.run(100e-6)
    hands.sense(0)
    hands.off(f"M{raised}")


CMOS = [n if len(n) == 4 else f"74{f}{n}" for f in ("HC", "HCT") for n in sorted(PARTS)
        if not PARTS[n].families and (len(n) < 4 or f == "HC")]
CMOS += [name for key, family, name in every_name() if PARTS[key].families and family in ("HC", "HCT", "4000")]


@pytest.mark.parametrize("share", range(4))
def test_cmos_left_alone_after_power(share: int) -> None:
    for k, name in enumerate(CMOS):
        if k % 8 != share:
            continue
        rng = random.Random(f"{name} {share}")
        hands, chip = seated({"part": name}, k)
        on = switches(hands, chip)
        for _ in range(3):
            drop(hands, chip.description.behaviour, on, rng)
        assert hands.bench.figures.unsolved == 0, name
        hands.bench.close()


@pytest.mark.parametrize("drawer", range(3))
def test_a_drawer_of_chips_shaken(drawer: int) -> None:
    """Sound and bad chips of all families, random drives with and without power."""
    for k, (description, seed) in enumerate(population(500 + drawer, 22)):
        hands, chip = seated(description, seed)
        if all(chip.positions[p] for p in (chip.pin("VCC"), chip.pin("GND"))):
            shake(hands, chip, random.Random(k), 48)
        assert hands.bench.figures.unsolved == 0, (description, seed)
        hands.bench.close()
