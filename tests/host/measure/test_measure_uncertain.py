"""Propagation of uncertainty against an outside referee, a general-purpose GUM package; and budgets.

Worked examples of the GUM and its supplements: test_measure_guide.py.

SPDX-License-Identifier: MIT
"""

import pickle
from copy import deepcopy
from dataclasses import replace
from math import sqrt

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.measure.model import Model
from sagbench.measure.uncertain import budget, exact, root_sum, standard, uncertain, value
from sagbench.record import Contribution, Quantity

SIZES = st.floats(0.5, 50.0)
PORTIONS = st.floats(0.0, 0.1)
STEPS = st.lists(st.tuples(st.sampled_from("+-*/"), st.integers(0, 5), st.booleans()), min_size=1, max_size=8)


def combine(numbers, steps):
    """The same chain of operations on any kind of number; a step takes one of the inputs, before or behind."""
    result = numbers[0]
    for sign, which, first in steps:
        a, b = (numbers[which], result) if first else (result, numbers[which])
        if sign == "/" and abs(b.nominal_value if hasattr(b, "nominal_value") else b.x) < 1e-3:
            continue
        result = {"+": lambda a, b: a + b, "-": lambda a, b: a - b, "*": lambda a, b: a * b, "/": lambda a, b: a / b}[
            sign
        ](a, b)
    return result


@given(st.lists(st.tuples(SIZES, PORTIONS), min_size=6, max_size=6), STEPS)
def test_any_chain_of_operations_agrees_with_the_referee(inputs, steps):
    """GTC (Measurement Standards Laboratory of New Zealand) carries correlation through expressions likewise."""
    ours = combine([uncertain(v, v * r) for v, r in inputs], steps)
    theirs = combine([GTC.ureal(v, v * r) for v, r in inputs], steps)
    assert value(ours) == pytest.approx(GTC.value(theirs), rel=1e-9)
    assert standard(ours) == pytest.approx(GTC.uncertainty(theirs), rel=1e-6, abs=1e-12)


def test_plain_numbers_may_stand_on_either_side():
    x = uncertain(4.0, 0.1)
    for ours, expected, u in (
        (x + 1, 5, 0.1),
        (1 + x, 5, 0.1),
        (x - 1, 3, 0.1),
        (1 - x, -3, 0.1),
        (2 * x, 8, 0.2),
        (x / 2, 2, 0.05),
    ):
        assert value(ours) == pytest.approx(expected) and standard(ours) == pytest.approx(u)
    assert value(8 / x) == pytest.approx(2) and standard(8 / x) == pytest.approx(8 / 16 * 0.1)
    assert standard(exact(3.0)) == standard(3.0) == 0.0 and value(3) == 3.0


def test_a_number_less_itself_is_nothing_surely():
    x = uncertain(4.0, 0.1)
    assert value(x - x) == 0 and standard(x - x) == 0 and standard(x / x) == 0
    assert standard(x - uncertain(4.0, 0.1)) == pytest.approx(0.1 * sqrt(2))


def test_a_budget_names_components_largest_first_with_their_signs():
    a, b = uncertain(4.0, 0.1, "a"), uncertain(2.0, 0.3, "b")
    assert budget(a - b) == (Contribution("b", -0.3), Contribution("a", 0.1))
    assert [(c.name, round(c.u, 9)) for c in budget(a * b)] == [("b", 1.2), ("a", 0.2)]
    assert budget(a - a) == () and budget(3.0) == () and budget(exact(3.0)) == ()


def test_components_of_one_name_are_added_as_independent_ones():
    readings = [uncertain(1.0, 0.3, "noise"), uncertain(1.0, 0.4, "noise")]
    assert budget(readings[0] - readings[1]) == (Contribution("noise", -0.5),)


@given(st.lists(st.tuples(SIZES, PORTIONS), min_size=6, max_size=6), STEPS)
def test_the_squares_of_a_budget_add_up(inputs, steps):
    number = combine([uncertain(v, v * r, f"c{i}") for i, (v, r) in enumerate(inputs)], steps)
    assert root_sum(budget(number)) == pytest.approx(standard(number), rel=1e-9, abs=1e-15)


def test_a_budget_is_worked_out_when_it_is_asked_for_and_once():
    asked = []
    late = Quantity.whose(1.0, 0.2, "V", lambda: asked.append(1) or (Contribution("a", 0.1),))
    at_once = Quantity(1.0, 0.2, "V", (Contribution("a", 0.1),))
    assert not asked and late == at_once and late.budget == at_once.budget and asked == [1]
    assert replace(late, unit="A") == replace(at_once, unit="A") and hash(late) == hash(at_once)
    with pytest.raises(AttributeError, match="no sag"):
        late.sag


def test_a_quantity_is_copied_and_kept_whole_before_anybody_has_asked_for_its_budget():
    """Between processes, too: without the components that it was worked out from."""
    for copied in (lambda one: pickle.loads(pickle.dumps(one)), deepcopy):
        again = copied(Model.quantity(uncertain(1.0, 0.1, "vref"), "V"))
        assert again == Quantity(1.0, 0.2, "V", (Contribution("vref", 0.1),)) and copied(again) == again
