"""A ramp's threshold: the level's filter against a circuit integrated in small steps; voltages worked out by hand.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.measure.model import Model
from sagbench.measure.thresholds import Ramp, slope, threshold
from sagbench.measure.uncertain import standard, value
from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Reading

SETTLE_US = 4000
FIXTURE = load_fixture("bench24")
LSB = 5 / 1024


def reading(code, repeats=2, up=True, **mark):
    return Reading(Mark("position", 6, repeats, up=up, **mark), None if code is None else round(code * repeats))


@pytest.fixture
def model():
    model = Model(FIXTURE)
    model.learn_rail(reading(512, 64))
    return model


def filtered(first, codes, step_us, from_v=0.0):
    """Volts and volts a second behind 10 kohm, 100 nF, 10 kohm, 100 nF (second loading first), after `codes` steps.

    Euler's method, 1 us: the level has long been `from_v`, is `first` for SETTLE_US, then rises or falls.
    """
    a = b = from_v
    rate = 0.0
    for us in range(SETTLE_US + abs(codes) * step_us):
        code = first + (0 if us < SETTLE_US else (1 + (us - SETTLE_US) // step_us) * (1 if codes > 0 else -1))
        into_a, into_b = (code * LSB - a) / 10e3 - (a - b) / 10e3, (a - b) / 10e3
        a, b, rate = a + into_a * 1e-6 / 100e-9, b + into_b * 1e-6 / 100e-9, into_b / 100e-9
    return b, rate


@pytest.mark.parametrize(
    ("first", "moved", "step_us", "from_v"),
    [(200, 80, 100, 0.0), (200, 15, 100, 0.0), (400, 30, 50, 0.0), (500, -60, 100, 0.0), (150, 40, 100, 3.0)],
)
def test_the_slope_of_the_level_is_that_of_the_circuit(model, first, moved, step_us, from_v):
    ramp = Ramp(reading(first + moved, 1, moved > 0), reading(300, up=moved > 0), reading(300), first, step_us, SETTLE_US, from_v)
    expected = filtered(first, moved, step_us, from_v)[1]
    assert slope(model, ramp) == pytest.approx(expected, abs=0.02 * LSB / step_us * 1e6)


def test_an_input_that_takes_nothing_is_where_k_is_less_what_the_level_moved(model):
    """80 codes after its start the level moves 48.6 V/s; K's two samples lie 25 and 129 us behind: 3.7 mV."""
    ramp = Ramp(reading(480, 1), reading(450), reading(452.5), 400, 100, SETTLE_US)
    found = threshold(model, ramp, 0.010, sluggish=False)
    rate = filtered(400, 80, 100)[1]
    assert value(found.number) == pytest.approx(450 * LSB - rate * 77e-6 - 0.010, abs=0.0006)
    assert abs(found.at.value) < 10e-6
    assert standard(found.number) < 0.008


def test_the_doubt_of_how_far_a_pin_follows_the_level_counts_twice_in_a_hysteresis(model):
    """The level moves up at one threshold and down at the other, the pin follows both alike: 0.3 of some 3.5 mV, twice."""
    ramps = [Ramp(reading(480, 1, up), reading(450, up=up), reading(452, up=up), first, 100, SETTLE_US, from_v)
             for up, first, from_v in ((True, 400, 0.0), (False, 560, 560 * LSB))]  # fmt: skip
    hysteresis = {}
    for sluggish in (True, False):
        anew = Model(FIXTURE)
        anew.learn_rail(reading(512, 64))
        rises, falls = (threshold(anew, ramp, 0.0, sluggish=sluggish).number for ramp in ramps)
        hysteresis[sluggish] = rises - falls
    twice = 77e-6 * (slope(model, ramps[0]) - slope(model, ramps[1]))
    more = standard(hysteresis[True]) ** 2 - standard(hysteresis[False]) ** 2
    assert more == pytest.approx((0.3**2 - 0.05**2) * twice**2, rel=0.1)


def test_the_current_that_an_input_delivers_is_taken_off_in_the_channel(model):
    """K 0.9 V, level 0.4 V: 0.5 V in 680 + 121 ohm are 0.624 mA out of the pin, 76.0 mV in a channel of 122 ohm: 105 ohm near
    the rails, and 0.2 (1 + 4 * 0.17 * 0.83) / 2 more at 0.87 V, 0.2 (1 + 4 * 0.19 * 0.81) / 2 at 0.94 V, midway between a
    parabola and a gate that is flat from 0.8 V on."""
    slow = Ramp(reading(82, 1), reading(0.9 / LSB, 64), reading(0.4 / LSB, 64), 80, 65535, SETTLE_US)
    found = threshold(model, slow, 0.0, sluggish=True)
    assert found.at.value == pytest.approx(-0.624e-3, rel=0.003)
    assert value(found.number) == pytest.approx(0.9 + 0.0760, abs=0.002)


def test_where_nothing_answered_there_is_no_threshold(model):
    none = reading(None)
    assert threshold(model, Ramp(none, none, none, 100, 100, SETTLE_US), 0.0, sluggish=True) is None
    assert threshold(model, Ramp(reading(900, 1), reading(1023), reading(1023), 100, 100, SETTLE_US), 0.0, sluggish=False) is None
