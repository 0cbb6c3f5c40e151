"""IIL brought to the data book's 0.4 V: by the input's own resistor, and a leakage beside it of unknown curve.

SPDX-License-Identifier: MIT
"""

from math import exp, sqrt

import pytest

from sagbench.measure.inputs import LEAK_A, low_current, more_at_nothing
from sagbench.measure.model import Model
from sagbench.measure.uncertain import exact, standard, value
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading
from sagbench.wire.numbers import Reference

ABOVE = 4.2  # volts at which a low input would deliver nothing
OHM = 20e3


def held(volts, leak=lambda v: 0.0):
    """An input of 20 kohm at these volts; leak: amperes into it besides."""
    return exact(volts), exact(-(ABOVE - volts) / OHM + leak(volts))


def junction(volts):
    """8 uA of reverse current, settled within kT/q (any textbook)."""
    return 8e-6 * (1 - exp(-volts / 0.026))


def surface(volts):
    """50 kohm."""
    return volts / 50e3


@pytest.mark.parametrize("points", [(0.12, 0.47), (0.12, 0.33), (0.38, 0.65)])
def test_an_input_without_leakage_is_its_resistor(points):
    """(4.2 V - 0.4 V) / 20 kohm."""
    found = low_current([held(v) for v in points], exact(ABOVE))
    assert value(found.number) == pytest.approx(-190e-6)
    assert standard(found.number) < 1e-12 and found.at.value == 0.4
    assert found.how == ("interpolated" if points[1] > 0.4 else "corrected along the input's own resistor")


@pytest.mark.parametrize("leak", [junction, surface])
@pytest.mark.parametrize("points", [(0.12, 0.47), (0.12, 0.33), (0.38, 0.65)])
def test_a_leakage_of_either_curve_is_within_the_uncertainty(leak, points):
    found = low_current([held(v, leak) for v in points], exact(ABOVE))
    off = value(found.number) - value(held(0.4, leak)[1])
    assert abs(off) <= 2 * standard(found.number) + 1e-9
    assert standard(found.number) < 1e-6


def test_one_point_alone_says_nothing_of_a_leakage():
    found = low_current([held(0.1)], exact(ABOVE))
    assert value(found.number) == pytest.approx(-190e-6)
    assert standard(found.number) == pytest.approx(LEAK_A * 0.3 / 0.4)


def test_cmos_inputs_are_told_where_they_were_held():
    found = low_current([(exact(0.02), exact(-1e-7))], None)
    assert (found.at.value, value(found.number)) == (pytest.approx(0.02), pytest.approx(-1e-7))
    assert low_current([], None) is None


def test_an_input_that_no_line_holds_low_may_deliver_up_to_its_data_book_current_more():
    """5 V through M (590 ohm) hold it at 1.21 V with 2.05 mA; low it may deliver 4 mA: 0.97 mA more, any of 0 to 1.95."""
    fixture = load_fixture("bench24")
    model = Model(fixture)
    model.references[Reference.AVCC] = exact(5.0)
    reading = Reading(Mark("position", 4, 2, lines=1), 2 * 248)
    alone = more_at_nothing(model, [reading], 0.0, exact(4.15), {4: 4e-3})
    now = -value(model.load_amperes(reading))
    assert value(alone) == pytest.approx((4e-3 - now) / 2) and standard(alone) == pytest.approx((4e-3 - now) / sqrt(12))
    both = more_at_nothing(model, [reading, reading], 0.0, exact(4.15), {4: 4e-3})
    assert standard(both) == pytest.approx(2 * standard(alone))  # what one does the others do
    assert value(more_at_nothing(model, [reading], 0.0, exact(4.15), {4: 1e-3})) == 0
