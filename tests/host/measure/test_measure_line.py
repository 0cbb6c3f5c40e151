"""Load lines: values at rated currents.  Lines of the 7400 and LS00 are those of textbook transistor models in ngspice
(4k/1.6k/1k/130; 20k/8k/120 with squaring network), run with the fixture's loads; see the figures beside each.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace
from math import exp, log, sqrt

import pytest

from sagbench.measure.line import How, Line, Point, at_rated, resistance
from sagbench.measure.uncertain import standard, uncertain, value

U_V, U_A = 0.001, 0.02  # standard uncertainties: 1 mV, 2 % of the current


def line(*points, up=True, unloaded=None):
    """Points as (milliamperes, volts)."""
    return Line(
        3,
        up,
        tuple(
            Point(f"p{i}", uncertain(v, U_V), uncertain(ma / 1e3, U_A * ma / 1e3)) for i, (ma, v) in enumerate(points)
        ),
        None if unloaded is None else uncertain(unloaded, U_V),
    )


SPICE_7400 = ((0.56, 0.047), (8.3, 0.140), (16.1, 0.219), (23.9, 0.293))
SPICE_LS00 = ((0.56, 0.317), (7.9, 0.390), (15.3, 0.447), (18.3, 1.384))
WEAK_7400 = ((0.56, 0.048), (8.3, 0.160), (14.2, 0.779), (15.0, 2.134))  # output transistor's gain down to 6


def test_a_point_at_the_rated_current_stands_for_it():
    found = at_rated(line(*SPICE_7400), 0.016)
    assert found.how is How.AT and value(found.volts) == pytest.approx(0.219)
    # 2 % of 16.1 mA along 9.5 ohm: 3.1 mV besides the 1 mV of the reading
    assert standard(found.volts) == pytest.approx((0.0031**2 + 0.001**2) ** 0.5, rel=0.1)


def test_between_points_the_logarithm_of_a_junction_is_followed():
    """LS00 at 4 mA: spice gives 362 mV, where the straight line has 351 and a logarithm through three points 357."""
    found = at_rated(line(*SPICE_LS00), 0.004)
    assert found.how is How.BETWEEN and value(found.volts) == pytest.approx(0.357, abs=0.001)
    assert abs(value(found.volts) - 0.362) <= 2 * standard(found.volts) <= 0.006


def triode(volts):
    """Amperes of a channel (any textbook): k (2 W V - V^2), W = 3.9 V, k = 7.8 mA/V^2: 16.4 ohm at no load."""
    return 7.8e-3 * (2 * 3.9 * volts - volts * volts)


def test_between_points_the_square_of_a_channel_is_followed():
    points = [(1e3 * triode(v), v) for v in (0.009, 0.14, 0.28)]
    at_4 = 3.9 - sqrt(3.9**2 - 4.0 / 7.8)
    found = at_rated(line(*points), 0.004)
    assert value(found.volts) == pytest.approx(at_4, abs=5e-5)


def test_a_channels_square_does_not_hang_on_how_well_the_lightest_point_was_read():
    """The weak point 4 mV off: 4 mV of 32 ohm's half way there, and no more for the bend."""
    points = [(1e3 * triode(v) / 2, v) for v in (0.003, 0.035, 0.5)]  # 33 ohm
    at_4 = 3.9 - sqrt(3.9**2 - 8.0 / 7.8)
    wrong = [points[0], (points[1][0], points[1][1] + 0.004), points[2]]
    for given, within in ((points, 0.0005), (wrong, 0.0035)):
        made = replace(line(*given), channel=True)
        assert value(at_rated(made, 0.004).volts) == pytest.approx(at_4, abs=within)


def test_a_follower_is_its_junctions_logarithm_between_a_light_and_a_heavy_load():
    """A bus driver, textbook Darlington of 2 x 26 mV: 3.452 V at 0.41 mA, V = 3.452 - 0.0546 ln(I / 0.41 mA).

    Whether one junction begins or two cannot be seen, for a resistor carries the lightest load.
    """
    high = line((0.04, 4.038), (0.409, 3.452), (5.61, 3.309), (10.4, 3.24), up=False)
    found = at_rated(high, 0.003)
    assert abs(value(found.volts) - (3.452 - 0.0546 * log(3 / 0.409))) < 2 * standard(found.volts)
    # The next point shows that there is no knee; how much of 0.41 mA the second transistor has is not seen: 35 mV, of 143 in all.
    assert 0.005 < 2 * standard(found.volts) < 0.035


def test_a_saturated_pull_up_is_straight_behind_the_kink():
    """Collector resistor of 115 ohm from 3.116 V at 5.28 mA: at 4 mA 148 mV above, and below the logarithm.

    That it is saturated there is shown by the two stretches behind, which are alike; without them it may not be.
    """
    high = line((0.04, 4.056), (0.41, 3.462), (5.282, 3.116), up=False)
    beyond = line((8.967, 2.69), (11.9, 2.351), up=False).points
    found = at_rated(high, 0.004, beyond=beyond)
    # Were little of 0.41 mA the second transistor's, its logarithm would be 20 mV from the line there, and round the corner by 10.
    assert value(found.volts) == pytest.approx(3.116 + 1.282e-3 * 115.6, abs=0.006)
    assert standard(at_rated(high, 0.004).volts) > 2 * standard(found.volts)


def test_an_output_far_below_a_followers_level_hangs_on_a_resistor():
    low = line((0.26, 2.19), (0.9, 0.5), up=False)
    assert value(at_rated(low, 0.0004).volts) == pytest.approx(2.19 - 0.14 * 1.69 / 0.64, abs=1e-6)


def test_across_a_cliff_nothing_is_certain():
    found = at_rated(line((0.55, 0.31), (6.9, 0.86), (7.1, 2.81)), 0.004)
    assert found is None or 2 * standard(found.volts) > 0.2


def test_a_sourcing_bipolar_output_is_read_at_the_harder_point_for_the_knee_forbids_interpolation():
    """7400 high: 4.556 V without load, 3.524 V at 0.43 mA; a straight line between them is 64 mV wrong at 0.4 mA."""
    high = line((0.047, 4.1), (0.43, 3.524), (5.4, 3.162), up=False)
    found = at_rated(high, 0.0004, knee=True)
    assert (
        found.how is How.AT
        and value(found.volts) == pytest.approx(3.524)
        and value(found.amperes) == pytest.approx(0.43e-3)
    )


def test_beyond_the_heaviest_point_it_is_said_to_be_extrapolated():
    found = at_rated(line((0.56, 0.31), (15.0, 0.36), (22.3, 0.385)), 0.024)
    assert found.how is How.BEYOND and value(found.volts) == pytest.approx(0.385 + 1.7e-3 * 0.025 / 7.3e-3, abs=0.001)


def test_far_beyond_the_heaviest_point_there_is_no_value():
    assert at_rated(line((15.0, 0.36), (22.3, 0.385)), 0.048) is None
    assert at_rated(line(), 0.016) is None


def test_rated_at_next_to_nothing_is_the_unloaded_level():
    found = at_rated(line((0.05, 0.02), (0.56, 0.3), unloaded=0.001), 1e-6)
    assert value(found.volts) == pytest.approx(0.001)


def test_the_weak_7400_never_reaches_its_rated_current():
    """14.2 mA at 0.78 V, 15.0 mA at 2.1 V; the caller must not take a tame figure from it."""
    found = at_rated(line(*WEAK_7400), 0.016)
    assert found.how is How.BEYOND and value(found.volts) > 2.1


def test_resistance_is_the_slope_near_the_rated_current_and_positive_both_ways():
    assert value(resistance(line(*SPICE_7400), 0.016)) == pytest.approx((0.293 - 0.219) / 7.8e-3)
    high = line((0.43, 3.5), (0.9, 3.4), (5.4, 3.1), up=False)  # 0.4 mA rated: the last point is far beyond
    assert value(resistance(high, 0.0004)) == pytest.approx(100 / 0.47)
    assert resistance(line((0.43, 3.5)), 0.0004) is None


def test_a_level_that_is_lost_is_no_part_of_the_resistance():
    assert value(resistance(line(*SPICE_LS00), 0.008)) == pytest.approx((0.447 - 0.390) / 7.4e-3)


def saturated(amperes, knee_a):
    """Volts of a saturated output of 20 ohm and 0.1 mA (Ebers and Moll, any textbook), that gives no more behind a knee."""
    return 0.0267 * log(1 + amperes / 1e-4) + 20 * amperes + 400 * max(0.0, amperes - knee_a)


def low_power(knee_a, exact_off=0.0):
    """The points that a 74L output is read at, the calibration reference's 3.8 mA with 4 mV of doubt."""
    points = [Point(name, uncertain(saturated(i, knee_a) + (name == "exact") * exact_off, 0.004 if name == "exact" else U_V),
                    uncertain(i, U_A * i / 10)) for name, i in (("weak", 0.59e-3), ("exact", 3.8e-3), ("medium", 7.5e-3))]  # fmt: skip
    return Line(3, True, tuple(points), uncertain(0.0, U_V))


@pytest.mark.parametrize("knee_ma", [6.6, 6.9, 7.2, 99.0])
@pytest.mark.parametrize("off", [-0.006, 0.0, 0.006])
def test_where_the_gain_ends_behind_the_rated_current_the_curve_is_not_drawn_through_the_knee(knee_ma, off):
    """Without the point at 3.8 mA the curve through no load, 0.6 and 7.5 mA takes the knee for a resistance: 50 mV too much."""
    line_of = low_power(knee_ma / 1e3, off)
    found = at_rated(line_of, 0.0036)
    at = saturated(value(found.amperes), 1.0)
    assert abs(value(found.volts) - at) < 2 * standard(found.volts) < 0.02
    low = [p for p in line_of.points if p.name != "exact"]
    if knee_ma < 7:
        assert value(at_rated(replace(line_of, points=tuple(low)), 0.0036).volts) > at + 0.03


def test_resistance_is_not_read_on_a_cliff():
    """There the level hangs on a current that is not known so well; 20 ohm and the junction's logarithm are below it."""
    a, b = 0.59e-3, 3.8e-3
    slope = (saturated(b, 1.0) - saturated(a, 1.0)) / (b - a)
    assert value(resistance(low_power(6.6e-3), 0.0036)) == pytest.approx(slope, rel=1e-6)
    straight_on = low_power(1.0, 0.001)
    assert value(resistance(straight_on, 0.0036)) == pytest.approx((saturated(7.5e-3, 1) - saturated(a, 1)) / (7.5e-3 - a))
    # An LS output (rated 8 mA) that begins to give way before the strong load: 12 ohm behind 10.6
    assert value(resistance(line((0.551, 0.3126), (7.756, 0.3892), (14.94, 0.4759)), 0.008)) == pytest.approx(10.63, abs=0.01)


def test_a_follower_or_channel_that_becomes_steeper_is_read_at_its_heaviest_points():
    steeper = ((0.5, 0.01), (4.0, 0.1), (8.0, 0.22))
    assert value(resistance(replace(line(*steeper), channel=True), 0.004)) == pytest.approx(30)


def darlington(amperes, ohm=2000.0, size_a=4e-16):
    """Volts of an LS or ALS pull-up without its collector's resistor (any textbook): a follower, and a second one at its emitter,
    with a resistor from there to the output, which carries the current until 0.7 V fall over it."""
    low, high = 0.0, min(0.9, amperes * ohm)
    for _ in range(60):
        over = (low + high) / 2
        low, high = (over, high) if over / ohm + size_a * (exp(over / 0.0267) - 1) < amperes else (low, over)
    return 4.4 - 0.0267 * log(amperes / 1e-6) - low


@pytest.mark.parametrize("ohm", [2200.0, 2400.0, 3000.0, 4000.0])
def test_a_darlington_whose_second_transistor_is_just_on_falls_faster_than_by_its_junctions(ohm):
    """Rated at 0.4 mA, weak load 0.34 mA: two junctions' logarithm promises 8 mV, the textbook circuit falls by up to 25."""
    points = [(i, darlington(i / 1e3, ohm)) for i in (0.04, 0.34, 2.1, 4.6)]
    found = at_rated(line(*points, up=False), 0.0004)
    doubt = sqrt(standard(found.volts) ** 2 - U_V**2)      # the reading's own apart
    assert abs(value(found.volts) - darlington(0.4e-3, ohm)) < 2 * doubt + 0.001 < 0.025
