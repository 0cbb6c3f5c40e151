"""Which fixtures take a part, as `parts show` says it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from sagbench.cli.parts.seating import refusals, unfit, where
from sagbench.parts import load_part


@pytest.mark.parametrize(("marking", "says"), [
    ("7400", ""),
    ("7490", ""),                                        # 5 V at pin 5, ground at pin 10: both builds have switches there
    ("74LS244", "It can be swept in bench24; not in bench16: it has 20 pins, and the socket takes 16."),
    ("7473", "not in bench16: this fixture cannot power a 7473: it has no switches for pin 4 (VCC), pin 11 (GND)."),
])
def test_fixtures_that_cannot_take_it_are_named(marking: str, says: str) -> None:
    part = load_part(marking)
    assert unfit(part) == ""
    assert says in where(part)
    assert bool(says) == bool(where(part))
    assert set(refusals(part)) == {"bench16", "bench24"}


@pytest.mark.parametrize("marking", ["4051", "4052", "74HC4053"])
def test_a_part_that_no_fixture_can_power_says_why(marking: str) -> None:
    """VEE is a second ground, and both builds close one ground switch: the reason is the number, not where they are."""
    assert unfit(load_part(marking)).endswith("it switches one ground pin, not pin 7 (VEE), pin 8 (VSS)")
