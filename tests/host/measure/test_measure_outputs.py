"""Where an output's line reaches a level, and noise margins of what was measured: by hand.

SPDX-License-Identifier: MIT
"""
from math import hypot

import pytest

from sagbench.measure.figures import Figure, _margins, _Named
from sagbench.measure.line import Line, Point
from sagbench.measure.outputs import leaves_level
from sagbench.measure.uncertain import exact, standard, uncertain, value
from sagbench.record import Quantity


def line(*points, up=True, u_ma=0.0):
    """Points: (milliamperes, volts)."""
    return Line(3, up, tuple(Point(f"p{n}", exact(v), uncertain(ma / 1e3, u_ma / 1e3)) for n, (ma, v) in enumerate(points)))


LOW = line((1, 0.1), (5, 0.5), (9, 1.3))


@pytest.mark.parametrize(("volts", "milliamps", "how"), [
    (0.8, 6.5, "interpolated"),              # three eighths of the way from 5 to 9 mA
    (0.5, 5.0, "interpolated"),
    (0.3, 3.0, "interpolated"),
    (2.0, 9.0, "not reached"),
    (1.3, 9.0, "not reached"),
    (0.05, 1.0, "lost under the lightest load"),
])
def test_the_current_at_which_a_low_output_reaches_a_level(volts, milliamps, how):
    found = leaves_level(LOW, volts)
    assert value(found.number) == pytest.approx(milliamps / 1e3) and found.how == how
    assert found.at == Quantity(volts, 0.0, "V")


def test_a_high_output_comes_down_to_it_and_gives_its_current_and_points_beyond_its_rating_count():
    high = line((0.4, 3.5), (5, 3.1), up=False)
    assert leaves_level(high, 2.0).how == "not reached" and value(leaves_level(high, 2.0).number) == pytest.approx(-5e-3)
    beyond = line((15, 1.1), (9, 2.7), up=False).points          # in whatever order
    found = leaves_level(high, 2.0, beyond)
    assert value(found.number) == pytest.approx(-(9 + 6 * 0.7 / 1.6) * 1e-3)
    assert leaves_level(line(), 0.8) is None
    assert value(leaves_level(line(), 0.8, LOW.points).number) == pytest.approx(6.5e-3)


def test_where_the_line_is_steep_the_current_may_be_anywhere_between_the_points():
    """A quarter of the span as standard deviation from 0.3 V on, with the square of the step below; besides the currents' own."""
    for step, share in ((0.3, 1.0), (0.8, 1.0), (0.15, 0.25), (0.06, 0.04)):
        found = leaves_level(line((2, 0.7 - step / 2), (6, 0.7 + step / 2)), 0.7)
        assert value(found.number) == pytest.approx(4e-3) and standard(found.number) == pytest.approx(1e-3 * share)
    both = leaves_level(line((2, 0.625), (6, 0.775), u_ma=0.2), 0.7)
    assert standard(both.number) == pytest.approx(1e-3 * hypot(0.25, 0.2 / 2, 0.2 / 2))


def figure(name, pin, number, how="measured there"):
    return _Named(name, pin, Figure(exact(number), None, how))


def test_noise_margins_are_between_the_worst_level_and_the_worst_threshold():
    """Low: the least rising threshold over the highest low level; high: the least high level over the highest falling one."""
    levels = [figure("VOL", 3, 0.2), figure("VOL", 6, 0.3), figure("VOH", 3, 3.4), figure("VOH", 6, 3.2)]
    edges = [figure("VT+", 1, 1.7), figure("VT+", 2, 1.6), figure("VT-", 1, 0.9), figure("VT-", 2, 0.8)]

    def made(*named):
        return {m.name: (value(m.figure.number), m.state) for m in _margins(named)}
    assert made(*levels, *edges) == {"NML": (pytest.approx(1.3), "pin 2 over pin 6"), "NMH": (pytest.approx(2.3), "pin 6 over pin 1")}
    # Of a plain input one threshold is known, and stands for both.
    assert made(*levels, *edges[:2]) == {"NML": (pytest.approx(1.3), "pin 2 over pin 6"), "NMH": (pytest.approx(1.5), "pin 6 over pin 1")}
    assert made(*levels, *edges[2:])["NML"] == (pytest.approx(0.5), "pin 2 over pin 6")
    assert made(*levels[:2], *edges).keys() == {"NML"} and made(*levels[2:], *edges).keys() == {"NMH"}
    assert made(*levels) == made(*edges) == made() == {}
    guessed = figure("VOL", 8, 0.9, "extrapolated")              # beyond all load points: no level of the chip's
    assert made(*levels, guessed, *edges) == made(*levels, *edges)
