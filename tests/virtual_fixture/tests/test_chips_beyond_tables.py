"""What the library's logic tests leave alone and a real chip does all the same: masters that catch, buses that hold each other.

From memory of the makers' data books: their notes on pulse-triggered inputs, data lockout, and the rows "both ways on".

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest

from virtual_fixture.chips.behaviour import OFF

from .function_tables import Driver


@pytest.mark.parametrize(("number", "catches"), [("L78", True), ("H78", True), ("78", False), ("106", False)])
def test_a_master_catches_what_is_there_for_a_moment_while_the_clock_is_high(number: str, catches: bool) -> None:
    chip = Driver(number)
    clock, clear = ("CLK", "CLR/") if "78" in number else ("1CLK", "1CLR/")
    chip.apply(dict.fromkeys(chip.levels, 1) | {"1J": 0, "1K": 0, clock: 0, clear: 0})
    chip.apply({clear: 1})
    for level in ({clock: 1}, {"1J": 1}, {"1J": 0}, {clock: 0}):
        chip.apply(level)
    assert chip.out["1Q"] == int(catches)


@pytest.mark.parametrize(("number", "pulse", "q"), [
    ("111", ({"1J": 1}, {"1CLK": 1}, {"1J": 0, "1K": 1}, {"1CLK": 0}), 1),    # read at the rising edge alone
    ("111", ({"1CLK": 1}, {"1J": 1}, {"1CLK": 0}), 0),
])
def test_data_lockout(number: str, pulse: tuple[dict[str, int], ...], q: int) -> None:
    chip = Driver(number)
    chip.apply({"1PRE/": 1, "2PRE/": 1})
    chip.apply({"1CLR/": 1, "2CLR/": 1})
    for level in pulse:
        chip.apply(level)
    assert chip.out["1Q"] == q


def test_the_outputs_of_a_lockout_type_wait_for_the_falling_edge() -> None:
    chip = Driver("111")
    chip.apply({"1PRE/": 1, "1CLR/": 0})
    chip.apply({"1CLR/": 1, "1J": 1})
    assert chip.apply({"1CLK": 1})["1Q"] == 0 and chip.apply({"1CLK": 0})["1Q"] == 1


def test_the_7470_is_preset_only_while_its_clock_is_low() -> None:
    chip = Driver("70")
    chip.apply({"PRE/": 1, "CLR/": 0})
    chip.apply({"CLR/": 1})
    chip.apply({"CLK": 1})
    assert chip.apply({"PRE/": 0})["Q"] == 0 and chip.apply({"CLK": 0})["Q"] == 1


@pytest.mark.parametrize(("number", "inverted"), [("623", 0), ("620", 1)])
def test_buses_that_are_both_driven_hold_each_other(number: str, inverted: int) -> None:
    """GAB high and GBA/ low: what was there stays, and the bus that moves takes the other along."""
    chip = Driver(number)
    chip.apply({"GAB": 1, "GBA/": 1, "A1": 1})
    held = chip.apply({"GBA/": 0, "B1": 1 ^ inverted})
    assert (held["A1"], held["B1"]) == (1, 1 ^ inverted)
    moved = chip.apply({"B1": inverted})
    assert (moved["A1"], moved["B1"]) == (0, inverted)


def test_a_stored_level_goes_out_while_the_bus_has_another() -> None:
    """646: CAB stores A; SAB high sends that, low what is at A now."""
    chip = Driver("646")
    chip.apply({"DIR": 1, "A1": 1, "SAB": 1})
    chip.apply({"CAB": 1})
    chip.apply({"A1": 0})
    assert chip.out["B1"] == 1 and chip.apply({"SAB": 0})["B1"] == 0 and chip.apply({"G/": 1})["B1"] == OFF


def test_a_latch_that_is_shut_keeps_its_level_for_the_outputs() -> None:
    """543: LEAB/ high or EAB/ high shuts the latch; EAB/ high alone also switches its outputs off."""
    chip = Driver("543")
    chip.apply({"OEBA/": 1, "A0": 1})
    chip.apply({"LEAB/": 1})
    assert chip.apply({"A0": 0})["B0"] == 1 and chip.apply({"EAB/": 1})["B0"] == OFF
    chip.apply({"EAB/": 0})
    assert chip.out["B0"] == 1 and chip.apply({"LEAB/": 0})["B0"] == 0
