"""Where pins are in the socket; positions counted off by hand on a drawing of a 24-position socket, chip at the top.

SPDX-License-Identifier: MIT
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.plan.seat import Seat, mask, of_mask, seatings


@pytest.mark.parametrize(
    ("size", "pin", "position"),
    [
        (14, 1, 1),
        (14, 7, 7),
        (14, 8, 18),
        (14, 14, 24),
        (16, 8, 8),
        (16, 9, 17),
        (16, 16, 24),
        (20, 10, 10),
        (20, 11, 15),
        (24, 12, 12),
        (24, 13, 13),
        (24, 24, 24),
    ],
)
def test_a_chip_at_the_top_has_its_pins_there(size, pin, position):
    assert Seat(24, size).position(pin) == position
    assert Seat(24, size).pin_at(position) == pin


def test_one_row_too_low_moves_both_rows_away_from_the_top():
    assert Seat(24, 14, shift=1).position(1) == 2 and Seat(24, 14, shift=1).position(14) == 23


def test_the_wrong_way_round_puts_the_supply_pin_where_ground_should_be():
    assert Seat(24, 14, reversed=True).position(14) == 7 and Seat(24, 14, reversed=True).position(7) == 24


def test_seatings_of_a_14_pin_chip_are_six_rows_and_two_above_the_socket_two_ways():
    assert len(seatings(24, [14])) == 16 and seatings(24, [14])[0] == Seat(24, 14)


@given(st.sampled_from(seatings(24, [14, 16, 18, 20, 22, 24])))
def test_every_seating_gives_each_pin_a_position_of_its_own(seat):
    assert len(set(seat.positions)) == seat.size
    outside = sum(not 1 <= p <= 24 for p in seat.positions)
    assert outside == (0 if seat.shift >= 0 else -2 * seat.shift)  # a row is two pins
    assert all(seat.pin_at(seat.position(pin)) == pin for pin in range(1, seat.size + 1))


@given(st.sets(st.integers(1, 24)))
def test_masks_and_positions_are_the_same_thing(positions):
    assert set(of_mask(mask(positions))) == positions
