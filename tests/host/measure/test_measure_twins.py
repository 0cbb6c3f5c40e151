"""Best estimates that are worked out alone, without uncertainty, against those of the whole expressions; and linear sums.

SPDX-License-Identifier: MIT
"""

import GTC
import pytest
from draws import Maker
from hypothesis import given
from hypothesis import strategies as st

from sagbench.measure.bend import Point, straight, straight_value
from sagbench.measure.model import Model, Priors
from sagbench.measure.uncertain import budget, less, linear, negative, standard, uncertain, value
from sagbench.plan.fixture import M_LINE, load_fixture
from sagbench.plan.recipe import Mark, Reading
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")
KNOWN = {"channel[6]": (71.0, 2.0), "weak_load.low": (8230.0, 9.0), "channel_shape": (0.2, 0.1), "offset": (0.4, 0.2)}
PRIORS = (Priors(), Priors(known=KNOWN), Priors(inl=[0.1 * (k % 5) for k in range(33)], inl_u=0.2))
LEVELS = st.floats(0.0, 1.0)
SIZES, SLOPES = st.floats(0.5, 50.0), st.floats(-3.0, 3.0)


def at(code, **mark):
    return Reading(Mark("position", 6, 4, **mark), round(code * 4))


def model(priors):
    m = Model(FIXTURE, priors)
    m.learn_rail(at(508.3))
    m.learn_channels([at(700.5, selector=1, up=True)], at(130.0, selector=7))
    return m


@pytest.mark.parametrize("priors", PRIORS)
@given(code=st.floats(0.0, 1020.0), level=LEVELS, high=st.booleans())
def test_best_estimates_alone_are_those_of_the_whole(priors, code, level, high):
    m = model(priors)
    assert m.volts_value(at(code)) == pytest.approx(value(m.volts(at(code))), rel=1e-12)
    for position in (0, 6, 7):
        assert m.parts.ron_value(position, level) == pytest.approx(value(m.parts.ron(position, level)), rel=1e-12)
    selector = m.parts.selector("weak_load", high, level)
    assert m.parts.selector_value("weak_load", high, level) == pytest.approx(value(selector), rel=1e-12)


@given(st.tuples(SIZES, SIZES, SIZES, SIZES), SIZES)
def test_the_straight_line_s_best_estimate(numbers, amperes):
    v1, i1, v2, more = (uncertain(x, 0.01 * x) for x in numbers)
    a, b = Point("a", v1, i1), Point("b", v2, i1 + more)
    assert straight_value(a, b, amperes) == pytest.approx(value(straight(a, b, amperes)), rel=1e-9, abs=1e-9)


@given(st.lists(st.tuples(SLOPES, SIZES, st.floats(0.0, 0.1)), min_size=1, max_size=6), SLOPES)
def test_a_linear_sum_agrees_with_the_referee(terms, constant):
    """GTC's arithmetic; a component that comes twice, and one behind a product, among them."""
    ours = [(slope, uncertain(x, x * r, f"c{k}")) for k, (slope, x, r) in enumerate(terms)]
    theirs = [(slope, GTC.ureal(x, x * r)) for slope, x, r in terms]
    mine = linear(constant, *ours, ours[0], (0.5, ours[0][1] * ours[-1][1]))
    sum_ = constant + sum(s * x for s, x in [*theirs, theirs[0]]) + 0.5 * theirs[0][1] * theirs[-1][1]
    assert value(mine) == pytest.approx(GTC.value(sum_), rel=1e-9, abs=1e-9)
    assert standard(mine) == pytest.approx(GTC.uncertainty(sum_), rel=1e-6, abs=1e-9)


def test_differences_and_what_is_turned_round():
    a, b = uncertain(4.0, 0.1, "a"), uncertain(2.0, 0.3, "b")
    assert value(less(a, b)) == 2.0 and budget(less(a, b)) == budget(a - b)
    assert value(negative(a)) == -4.0 and budget(negative(a)) == budget(-a)
    assert standard(less(a, a)) == 0.0


def test_draws_are_summed_as_draws():
    make = Maker(1000)
    a, b = make(1.0, 0.1, "noise"), make(2.0, 0.1, "noise")
    assert (linear(1.0, (2.0, a), (-1.0, b)).values == 1.0 + 2.0 * a.values - b.values).all()


def test_a_reading_that_was_not_made_has_no_volts():
    with pytest.raises(ValueError, match="not measured"):
        model(Priors()).volts_value(Reading(Mark("position", 6, reference=Reference.AVCC), None))


def test_a_line_s_resistance_is_made_once():
    parts = model(Priors()).parts
    assert parts.line(6, M_LINE, True) is parts.line(6, M_LINE, True)
    assert parts.line(6, M_LINE, True) is not parts.line(6, M_LINE, False)
