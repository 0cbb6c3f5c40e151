"""Walks by lot: the virtual chips and the library's models agree beside the library's own tests too.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import pytest

from two_hands import subjects
from two_walks import walk_differences
from virtual_fixture.chips.behaviour import byte_counters


# Parts with enables, clears and loads whose data books leave something open, or say more than one test plays.
@pytest.mark.parametrize("number", ["568", "593", "597", "845"])
def test_nothing_is_told(number):
    for subject in subjects(number):
        assert not list(walk_differences(subject, 300))


def test_a_counter_that_wants_both_enables_is_told(monkeypatch):
    """The 593 counts with either (W. Toomey, Understanding the 74LS593, 2019)."""
    def both(self, v, taken, enabled):
        kept(self, v, taken, bool(v["CCKEN"] and not v["CCKEN/"]))

    kept = byte_counters.CounterIn.step
    monkeypatch.setattr(byte_counters.CounterIn, "step", both)
    assert [one for subject in subjects("593") for one in walk_differences(subject, 4000)]
