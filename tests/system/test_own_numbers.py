# SPDX-License-Identifier: GPL-3.0-or-later
"""Types whose number is their name are judged by their own silicon: Schottky, low-power Schottky, resistors at the inputs.

The virtual chips are written from the makers' data books (from memory): their sources are in their modules.
"""
import pytest
from inprocess import sweep_here

from sagbench.judge.contact import expected_pins
from sagbench.parts import load_part
from sagbench.record import Verdict
from virtual_fixture.inproc import Fixture


def swept(chip, marking, seed=7):
    with Fixture(seed=seed) as fixture:
        fixture.insert(chip)
        return sweep_here(fixture, marking).record


@pytest.mark.parametrize("name", ["81LS95", "8T26", "1489"])
def test_a_sound_one_is_found_sound(name):
    record = swept({"part": name}, name)
    assert record.verdict is Verdict.SOUND, [f.sentence for f in record.reasons]


def test_silicon_of_another_family_is_told_of_a_type_that_is_made_like_one():
    """An 81LS95 is low-power Schottky (National, from memory); the '795 has its pins, and here it is plain Schottky."""
    record = swept({"part": "74S795", "supply_ma": [16, 13, 17]}, "81LS95")
    told = [f.sentence for f in record.reasons if f.quantity == "family"]
    assert len(told) == 1 and "where 74LS has" in told[0]


def test_a_guess_bears_the_name_of_the_type_s_own_series():
    """Nobody makes a 74LS of that number: what fits is its own series."""
    assert swept({"part": "81LS95"}, "81LS95").families[0].family == "TTL"


def test_inputs_that_are_resistors_need_no_junction():
    """RS-232 inputs are 3 to 7 kilohms to ground (EIA-232, section on receivers, from memory), the 121's RINT 2 kilohms to a transistor's base."""
    receiver, pulse = load_part("1489"), load_part("74121")
    assert {p.number for p in receiver.inputs if receiver.is_resistor(p.number)} == {1, 4, 10, 13}
    assert expected_pins(receiver) == {3, 6, 8, 11, 14}
    assert [p.number for p in pulse.inputs if pulse.is_resistor(p.number)] == [9]
