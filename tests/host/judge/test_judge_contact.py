"""The contact check judged.

Drops are those of transistor-level models in ngspice at half a milliampere: LS input 0.42 V, output and supply 0.71 V;
7400 0.70 to 0.72 V; HC and 4000 0.64 to 0.72 V; reversed 7400 1.5 to 2.1 V, reversed CMOS none.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.contact import find_seating, judge_contact, looks_seated, not_seated
from sagbench.parts import load_part
from sagbench.plan.seat import Seat
from sagbench.record import Contact

SIZES = (14, 16, 18, 20, 22, 24)
PART = load_part("74LS00")
TOP = Seat(24, 14)
INPUTS = (1, 2, 4, 5, 9, 10, 12, 13)


def from_ground(seat, part=PART):
    """What a sound chip in this seating shows when its ground pin is raised: position -> drop."""
    drops = dict.fromkeys(range(1, 25))
    for pin in part.pins:
        if pin.number != 7:
            drops[seat.position(pin.number)] = 0.42 if pin.number in INPUTS else 0.71
    del drops[seat.position(7)]
    return drops


def nothing():
    return dict.fromkeys(range(1, 25))


def test_a_sound_chip_looks_seated_and_all_pins_connected():
    drops = from_ground(TOP)
    assert looks_seated(PART, TOP, drops)
    report = judge_contact(PART, TOP, drops, {})
    assert all(p.contact is Contact.CONNECTED for p in report.pins) and not report.problem


@pytest.mark.parametrize("seat", [Seat(24, 14, 1), Seat(24, 14, 3), Seat(24, 14, 0, True), Seat(24, 14, 2, True)])
def test_a_chip_elsewhere_is_found_and_described(seat):
    rows = {p: nothing() for p in range(1, 25)}
    rows[seat.position(7)] = from_ground(seat)
    assert not looks_seated(PART, TOP, rows[TOP.position(7)])
    found, share = find_seating(PART, TOP, SIZES, rows)
    assert found == seat and share == 1.0
    sentence = not_seated(PART, TOP, found, share)
    assert ("wrong way round" in sentence) == seat.reversed and ("too low" in sentence) == (seat.shift > 0)


def test_a_reversed_ttl_chip_shows_drops_of_more_than_one_junction_and_does_not_look_seated():
    drops = dict.fromkeys(range(1, 25)) | {p: 1.6 for p in TOP.positions if p != 7}
    assert not looks_seated(PART, TOP, drops)


def test_one_pin_behind_a_resistance_is_no_other_seating_but_two_are_strange():
    assert looks_seated(PART, TOP, from_ground(TOP) | {1: 3.4})
    assert not looks_seated(PART, TOP, from_ground(TOP) | {1: 3.4, 2: 3.4})


def test_a_bigger_chip_is_told_by_its_size():
    seat = Seat(24, 16)
    rows = {p: nothing() for p in range(1, 25)}
    rows[8] = {p: 0.7 if p in seat.positions and p != 8 else None for p in range(1, 25)}
    found, share = find_seating(PART, TOP, SIZES, rows)
    assert found == seat and "16 pins" in not_seated(PART, TOP, found, share)


def test_an_empty_socket_is_told_as_such():
    found, share = find_seating(PART, TOP, SIZES, {p: nothing() for p in range(1, 25)})
    assert found is None and "empty" in not_seated(PART, TOP, found, share)


def test_an_open_pin_is_named():
    drops = from_ground(TOP) | {TOP.position(10): None}
    report = judge_contact(PART, TOP, drops, {})
    assert [p.pin for p in report.pins if p.contact is Contact.OPEN] == [10] and "pin 10 (3B)" in report.pins[
        9
    ].sentence


def test_a_pin_that_is_not_connected_by_its_data_sheet_is_not_missed():
    part = load_part("74LS20")
    nc = [p.number for p in part.pins if p.role.value == "not connected"]
    drops = {TOP.position(p.number): 0.7 for p in part.pins if p.number not in (*nc, 7)}
    report = judge_contact(part, TOP, drops, {})
    assert nc and all(report.pins[n - 1].contact is Contact.NOT_EXPECTED for n in nc)


def test_supply_shorted_to_ground_forbids_power():
    report = judge_contact(PART, TOP, from_ground(TOP) | {24: 0.01}, {})
    assert "not powered" in report.problem and report.pins[13].contact is Contact.SHORTED


@pytest.mark.parametrize("ohms, words", [
    (12.0, "is shorted to ground (GND)"), (93.0, "is tied to ground (GND) by about 90 ohm"),
    (310.0, "is tied to ground (GND) by about 300 ohm"),
])
def test_a_leak_that_is_no_plain_short_is_given_in_ohms(ohms, words):
    report = judge_contact(PART, TOP, from_ground(TOP) | {1: 0.02}, {}, {(1, 7): ohms, (7, 1): ohms + 40})
    assert report.pins[0].contact is Contact.SHORTED and report.pins[0].sentence == f"pin 1 (1A) {words}"


def test_shorts_say_what_may_still_be_driven():
    rails = judge_contact(PART, TOP, from_ground(TOP) | {1: 0.02}, {2: {24}})
    assert rails.held == {1, 2} and rails.stuck == {1: False, 2: True}, (
        "inputs tied to a rail: left alone, their level is known"
    )
    pair = judge_contact(PART, TOP, from_ground(TOP), {1: {2}})
    assert pair.weak == {1, 2} and not pair.held, "two inputs: driven by M only"
    fed = judge_contact(PART, TOP, from_ground(TOP), {1: {3}})
    assert fed.held == {1} and fed.spoilt == {3}, "an input on an output: the output drives it"
