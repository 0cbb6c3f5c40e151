"""The course through a part's states shows what it is for: every input stuck high or low.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from itertools import pairwise

import pytest

from virtual_fixture.chips.behaviour import OFF, PARTS
from virtual_fixture.chips.population import FUNCTIONS
from virtual_fixture.chips.verdict import examine, verdict
from virtual_fixture.chips.walk import Reference, course, one_at_a_time

NUMBERS = sorted({n for numbers in FUNCTIONS.values() for n in numbers.split()})


@pytest.mark.parametrize("number", NUMBERS)
def test_every_stuck_input_shows_at_an_output(number: str) -> None:
    """From a state of the registers that the search has not seen."""
    part = PARTS[number]
    good = Reference(part, 77)
    hidden = {(n, v): Reference(part, 77, (n, v)) for n in part.input_names() for v in (0, 1)}
    for levels in course(number):
        expected = good.step(levels)
        hidden = {k: f for k, f in hidden.items() if f.step(levels) == expected}
    assert not hidden
    assert len(course(number)) < 250


@pytest.mark.parametrize("number", ["00", "244", "245", "374", "138"])
def test_every_output_takes_all_its_states(number: str) -> None:
    part, seen = PARTS[number], {}
    reference = Reference(part, 1)
    for levels in course(number):
        for name, level in reference.step(levels).items():
            seen.setdefault(name, set()).add(level)
    for name, levels_of in seen.items():
        assert levels_of >= ({0, 1, OFF} if name in part.three_state_names() else {0, 1}), name


def test_a_stuck_input_of_a_register_is_wrong_logic() -> None:
    """Through the electrical chip too: the preset of one half of a 74LS74, data of a '163."""
    for part, pin, level in (("74LS74", "2PRE/", "high"), ("74LS163", "C", "low"), ("4013", "1CLK", "low")):
        found = verdict({"part": part, "spread": 0, "fault": [{"kind": "stuck", "pin": pin, "level": level}]}, 4)
        assert [f.effect for f in found.faults] == ["logic"], part


def test_an_open_collector_that_does_not_pull_is_wrong_logic() -> None:
    found = verdict({"part": "7403", "spread": 0, "fault": [{"kind": "dead", "pin": "2Y"}]}, 1)
    assert [f.effect for f in found.faults] == ["logic"]


def test_the_last_stage_of_a_long_counter_is_measured_too() -> None:
    """A 4040's Q12 changes every 2048 pulses: its figures are taken with its transistors set."""
    found = verdict({"part": "4040", "spread": 0, "pin": {"Q12": {"n_k": 1e-4, "p_k": 1e-4}}}, 4)
    assert {(v.pin, v.quantity) for v in found.violations} == {("Q12", "VOL"), ("Q12", "VOH")}


def test_a_race_that_a_data_pins_resistance_turns_round_is_no_fault_and_a_stuck_pin_is() -> None:
    """Data that come with their clock: books give a set-up time, and 3 ohm break no limit."""
    def wrong(fault: dict[str, object]) -> set[str]:
        return {v.pin for v in examine({"part": "74HCT374", "fault": [fault]}, 5).violations if v.quantity == "logic"}

    assert wrong({"kind": "series", "pin": "4D", "ohms": 3.3}) == set()
    assert wrong({"kind": "stuck", "pin": "4D", "level": "low"}) == {"4Q"}


def test_one_at_a_time_comes_to_every_step_of_a_walk_with_one_change_each() -> None:
    steps = list(one_at_a_time(course("374")))
    assert all(sum(a[n] != b[n] for n in a) == 1 for a, b in pairwise(steps))
    assert [s for s in course("374") if s not in steps] == []
