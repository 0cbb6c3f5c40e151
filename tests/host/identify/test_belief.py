"""Bayes' rule over hand-made hypotheses.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from math import isclose

import pytest

from sagbench.identify.belief import BAD_SHARES, KINDS, OTHER_SHARES, Belief, Seen, chance
from sagbench.identify.follow import Says

LEVEL = {True: (Seen.HIGH, Says.HIGH), False: (Seen.LOW, Says.LOW)}


def gates(looks: int, dead: dict[int, Seen] | None = None, seed: int = 1, pins: int = 4) -> Belief:
    """A chip of so many two-input NANDs: against NANDs, NORs, and what does nothing of the kind."""
    rng = random.Random(seed)
    belief = Belief(["nand", "nor", "xor"])
    for _ in range(looks):
        seen, says = {}, {"nand": {}, "nor": {}, "xor": {}}
        for pin in range(pins):
            a, b = rng.random() < 0.5, rng.random() < 0.5
            seen[pin] = (dead or {}).get(pin, LEVEL[not (a and b)][0])
            for name, level in (("nand", not (a and b)), ("nor", not (a or b)), ("xor", a != b)):
                says[name][pin] = LEVEL[level][1]
        belief.learn(seen, says)
    return belief


def test_probabilities_add_up_to_one() -> None:
    for looks in (1, 3, 30):
        weights, none = gates(looks).weights()
        assert isclose(sum(weights.values()) + none, 1.0)
    assert isclose(sum(BAD_SHARES), 1.0) and isclose(sum(OTHER_SHARES), 1.0)


def test_chances_of_what_can_be_seen_add_up_to_one() -> None:
    for said in Says:
        for outcomes in ((Seen.FOLLOWS_LOW, Seen.HOLDS_HIGH), (Seen.FOLLOWS_HIGH, Seen.HOLDS_LOW), (Seen.LOW, Seen.HIGH, Seen.OFF)):
            assert isclose(sum(chance(seen, said) for seen in outcomes), 1.0), (said, outcomes)


def test_the_truth_wins() -> None:
    weights, none = gates(30).weights()
    assert weights["nand"] > 0.99 and none < 0.01


@pytest.mark.parametrize("stuck", [Seen.LOW, Seen.HIGH, Seen.OFF])
@pytest.mark.parametrize("looks", [30, 3000])
def test_one_dead_output_cannot_kill_the_truth_however_long_one_looks(stuck: Seen, looks: int) -> None:
    belief = gates(looks, {2: stuck})
    weights, _ = belief.weights()
    assert weights["nand"] > 0.9
    assert belief.bad_pins("nand") == (2,)


def test_where_most_outputs_contradict_it_is_none_of_these() -> None:
    rng = random.Random(5)
    belief = Belief(["nand", "nor"])
    for _ in range(60):
        levels = [rng.random() < 0.5 for _ in range(4)]
        says = {name: {pin: LEVEL[rng.random() < 0.5][1] for pin in range(4)} for name in ("nand", "nor")}
        belief.learn({pin: LEVEL[level][0] for pin, level in enumerate(levels)}, says)
    assert belief.weights()[1] > 0.99


def test_a_level_left_open_costs_once_not_each_time() -> None:
    """A monostable at rest, of which the candidate does not know it, against one that says the opposite."""
    belief = Belief(["open", "wrong", "right"])
    for _ in range(500):
        belief.learn({1: Seen.LOW}, {"open": {1: Says.UNKNOWN}, "wrong": {1: Says.HIGH}, "right": {1: Says.LOW}})
    weights, _ = belief.weights()
    assert weights["right"] > weights["open"] > weights["wrong"]
    assert weights["open"] > 0.05


def test_what_is_dropped_keeps_its_odds() -> None:
    belief = gates(2, pins=1)
    before, _ = belief.weights()
    belief.drop(["nor"])
    for _ in range(50):
        belief.learn({0: Seen.HIGH}, {"nand": {0: Says.UNKNOWN}, "xor": {0: Says.UNKNOWN}})
    after, _ = belief.weights()
    best = max(("nand", "xor"), key=lambda k: after[k])
    assert isclose(after["nor"] / after[best], before["nor"] / max(before["nand"], before["xor"]), rel_tol=1e-6)


def test_kinds_have_their_shares() -> None:
    assert len(BAD_SHARES) == len(OTHER_SHARES) == len(KINDS) + 1
