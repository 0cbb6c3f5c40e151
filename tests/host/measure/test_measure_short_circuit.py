"""IOS from load points: a saturated pull-up is a straight line, one with a knee among the points is said with a doubt.

The lines are those of a totem-pole output (common practice): a follower, flat until its collector resistor has used up what
it has, then that resistor.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import pytest

from sagbench.measure.bend import Point
from sagbench.measure.outputs import short_circuit
from sagbench.measure.uncertain import exact, standard, uncertain, value
from sagbench.record import Quantity

KNEE_A, FLAT_OHM, STEEP_OHM, OPEN_V = 14.5e-3, 45.0, 84.0, 3.4


def volts(amperes: float, knee_a: float) -> float:
    """The output's level while it delivers so much."""
    return OPEN_V - FLAT_OHM * min(amperes, knee_a) - STEEP_OHM * max(0.0, amperes - knee_a)


def points(*amperes: float, knee_a: float) -> list[Point]:
    return [Point(f"{a}", exact(volts(a, knee_a)) + uncertain(0.0, 0.004, f"reading {a}"), exact(a)) for a in amperes]


def true_ios(knee_a: float) -> float:
    return knee_a + (OPEN_V - FLAT_OHM * knee_a) / STEEP_OHM


@pytest.mark.parametrize("knee_a", [12e-3, 14e-3, KNEE_A])
def test_a_knee_between_the_points_is_covered(knee_a: float) -> None:
    """Three points as the fixture takes them; the lighter two alone would say 70 mA for 45. A knee beyond them is not seen."""
    found = short_circuit(points(10e-3, 14e-3, 17e-3, knee_a=knee_a))
    assert found
    assert abs(-value(found.number) - true_ios(knee_a)) <= 2 * standard(found.number)
    assert -value(found.number) < 0.85 * value(points(10e-3, knee_a=1)[0].volts) / FLAT_OHM


def test_a_saturated_pull_up_is_sure() -> None:
    """All points on the resistor's line: no doubt is added."""
    found = short_circuit(points(10e-3, 14e-3, 24e-3, knee_a=5e-3))
    assert found
    assert -value(found.number) == pytest.approx(true_ios(5e-3), rel=0.01)
    assert standard(found.number) < 0.05 * true_ios(5e-3)


SUPPLY_V, RESISTOR_OHM, JUNCTIONS_V = 4.8, 115.0, 0.85


def follower(amperes: float) -> float:
    """A plain totem pole: 2.95 V less 50 ohm (base resistor over gain) until 115 ohm leave 0.85 V between supply and output."""
    return min(2.95 - 50 * amperes, SUPPLY_V - JUNCTIONS_V - RESISTOR_OHM * amperes)


@pytest.mark.parametrize("heaviest_a", [11e-3, 13e-3, 15e-3, 16.5e-3])
def test_a_knee_behind_the_heaviest_point_is_seen_by_the_supply(heaviest_a: float) -> None:
    """The knee is at 15.4 mA: points before promise 59 mA for 34, and what the supply leaves for a resistor says so."""
    assert follower(15e-3) == pytest.approx(2.2) and follower(0.0343) == pytest.approx(0.0, abs=0.01)
    line = [Point(f"{a}", exact(follower(a)) + uncertain(0.0, 0.004, f"reading {a}"), exact(a))
            for a in (0.6 * heaviest_a, 0.8 * heaviest_a, heaviest_a)]  # fmt: skip
    found, unseen = short_circuit(line, SUPPLY_V, "74"), short_circuit(line)
    assert found and unseen
    assert abs(-value(found.number) - (SUPPLY_V - JUNCTIONS_V) / RESISTOR_OHM) <= 2 * standard(found.number)
    if heaviest_a < 15.4e-3:
        assert -value(unseen.number) > 50e-3


def test_a_saturated_pull_up_stays_sure_when_the_supply_is_known() -> None:
    line = [Point(f"{a}", exact(3.9 - 65 * a) + uncertain(0.0, 0.004, f"reading {a}"), exact(a)) for a in (11e-3, 15e-3, 19e-3)]
    sure, told = short_circuit(line), short_circuit(line, 4.86)
    assert sure and told and standard(sure.number) == standard(told.number)


def test_a_line_that_ends_as_a_darlingtons_is_told_apart_by_the_family() -> None:
    """1.6 V below the supply ends a saturated Darlington (two junctions, one transistor), or a single follower that is not."""
    line = [Point(f"{a}", exact(3.26 - 50 * a) + uncertain(0.0, 0.004, f"reading {a}"), exact(a)) for a in (11e-3, 15e-3, 19e-3)]
    darlington, single = short_circuit(line, 4.86, "LS"), short_circuit(line, 4.86, "74")
    assert darlington and single
    assert standard(darlington.number) < 0.05 * -value(darlington.number)
    assert -value(single.number) < 0.9 * -value(darlington.number) and standard(single.number) > 2 * standard(darlington.number)


@pytest.mark.parametrize("supply", [None, 5.0])
def test_it_is_the_current_at_no_volts_and_says_that_it_was_prolonged(supply: float | None) -> None:
    found = short_circuit(points(10e-3, 14e-3, 24e-3, knee_a=5e-3), supply)
    assert found and found.at == Quantity(0.0, 0.0, "V") and found.how == "extrapolated"
    assert value(found.number) == pytest.approx(-true_ios(5e-3), rel=1e-6)


def test_points_too_near_to_each_other_tell_nothing() -> None:
    assert short_circuit(points(10e-3, knee_a=5e-3)) is None and short_circuit([]) is None
    assert short_circuit(points(10e-3, 10.1e-3, knee_a=5e-3)) is None                    # a tenth of a milliampere
    level = [Point(str(a), exact(3.0 - v), exact(a)) for a, v in ((10e-3, 0.0), (14e-3, 0.04))]
    assert short_circuit(level) is None                                                  # 40 mV are no slope
