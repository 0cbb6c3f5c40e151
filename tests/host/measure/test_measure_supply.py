"""Which of two readings of the supply current is believed.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.measure.supply import finer
from sagbench.measure.uncertain import uncertain

QUIET = uncertain(0.7e-6, 0.5e-6, "weak load")


@pytest.mark.parametrize(("microamps", "believed"), [
    (29.0, "quiet"),      # 3.3 standard uncertainties of the amplifier's noise: one state in 1,000, and ten states a chip
    (60.0, "amplifier"),  # a current that the weak load cannot deliver
])
def test_the_weak_load_is_believed_unless_the_amplifier_says_surely_more(microamps, believed):
    amplifier = uncertain(microamps * 1e-6, 8.6e-6, "noise")
    assert finer(amplifier, QUIET) is (QUIET if believed == "quiet" else amplifier)


def test_without_a_weak_load_there_is_the_amplifier():
    assert finer(amplifier := uncertain(5e-3, 1e-5, "noise"), None) is amplifier
