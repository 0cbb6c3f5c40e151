"""Decision rule and words.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.limits import (
    WORST_FIRST,
    between_makers,
    in_amperes,
    in_times,
    least_supply,
    listed,
    outcome,
    resolvable,
    under_load,
    weight,
    worst,
)
from sagbench.judge.rule import margin
from sagbench.parts import load_part
from sagbench.parts.model import Limit
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
        (9.9e-6, "9.9 µA"),
        (-12.4e-6, "-12 µA"),
        (49.9e-6, "50 µA"),
        (50e-6, "0.05 mA"),
        (0.9949e-3, "0.99 mA"),
        (0.995e-3, "1 mA"),
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


def test_a_ratio_has_no_more_digits_than_it_deserves():
    assert [in_times(x) for x in (1.04, 9.94, 9.96, 37.5, 787.9, 28136.0)] == [
        "1.0 times", "9.9 times", "10 times", "38 times", "790 times", "28,000 times"]


def test_of_two_outcomes_the_worse_counts_whichever_comes_first():
    for place, bad in enumerate(WORST_FIRST):
        for better in WORST_FIRST[place:]:
            assert worst([bad, better]) is worst([better, bad]) is bad


@pytest.mark.parametrize(("name", "volts"), [("74LS00", 4.75), ("54LS00", 4.5), ("7400", 4.75), ("5400", 4.5), ("8T26", 4.75)])
def test_the_least_supply_is_that_of_the_grade(name, volts):
    """TTL data books, recommended operating conditions: 5 V +- 5 % commercial, +- 10 % military (from memory)."""
    assert least_supply(load_part(name)) == volts


@pytest.mark.parametrize(("quantity", "value", "limit", "kind", "expected"), [
    ("ICC", 0.012, 0.006, "max", 82.0),          # twice the limit
    ("ICC", 0.600, 0.006, "max", 89.0),          # a hundred times: no heavier than nine
    ("ICC", 1e-3, 0.0, "max", 89.0),
    ("VOL", 0.90, 0.40, "max", 80.5),            # half a volt beyond
    ("VOL", 4.00, 0.40, "max", 85.0),
    ("VOH", 2.20, 2.40, "min", 77.8),            # a fifth of a volt
    ("IIL", 3e-3, 0.4e-3, "max", 65.0),
    ("IOS", 0.2, 0.1, "max", 58.0),
    ("VF", 2.0, 1.0, "max", 60.0),               # of which nothing is said
])
def test_how_far_beyond_its_limit_a_figure_is_orders_the_reasons(quantity, value, limit, kind, expected):
    assert weight(quantity, Outcome.BEYOND, Quantity(value, 0.0, "V"), limit, kind) == pytest.approx(expected)


def test_what_is_undecided_weighs_less_than_anything_that_is_sure_and_nothing_where_it_cannot_be_told():
    assert [weight(q, Outcome.UNSURE, Quantity(0.39, 0.02, "V"), 0.40) for q in ("VOL", "ICC", "IOS", "VIK", "IIL")] == [15, 15, 8, 8, 12]
    assert all(weight(q, Outcome.ODD, Quantity(0.39, 0.02, "V"), 0.40) == 0 for q in ("VOL", "ICC"))


def test_a_current_between_two_makers_limits_is_told_with_the_strictest_that_it_misses():
    """All in amperes a unit load, three loads: 1.5 mA are 0.5 mA each."""
    limit = Limit(0.6e-3, "maker A", also=(Limit(0.4e-3, "maker B"), Limit(0.1e-3, "maker D"), Limit(0.3e-3, "maker C")))
    said = between_makers(Quantity(1.5e-3, 0.05e-3, "A"), limit, 3.0)
    assert "beyond the limit of 0.30 mA in one data book (maker D)" in said and "the 1.8 mA of another (maker A)" in said
    assert between_makers(Quantity(0.25e-3, 0.05e-3, "A"), limit, 3.0) == ""             # within all of them, or nearly
    assert between_makers(Quantity(0.5e-3, 0.45e-3, "A"), limit, 3.0) == ""              # nothing that U lets be told
