"""A threshold between levels that were read as low and as high.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.measure.captures import Trial, threshold
from sagbench.measure.uncertain import exact, standard, uncertain, value


def trial(volts, as_high, u=0.0):
    return Trial(uncertain(volts, u, "drawn") if u else exact(volts), exact(-20e-6), as_high)


def test_it_lies_between_the_nearest_two_evenly_spread():
    """Half of the distance over the root of three: GUM 4.3.7; and some 6 mV that its ground may move meanwhile."""
    found = threshold([trial(0.0, False), trial(3.9, True), trial(1.2, False), trial(1.6, True), trial(1.3, False)])
    assert value(found.number) == pytest.approx(1.45)
    assert standard(found.number) == pytest.approx((0.15**2 / 3 + 0.006**2) ** 0.5)


def test_what_the_levels_share_stays_in_its_uncertainty():
    assert standard(threshold([trial(1.0, False, 0.01), trial(1.2, True)]).number) > 0.1 / 3**0.5


@pytest.mark.parametrize("trials", [
    [], [trial(1.0, False)], [trial(1.0, True)], [trial(1.0, True), trial(1.2, False)]])
def test_no_threshold_where_all_read_alike_or_the_wrong_way_round(trials):
    assert threshold(trials) is None


def test_trials_that_cross_by_their_noise_still_have_the_threshold_between_them():
    """Near it the current of a bipolar input changes so that its volts stand almost still: 1.2247 V read as low, 1.2238 V as high."""
    found = threshold([trial(0.9, False), trial(3.9, True), trial(1.2247, False), trial(1.2238, True)])
    assert value(found.number) == pytest.approx(1.22425)
