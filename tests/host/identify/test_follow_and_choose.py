"""Machines led along patterns, and which pattern comes next.  Truth tables here are any data book's, from memory.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random

import pytest
from paper import library

from sagbench.identify.candidates import Candidate
from sagbench.identify.choose import Pattern, best, better_pattern, differ, drivable, information, lead, played
from sagbench.identify.follow import Follower, Says
from sagbench.parts import load_part
from sagbench.parts.names import type_name


def named(function: str) -> Candidate:
    return next(c for c in library() if c.function == function)


@pytest.mark.parametrize(("a", "b", "y"), [(0, 0, Says.HIGH), (0, 1, Says.HIGH), (1, 0, Says.HIGH), (1, 1, Says.LOW)])
def test_a_nand(a: int, b: int, y: Says) -> None:
    follower = Follower(named("00"))
    follower.set([(1, bool(a)), (2, bool(b)), (3, True)])           # pin 3 is its output: M cannot change it
    assert follower.says()[3] is y and follower.says()[1] is Says.INPUT


def test_a_flip_flop_is_unknown_until_its_clock() -> None:
    follower = Follower(named("74"))                                # CLR 1, D 2, CLK 3, PRE 4, Q 5, QN 6
    follower.set([(1, True), (2, True), (3, False), (4, True)])
    assert follower.says()[5] is Says.UNKNOWN
    follower.set([(3, True)])
    assert (follower.says()[5], follower.says()[6]) == (Says.HIGH, Says.LOW)


def test_a_transceiver_gives_its_pins_back_to_m_when_it_turns() -> None:
    follower = Follower(named("245"))                               # DIR 1, A1 2, G 19, B1 18
    follower.set([(1, False), (19, False), (2, False), (18, True)])
    assert follower.says()[2] is Says.HIGH                          # B to A, though M holds A low
    follower.set([(1, True)])
    assert follower.says()[18] is Says.LOW                          # A to B: A is what M says again
    follower.set([(19, True)])
    assert follower.says()[18] is Says.OFF


def test_a_high_side_of_a_resistor_may_give_way_to_m() -> None:
    follower = Follower(named("946"))                               # quad NAND, 6 kohm above (Fairchild's DTL, from memory)
    follower.set([(1, False), (2, True)])
    assert follower.says()[3] is Says.HIGH
    follower.set([(3, False)])
    assert follower.says()[3] is Says.UNKNOWN
    follower.set([(3, None), (1, True)])
    assert follower.says()[3] is Says.LOW


def test_an_input_that_is_a_resistor_may_be_at_any_level() -> None:
    follower = Follower(named("121"))                               # RINT, pin 9: 2 kohm to the timing transistor (data books, from memory)
    follower.set([(9, True), (5, True)])
    assert follower.says()[9] is Says.NOTHING and follower.says()[5] is Says.INPUT


def test_an_input_too_heavy_for_m_is_not_known_to_be_low() -> None:
    follower = Follower(named("181"))                               # CN, pin 7: five unit loads, 10 mA in the S type
    lead(follower, Pattern(((7, False),)), held=[7])
    assert follower.says()[7] is Says.UNKNOWN
    lead(follower, Pattern(()), held=[])
    assert follower.says()[7] is Says.INPUT
    nand = Follower(named("00"))                                    # no 7400 is like that: 2 mA at most
    lead(nand, Pattern(((1, False), (2, True))), held=[1])
    assert (nand.says()[1], nand.says()[3]) == (Says.INPUT, Says.HIGH)


def test_what_m_gives_goes_through_an_analog_switch() -> None:
    follower = Follower(named("4066"))                              # 1X 1, 1Y 2, 1C 13
    follower.set([(1, True), (2, True), (13, True)])
    assert (follower.says()[1], follower.says()[2]) == (Says.INPUT, Says.HIGH)
    follower.set([(2, False)])
    assert (follower.says()[1], follower.says()[2]) == (Says.UNKNOWN, Says.UNKNOWN)
    follower.set([(13, False)])
    assert (follower.says()[1], follower.says()[2]) == (Says.INPUT, Says.OFF)


def test_sides_that_hold_each_other_are_not_moved_by_m() -> None:
    follower = Follower(named("623"))                               # GAB 1, A1 2, GBA 19 (low: B to A), B1 18
    follower.set([(18, False)])
    follower.set([(19, False)])
    follower.set([(1, True)])                                       # both ways on
    follower.set([(2, True)])
    follower.set([(18, True)])
    assert (follower.says()[2], follower.says()[18]) == (Says.LOW, Says.LOW)


def test_a_copy_goes_its_own_way() -> None:
    follower = Follower(named("245"))
    follower.set([(1, True), (19, False), (2, True)])
    twin = follower.copy()
    twin.set([(2, False)])
    assert (follower.says()[18], twin.says()[18]) == (Says.HIGH, Says.LOW)


def test_what_all_call_an_output_is_not_driven() -> None:
    assert drivable([named("00"), named("08")]) == {1, 2, 4, 5, 9, 10, 12, 13}
    assert 3 in drivable([named("00"), named("02")])                # 02: pin 3 is an input


def test_information_is_in_bits() -> None:
    low, high = {1: Says.LOW}, {1: Says.HIGH}
    even = {"a": 0.5, "b": 0.5}
    assert information({"a": low, "b": high}, even) == pytest.approx(1.0)
    assert information({"a": low, "b": low}, even) == 0.0
    assert information({"a": low, "b": {1: Says.UNKNOWN}}, even) == 0.0
    assert 0 < information({"a": low, "b": high}, {"a": 0.9, "b": 0.1}) < 0.5


def told_apart(one: str, other: str) -> bool:
    """True if the patterns that are chosen make the two say different things."""
    live = [Follower(named(one)), Follower(named(other))]
    drive = drivable(f.candidate for f in live)
    choice = best(live, {f.candidate: 0.5 for f in live}, drive)
    if choice is None:
        return False
    found = False
    for pattern in choice.patterns:
        for follower in live:
            lead(follower, pattern)
        found = found or pattern.look and differ(live[0].says(), live[1].says())
    assert found, "bits were promised"
    return True


@pytest.mark.parametrize(("one", "other"), [("160", "161"), ("190", "191"), ("00", "03"), ("174", "378"), ("373", "374")])
def test_the_logic_tests_know_how_to_tell(one: str, other: str) -> None:
    """A decade and a binary counter differ from the tenth clock on; random levels do not get there."""
    assert told_apart(one, other)


@pytest.mark.parametrize(("one", "other"), [("00", "37"), ("04", "14"), ("00", "132")])
def test_twins_are_not_told_apart(one: str, other: str) -> None:
    assert not told_apart(one, other)


def test_a_better_pattern_tells_an_and_from_an_or() -> None:
    live = [Follower(named("08")), Follower(named("32"))]
    pins = sorted(drivable(f.candidate for f in live))
    weight: dict[object, float] = {f.candidate: 0.5 for f in live}
    pattern = better_pattern(live, weight, {}, pins, random.Random(1))
    for follower in live:
        lead(follower, pattern)
    assert information({f.candidate: f.says() for f in live}, weight) > 0.99


def test_a_logic_test_drives_only_what_may_be_driven() -> None:
    patterns = played(named("74"), frozenset({1, 2, 3, 4}))
    assert {pin for pattern in patterns for pin, _ in pattern.changes} == {1, 2, 3, 4}
    assert all(isinstance(p, Pattern) and p.look for p in patterns)


@pytest.mark.parametrize("function", ["51", "54", "74"])
def test_a_candidate_is_called_by_what_its_families_are(function):
    """The 7451 and the 74LS51 are two gates of one number."""
    for candidate in (c for c in library() if c.function == function):
        assert {candidate.title} == {load_part(type_name(function, family, 74)).title for family in candidate.families}
