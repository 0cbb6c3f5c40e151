"""Solutions that are kept: a drive that comes again gives what solving it anew would.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random

import pytest

from .hands import Hands

CLOSE_V = 2e-5          # what is kept was itself found to some microvolts
LINES = {"74LS74": (1, 2, 3, 4), "74HC00": (1, 2, 4, 5), "7403": (1, 2, 4, 5)}


def walk(part: str, anew: bool, seed: int, steps: int = 80) -> tuple[list[list[float]], int]:
    """Levels on four inputs, node K and its load at random, the same states again and again; volts of all nodes after each step,
    and the rounds of Newton's method all took.  anew: whatever was kept is forgotten before each step."""
    rng, hands, seen = random.Random(seed), Hands({"part": part}), []
    hands.power("P24", "N7")
    hands.pump(0.03)
    begun = hands.bench.figures.iterations
    for _ in range(steps):
        if anew:
            hands.bench.disable_trip(False)
        position = rng.choice(LINES[part])
        rng.choice((hands.high, hands.low))(f"S{position}")
        hands.sense(rng.choice((0, 3, 6)), rng.choice((0, 1, 6)))
        hands.pump(2e-3)
        seen.append([hands.bench.node(n) for n in (*range(1, 25), "K", "VBUS", "V5")])
    return seen, hands.bench.figures.iterations - begun


@pytest.mark.parametrize("part", LINES)
def test_a_drive_that_comes_again_is_where_it_would_be_found(part: str) -> None:
    kept, quick = walk(part, False, 3)
    anew, slow = walk(part, True, 3)
    assert max(abs(a - b) for one, other in zip(kept, anew, strict=True) for a, b in zip(one, other, strict=True)) < CLOSE_V
    assert quick < 0.7 * slow                # some of the states are new in so short a walk


def one_input_low() -> tuple[Hands, float]:
    """A powered 7400 with pin 1 low, and that pin's volts."""
    hands = Hands({"part": "7400"})
    hands.power("P24", "N7")
    hands.pump(0.03)
    hands.low("S1")
    return hands, hands.volts(1)


def test_other_values_of_the_parts_are_no_longer_those_kept() -> None:
    """The same drive with a broken channel, and mended again."""
    hands, before = one_input_low()
    hands.bench.break_("R101=open")
    assert abs(hands.volts(1) - before) > 0.5
    hands.bench.mend("R101")
    assert abs(hands.volts(1) - before) < CLOSE_V


def test_a_chip_in_the_place_of_another_is_asked_itself() -> None:
    hands, before = one_input_low()
    hands.bench.insert({"part": "74LS00"})
    hands.pump(2e-3)
    assert hands.volts(1) < before - 0.05
