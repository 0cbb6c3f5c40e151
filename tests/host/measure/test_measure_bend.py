"""What a curve adds to a straight line, against curves whose equations are known: points are taken from the device's equation
(Ebers and Moll, the square of a channel; any textbook), and the equation, worked out by itself here, says what lies between.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace
from math import log, sqrt

import pytest

from sagbench.measure import bend as b
from sagbench.measure.bend import KT_Q, Bend, Line, Point, bend, by_three
from sagbench.measure.uncertain import uncertain


def points(curve, *currents, u=0.0):
    """Points of a curve at these amperes."""
    return tuple(Point(f"p{n}", uncertain(curve(i), u), uncertain(i, 0.0)) for n, i in enumerate(currents))


def off_chord(curve, a, c, at):
    """How far a curve is from its chord."""
    return curve(at) - curve(a) - (curve(c) - curve(a)) * (at - a) / (c - a)


@pytest.mark.parametrize(("i0", "ohm", "w"), [(1e-5, 8.0, KT_Q), (1e-3, 15.0, KT_Q), (1e-4, 3.0, 0.0257)])
@pytest.mark.parametrize("at", [5e-3, 9e-3, 14e-3])
def test_three_points_of_a_saturated_transistor_tell_its_curve(i0, ohm, w, at):
    def curve(i):
        return 0.02 + w * log(1 + i / i0) + ohm * i
    three = tuple((i, curve(i)) for i in (0.5e-3, 4e-3, 15e-3))
    assert b._saturated(three, at, w) == pytest.approx(off_chord(curve, 4e-3, 15e-3, at), abs=1e-7)
    assert b._saturated(three, at / 4, w, chord=0) == pytest.approx(off_chord(curve, 0.5e-3, 4e-3, at / 4), abs=1e-7)


@pytest.mark.parametrize("i0", [1e-4, 1e-3])
def test_where_the_points_on_both_sides_tell_the_same_curve_they_add_no_doubt(i0):
    """Of a transistor just by the equation: warmth (kT/q of 15 to 60 degC) and a tenth for its shape are left, whatever is behind."""
    def curve(i):
        return 0.02 + KT_Q * log(1 + i / i0) + 8 * i
    line = points(curve, 0.5e-3, 4e-3, 9e-3, 15e-3)
    of = Line(3, True, line, uncertain(curve(0.0), 0.0))
    there = off_chord(curve, 4e-3, 9e-3, 6e-3)
    found = bend(of, line, line[1], line[2], 6e-3)
    warmer = b._saturated(tuple((i, curve(i)) for i in (0.0, 4e-3, 9e-3)), 6e-3, KT_Q + b.KT_Q_SD) - there
    assert found.volts == pytest.approx(there, abs=1e-7) and found.sd == pytest.approx(sqrt((0.1 * there) ** 2 + warmer ** 2), rel=1e-3)
    # The point behind 3 mV higher: what both sides differ by, as likely anywhere between.
    off = (*line[:3], Point("p3", uncertain(curve(15e-3) + 0.003, 0.0), line[3].amperes))
    other = b._saturated(tuple(b._of(p) for p in off[1:]), 6e-3, chord=0)
    wide = bend(replace(of, points=off), off, off[1], off[2], 6e-3)
    assert other is not None and wide.sd == pytest.approx(sqrt(found.sd ** 2 + (other - there) ** 2 / 12), rel=1e-3)


def test_what_bends_the_other_way_or_more_than_a_junction_is_no_saturated_transistor():
    assert b._saturated(tuple((i, 10 * i + 300 * i * i) for i in (0.5e-3, 4e-3, 15e-3)), 9e-3) is None
    assert b._saturated(tuple((i, 3 * KT_Q * log(i / 1e-6)) for i in (0.5e-3, 4e-3, 15e-3)), 9e-3) is None


@pytest.mark.parametrize("shape", [log, lambda x: x * x, sqrt])
@pytest.mark.parametrize("up", [1, -1])
def test_a_curve_through_three_points_gives_back_what_it_was_made_of(shape, up):
    def curve(i):
        return 0.3 + up * (12 * i + 0.05 * shape(i))
    line = points(curve, 1e-3, 5e-3, 12e-3)
    for a, c, third in ((0, 1, 2), (1, 2, 0)):
        weight, there = b._curve(line[a], line[c], line[third], 4.4e-3 if a == 0 else 7e-3, shape)
        ends = [(1e-3, 5e-3, 4.4e-3), (5e-3, 12e-3, 7e-3)][a]
        rises = 1 if curve(ends[1]) > curve(ends[0]) else -1
        assert weight == pytest.approx(0.05 * up * rises) and there == pytest.approx(off_chord(curve, *ends), abs=1e-9)
    assert b._curve(line[0], line[1], line[0], 3e-3, shape) == (0.0, 0.0)          # no third point


def test_the_third_point_before_tells_the_logarithm_and_is_doubted_by_two_fifths():
    def curve(i):
        return 0.2 + 5 * i + 0.03 * log(i)
    line = points(curve, 1e-3, 5e-3, 12e-3)
    found = by_three(line, line[1], line[2], 8e-3)
    assert found.volts == pytest.approx(off_chord(curve, 5e-3, 12e-3, 8e-3)) and found.sd == pytest.approx(0.4 * found.volts)
    # The point behind, where there is none before.
    assert by_three(line, line[0], line[1], 3e-3).volts == pytest.approx(off_chord(curve, 1e-3, 5e-3, 3e-3))
    # Two points alone are a straight line, of which nothing more is known.
    assert by_three(line[:2], line[0], line[1], 3e-3) == Bend(0.0, 0.0)


def test_a_square_is_followed_and_doubted_by_a_tenth_or_by_what_the_thirds_disagree():
    def square(i):
        return 20 * i + 900 * i * i
    line = points(square, 4e-3, 8e-3, 12e-3, 16e-3)
    there = off_chord(square, 8e-3, 12e-3, 9e-3)
    found = by_three(line, line[1], line[2], 9e-3)
    assert found.volts == pytest.approx(there) and found.sd == pytest.approx(0.1 * abs(there))
    # The last point 30 mV higher: the square through it bends more, and the middle of both is taken.
    off = (*line[:3], Point("p3", uncertain(square(16e-3) + 0.03, 0.0), line[3].amperes))
    more = b._curve(off[1], off[2], off[3], 9e-3, lambda x: x * x)[1]
    found = by_three(off, off[1], off[2], 9e-3)
    assert found.volts == pytest.approx((there + more) / 2) and found.sd == pytest.approx(abs(more - there) / 2)


def test_across_a_cliff_all_between_the_straight_line_and_the_bound_is_as_likely():
    """10 ohm, then 100: at 7 mA the straight piece is 40 mV below the level of a prolonged, and no curve bends further than that."""
    line = points(lambda i: 10 * i + 90 * max(0.0, i - 6e-3), 2e-3, 6e-3, 10e-3)
    found = by_three(line, line[1], line[2], 7e-3)
    assert found.volts == pytest.approx((0.07 - 0.16) / 2) and found.sd == pytest.approx(0.4 * 0.09)


@pytest.mark.parametrize("up", [True, False])
def test_a_channel_is_a_square_by_its_overdrive_alone(up):
    """V = R I + R^2 I^2 / 2 W with W = 4 V, from the supply down where it sources; a quarter of it in doubt."""
    def curve(i):
        drop = 30 * i + (30 * i) ** 2 / 8
        return drop if up else 5 - drop
    line = points(curve, 1e-3, 8e-3)
    of = Line(3, up, line, channel=True)
    chord = abs(curve(8e-3) - curve(1e-3)) / 7e-3
    found = bend(of, line, line[0], line[1], 4e-3)
    wanted = chord ** 2 / 8 * (4e-3 - 1e-3) * (8e-3 - 4e-3)
    assert found.volts == pytest.approx(-wanted if up else wanted) and found.sd == pytest.approx(wanted / 4)
    assert found.volts == pytest.approx(off_chord(curve, 1e-3, 8e-3, 4e-3), rel=0.2)
    # Beyond half of its overdrive it saturates, and the square is not known any more.
    steep = points(lambda i: 300 * i if up else 5 - 300 * i, 1e-3, 8e-3)
    assert bend(replace(of, points=steep), steep, steep[0], steep[1], 4e-3) == Bend(0.0, 0.0)


@pytest.mark.parametrize("joins", [2e-4, 1e-3, 7e-3])
def test_a_second_junction_is_found_by_what_it_adds(joins):
    ia, ib = 0.5e-3, 6e-3
    rest = KT_Q * log((joins + ib) / (joins + ia))
    assert b._joining(ia, ib, rest) == pytest.approx(joins, rel=1e-6)
    assert b._joining(ia, ib, KT_Q * log(ib / ia)) is None


@pytest.mark.parametrize("plain", [False, True])
def test_the_ways_a_follower_may_go_before_its_next_point(plain):
    """It begins with a junction's logarithm at 1 mA; of the 300 mV down to 5 mA what is left is a resistance's, or a second
    junction's, or lies behind a knee (where a plain follower with a diode has its base resistor in the way)."""
    def follows(i):
        return KT_Q * log(i / 1e-3)

    line = points(lambda i: {1e-3: 3.5, 5e-3: 3.2}[i], 1e-3, 5e-3)
    at = 3e-3
    here, rest = follows(at), 0.3 - follows(5e-3)
    ways = b._ways(line, 0, at, follows, plain)
    ohm = rest / 4e-3
    assert ways == pytest.approx([-here - ohm * 2e-3, -here, *[-here - ohm * 2e-3] * plain])    # too much for a second junction
    small = points(lambda i: {1e-3: 3.5, 5e-3: 3.5 - follows(5e-3) - 0.02}[i], 1e-3, 5e-3)
    joins = b._joining(1e-3, 5e-3, 0.02)
    assert b._ways(small, 0, at, follows, False) == pytest.approx(
        [-here - 0.01, -here - KT_Q * log((joins + at) / (joins + 1e-3)), -here])
    # What falls by less than the logarithm does is in proportion to it.
    flat = points(lambda i: {1e-3: 3.5, 5e-3: 3.48}[i], 1e-3, 5e-3)
    assert b._ways(flat, 0, at, follows, plain) == pytest.approx([-0.02 * here / follows(5e-3)])


def test_two_branches_meet_round_the_corner():
    assert b._softly(-0.3, None) == -0.3
    assert b._softly(-0.3, -0.3) == pytest.approx(-0.3 - KT_Q * log(2))
    assert b._softly(-0.3, -0.9) == b._softly(-0.9, -0.3) == pytest.approx(-0.9, abs=1e-9)
    assert b._softly(-0.3, -0.32) < -0.32


@pytest.mark.parametrize(("ohms", "before", "expected"), [
    ((100.0,), 50.0, None),                    # steeper, and nothing behind it
    ((100.0, 100.0), 50.0, True),              # then straight: behind the knee
    ((100.0, 130.0), 50.0, False),             # steeper still: the knee is yet to come
    ((55.0, 55.0), 50.0, False),               # no steeper than before
    ((), 50.0, None),
])
def test_a_follower_is_saturated_where_it_was_steeper_and_then_is_straight(ohms, before, expected):
    volts, line = 3.0, []
    for n, ohm in enumerate((0.0, before, *ohms)):
        volts -= ohm * 2e-3
        line.append(Point(f"p{n}", uncertain(volts, 0.0), uncertain(n * 2e-3, 0.0)))
    assert b._saturated_at(line, 1, before) is expected


@pytest.mark.parametrize(("ohm", "has"), [(2000.0, 0.34e-3 * 0.12), (3000.0, 0.34e-3 - 0.7 / 3000), (7000.0, 0.24e-3)])
def test_of_a_darlingtons_current_the_second_transistor_has_what_its_resistor_leaves(ohm, has):
    """0.7 V over the resistor (a junction's, common practice); 0.12 of the current and more is taken to be the transistor's however small the resistor is."""
    lighter, a = points(lambda i: 4 - ohm * i, 0.05e-3, 0.34e-3)
    ways = b._just_on(lighter, a)
    for way, left in zip(ways, (has, 0.34e-3 * 0.12), strict=True):
        assert way(0.34e-3) == pytest.approx(0, abs=1e-12)
        assert way(0.4e-3) == pytest.approx(KT_Q * (log(0.4 / 0.34) + log((0.06e-3 + left) / left)))


def test_the_straight_line_between_two_points_carries_the_doubt_of_both_currents():
    p, q = Point("p", uncertain(1.0, 0.0), uncertain(2e-3, 0.0)), Point("q", uncertain(3.0, 0.0), uncertain(6e-3, 0.1e-3))
    there = b.straight(p, q, 3e-3)
    assert (there.nominal_value, b.straight_value(p, q, 3e-3)) == (pytest.approx(1.5), pytest.approx(1.5))
    assert there.std_dev == pytest.approx(2 * 1e-3 / 4e-3 ** 2 * 0.1e-3)          # slope's derivative by the far current


def test_an_output_far_below_a_followers_level_is_read_by_a_third_point():
    """2.2 V below the supply and more it hangs on its collector resistor: a square through a third point, or nothing beside two."""
    line = points(lambda i: 2.5 - 100 * i - 4000 * i * i, 1e-3, 5e-3, 9e-3)
    of = Line(3, False, line, supply=uncertain(5.0, 0.0))
    assert bend(of, line, line[0], line[1], 3e-3) == by_three(line, line[0], line[1], 3e-3) != Bend(0.0, 0.0)


def test_a_followers_doubt_has_its_junctions_warmth_and_the_ways_it_may_go():
    """From 0.5 to 4 mA with 100 mV: one way only, so that warmth, base resistor and shape are left; and half of one junction besides."""
    line = points(lambda i: 3.6 - 2 * KT_Q * log(i / 0.5e-3), 0.05e-3, 0.5e-3, 4e-3)
    of = Line(3, False, line, supply=uncertain(5.0, 0.0))
    for at in (0.6e-3, 2e-3):
        found = bend(of, line, line[1], line[2], at)
        chord = (b.value(line[2].volts) - 3.6) * (at - 0.5e-3) / 3.5e-3
        assert found.volts == pytest.approx(-2 * KT_Q * log(at / 0.5e-3) - chord, abs=1e-4)
        own, base = b.KT_Q_SD * 2 * log(at / 0.5e-3), b.BASE_OHM_SD * (at - 0.5e-3)
        assert found.sd == pytest.approx(sqrt(own ** 2 + base ** 2 + (0.1 * found.volts) ** 2), rel=0.02)
