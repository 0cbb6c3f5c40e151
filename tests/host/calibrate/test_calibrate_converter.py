"""The converter's curve from a ramp.

SPDX-License-Identifier: MIT
"""

from math import sin

import pytest

from sagbench.calibrate import converter, plan
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import pair

FIXTURE = load_fixture("bench24")


def ramp(off):
    """Readings of a ramp whose codes are off by a function of the code, rounded as sums of whole codes are."""
    shots = plan.Shots()
    converter.ramp(shots)
    sums = [
        round((int(mark.label.split()[1]) + off(int(mark.label.split()[1]))) * mark.repeats)
        for mark in shots.recipe.marks
    ]
    return pair(shots.recipe.marks, sums)


def test_a_curve_is_found_but_for_its_constant():
    found = converter.curve(FIXTURE, ramp(lambda code: 0.7 * sin(code / 150) + code * 0.0004 + 2.0))
    for code in (30, 200, 500, 777, 1000):
        expected = 0.7 * sin(code / 150) + code * 0.0004
        assert found.at(code) - found.at(512) == pytest.approx(
            expected - (0.7 * sin(512 / 150) + 512 * 0.0004), abs=0.04
        )
    assert found.u < 0.1


def test_what_belongs_to_single_codes_is_left_over_and_said():
    smooth = converter.curve(FIXTURE, ramp(lambda code: 0.0))
    rough = converter.curve(FIXTURE, ramp(lambda code: 0.4 if code // 6 % 2 else -0.4))
    assert rough.u > 0.35 > 0.1 > smooth.u


def test_a_straight_converter_needs_no_correction():
    found = converter.curve(FIXTURE, ramp(lambda code: -1.3))
    assert max(map(abs, found.knots)) < 0.02


def test_beyond_the_ends_the_curve_stays():
    found = converter.curve(FIXTURE, ramp(lambda code: code / 1000))
    assert found.at(-5) == found.at(0) and found.at(1023.9) == pytest.approx(found.at(1023), abs=1e-3)


def test_a_ramp_with_a_hole_is_refused():
    readings = ramp(lambda code: 0.0)
    broken = pair([r.mark for r in readings.all], [r.total for r in readings.all][:-1])
    with pytest.raises(ValueError, match="ramp"):
        converter.curve(FIXTURE, broken)


def test_the_level_drive_bends_by_what_its_pin_may_differ():
    """By hand: two pins' resistances, 20..40 ohm (sigma 4.4 each), in 10 kohm: a quarter of it at half the supply."""
    assert converter.bow_sigma(FIXTURE) == pytest.approx(4.4 * 2**0.5 / 10000 / 4 * 1024, rel=0.02)
