"""Which lines drive an input: levels worked out by hand with 587 ohm (M), 297 ohm (S), 197 ohm (both).

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from sagbench.errors import DeviceError
from sagbench.parts import load_part
from sagbench.parts.model import Role
from sagbench.plan.drive import LOW_V, Drive, by_m, lines_for, plan_drive, room_for_load
from sagbench.plan.fixture import M_LINE, S_LINE, load_fixture
from sagbench.plan.rails import Rails, rails
from sagbench.plan.seat import Seat

FIXTURE = load_fixture("bench24")
BOTH = M_LINE | S_LINE


@pytest.mark.parametrize(
    ("milliamps", "lines", "why"),
    [
        (0.4, M_LINE, "LS: 0.4 mA * 587 ohm = 0.23 V"),
        (1.0, M_LINE, "0.587 V"),
        (1.6, S_LINE, "standard: 1.6 mA * 297 ohm = 0.48 V; M would make 0.94 V, above VIL"),
        (2.0, S_LINE, "S, H: 0.594 V"),
        (3.0, BOTH, "two unit loads: 3.0 mA * 197 ohm = 0.59 V"),
        (3.2, BOTH, "no line keeps it under 0.6 V, both come nearest: 0.63 V, still below VIL of 0.8 V"),
    ],
)
def test_a_low_input_gets_the_lightest_line_that_holds_it_down(milliamps, lines, why):
    assert lines_for(FIXTURE, milliamps) == lines, why


def test_lines_hold_what_they_are_chosen_for():
    for tenth in range(31):
        lines = lines_for(FIXTURE, tenth / 10)
        assert lines == BOTH or FIXTURE.line_ohm(lines) * tenth / 1e4 <= LOW_V


def test_masks_say_which_positions_drive_and_which_are_high():
    drive = Drive(Seat(24, 14), {1: M_LINE, 2: S_LINE, 13: BOTH})
    assert drive.masks({1: True, 2: False, 13: True, 5: True}) == (1 | 1 << 22, 2 | 1 << 22, 1 | 1 << 22)
    assert drive.masks({1: None, 2: False}) == (0, 2, 0)
    assert drive.strong == (2, 23)


def test_a_second_ground_is_low_whatever_the_levels():
    """4051: VEE at pin 7 (M holds it), VSS at 8 (the switch), as the makers' data books have them."""
    part, seat = load_part("4051"), Seat(24, 16)
    drive = plan_drive(FIXTURE, part, seat)
    assert 7 not in drive.lines and rails(FIXTURE, part, seat) == Rails((24,), 8)
    for each in (drive, by_m(FIXTURE, drive)):
        assert each.masks({})[0] == each.masks({7: True, 9: None})[0] == 1 << 6
        m_on, s_on, high = each.masks({9: True})
        assert m_on | s_on == 1 << 6 | 1 << 16 and high == 1 << 16


def test_a_second_ground_of_a_bipolar_part_is_refused():
    """Its supply current would come back through a line of some 600 ohm."""
    part = load_part("7400")
    two = replace(part, pins=tuple(replace(p, role=Role.GROUND) if p.number == 1 else p for p in part.pins))
    with pytest.raises(DeviceError, match=r"it switches one ground pin, not pin 1 \(1A\), pin 7 \(GND\)"):
        rails(FIXTURE, two, Seat(24, 14))


def test_pins_with_a_short_are_left_alone_or_get_m_only():
    drive = plan_drive(FIXTURE, load_part("7400"), Seat(24, 14), held=[1], weak=[4, 5])
    assert 1 not in drive.lines and drive.lines[4] == drive.lines[5] == M_LINE
    assert drive.lines[2] == S_LINE


def test_a_bus_pin_is_never_driven_by_s_however_much_it_delivers():
    """74F243: 1.6 mA, 2.67 unit loads, but off at power-on or an output; the 7447's blanking pin is pulled up and never off."""
    for name in ("74F243", "74F242"):
        part = load_part(name)
        drive = plan_drive(FIXTURE, part, Seat(24, 14))
        assert drive.shared and all(drive.lines[pin] == M_LINE for pin in drive.shared)
    assert plan_drive(FIXTURE, load_part("7447"), Seat(24, 16)).lines[4] & S_LINE


def test_a_part_with_many_inputs_leaves_room_for_the_heaviest_load():
    # 22 inputs on M count 22 * 9.14 = 201 mA, with the load of 43 mA far above the 195 mA allowed
    all_m = {p: M_LINE for p in range(1, 23)}
    assert not room_for_load(FIXTURE, all_m)
    assert room_for_load(FIXTURE, {p: S_LINE for p in all_m})  # 22 * 4 + 43 mA
