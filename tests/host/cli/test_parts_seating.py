"""Which fixtures take a part, as `parts show` says it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from dataclasses import replace

import pytest

from sagbench.cli.parts.seating import refusals, unfit, where
from sagbench.parts import load_part
from sagbench.parts.model import Role


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
def test_a_second_ground_of_a_cmos_part_is_no_hindrance(marking: str) -> None:
    """VEE: a line holds it low (plan/drive.py), and the one ground switch that closes is that of VSS."""
    assert refusals(load_part(marking)) == {"bench16": "", "bench24": ""}


def test_a_part_that_no_fixture_can_power_says_why() -> None:
    """A bipolar chip's current comes back by its ground: both builds close one ground switch."""
    part = load_part("7400")
    two = replace(part, pins=tuple(replace(p, role=Role.GROUND) if p.number == 1 else p for p in part.pins))
    assert unfit(two).endswith("it switches one ground pin, not pin 1 (1A), pin 7 (GND)")
