"""How long the level drive takes, against its circuit integrated in small steps.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.plan.fixture import load_fixture
from sagbench.plan.level import SPREAD, settle_us, volts_of
from sagbench.plan.power import ALLOWANCE_A, limit_code
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")


@pytest.mark.parametrize(("change", "near"), [(0.93, 0.001), (4.2, 0.15), (-0.5, 0.15), (0.2, 0.005)])
def test_after_that_time_the_level_is_as_near_and_not_long_before(change, near):
    """10 kohm and 100 nF, 10 kohm and 100 nF, the second loading the first; Euler's method, 1 us."""
    a = b = 0.0
    last = 0
    for us in range(40_000):
        if abs(change - b) > near:
            last = us
        a, b = a + ((change - a) - (a - b)) * 1e-3, b + (a - b) * 1e-3
    assert settle_us(FIXTURE, change, near) / SPREAD == pytest.approx(last, rel=0.05, abs=30)


def test_what_is_near_already_is_not_waited_for():
    assert settle_us(FIXTURE, 0.1, 0.15) == 0 and settle_us(FIXTURE, 0.0, 0.001) == 0
    assert volts_of(FIXTURE, 512) == pytest.approx(2.5)


def test_the_limit_of_the_zero_is_the_same_current_against_a_smaller_reference():
    """60 mA, the switch's 8 and the pedestal's 4 mA at 18 mV each, some offset: 1.3 V and more, of 5 V and of 2.4 V at least."""
    wide, fine = (limit_code(FIXTURE, ALLOWANCE_A, 1, reference) for reference in (Reference.AVCC, Reference.V2V56))
    assert 1.3 < wide * 5 / 1024 < 1.7
    assert fine == pytest.approx(wide * 5 / 2.4, abs=3)
