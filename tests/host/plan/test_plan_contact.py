"""The contact check looks at every pair of pins.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace
from itertools import combinations

import pytest

from sagbench.plan.contact import lows
from sagbench.plan.fixture import load_fixture
from sagbench.plan.seat import Seat

FIXTURE = load_fixture("bench24")


@pytest.mark.parametrize("size", FIXTURE.sizes)
def test_of_every_two_pins_one_is_held_low_while_the_other_is_pulled_up(size):
    seat = Seat(FIXTURE.positions, size)
    pins = [p for p in seat.positions if p != seat.position(size // 2)]
    held = {p: lows(FIXTURE, pins, p) for p in pins}
    assert all(b in held[a] or a in held[b] for a, b in combinations(pins, 2))
    assert all(p not in low and len(set(low)) == len(low) for p, low in held.items())
    budget = FIXTURE.raw["budget_ma"]
    assert max(map(len, held.values())) * budget["medium_short"] + max(budget["load_short"]) <= budget["total"]


def test_too_few_at_once_would_leave_pairs_out():
    few = replace(FIXTURE, raw={**FIXTURE.raw, "budget_ma": {**FIXTURE.raw["budget_ma"], "total": 60.0}})
    with pytest.raises(ValueError, match="leave out pairs of 13"):
        lows(few, list(range(1, 14)), 1)
