"""Decision rule and words.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.limits import in_amperes, listed, outcome, resolvable, under_load, weight, worst
from sagbench.judge.rule import margin
from sagbench.record import Outcome, Quantity


@pytest.mark.parametrize(
    ("value", "kind", "expected"),
    [
        (0.35, "max", Outcome.WITHIN),
        (0.40 - 0.021, "max", Outcome.WITHIN),
        (0.39, "max", Outcome.UNSURE),
        (0.41, "max", Outcome.UNSURE),
        (0.43, "max", Outcome.BEYOND),
        (0.43, "min", Outcome.WITHIN),
        (0.41, "min", Outcome.UNSURE),
        (0.35, "min", Outcome.BEYOND),
    ],
)
def test_a_limit_is_met_or_missed_only_by_more_than_u(value, kind, expected):
    assert outcome(Quantity(value, 0.02, "V"), 0.40, kind) is expected


def test_exactly_at_the_guard_band_counts_as_within():
    assert outcome(Quantity(2.0, 0.5, "V"), 2.5) is Outcome.WITHIN


def test_margin_is_positive_inside():
    assert margin(Quantity(0.3, 0.01, "V"), 0.4) == pytest.approx(0.1)
    assert margin(Quantity(2.3, 0.01, "V"), 2.4, "min") == pytest.approx(-0.1)


def test_a_limit_finer_than_the_uncertainty_cannot_be_resolved():
    assert not resolvable(Quantity(0, 3e-6, "A"), 1e-6) and resolvable(Quantity(0, 3e-6, "A"), 40e-6)


def test_nor_can_one_that_is_hardly_coarser_unless_the_figure_is_outside():
    """Test uncertainty ratio (limit over U) below 2: common practice asks for 4 and more, ANSI/NCSL Z540.3 (from memory)."""
    assert not resolvable(Quantity(1.5e-6, 1.1e-6, "A"), 2e-6) and resolvable(Quantity(2.5e-6, 1.1e-6, "A"), 2e-6)


def test_the_worst_outcome_counts_and_nothing_measured_is_no_pass():
    assert worst([Outcome.WITHIN, Outcome.ODD, Outcome.UNSURE]) is Outcome.ODD
    assert worst([Outcome.WITHIN, Outcome.NOT_MEASURED]) is Outcome.NOT_MEASURED
    assert worst([]) is Outcome.NOT_MEASURED


@pytest.mark.parametrize(
    ("amperes", "text"),
    [
        (0.016, "16 mA"),
        (0.0121, "12.1 mA"),
        (-0.0004, "-0.40 mA"),
        (0.000427, "0.43 mA"),
        (40e-6, "40 µA"),
        (2.3e-6, "2.3 µA"),
        (0.133, "133 mA"),
    ],
)
def test_currents_in_sentences(amperes, text):
    assert in_amperes(amperes) == text


def test_lists_in_sentences():
    assert [listed(x) for x in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == ["", "a", "a and b", "a, b and c"]


def test_two_lines_at_once_are_not_called_the_both_load():
    assert under_load("strong") == "under the strong load" and under_load("both") == "under both loads"


def test_a_level_further_beyond_its_limit_weighs_more_and_none_within_weighs_anything():
    far, near = Quantity(0.9, 0.02, "V"), Quantity(0.45, 0.02, "V")
    assert weight("VOL", Outcome.BEYOND, far, 0.4) > weight("VOL", Outcome.BEYOND, near, 0.4) > 0
    assert weight("VOL", Outcome.WITHIN, near, 0.5) == 0
    assert weight("IIH", Outcome.UNSURE, Quantity(0.0, 3e-6, "A"), 1e-6) == 0, "says nothing of the chip"
