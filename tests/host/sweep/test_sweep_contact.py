"""Chips that are not where they should be, or not any more: told as that, and not as an empty socket or bad outputs.

SPDX-License-Identifier: MIT
"""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "measure"))
from ideal import IdealChip, IdealDevice  # noqa: E402

from sagbench.errors import DeviceError  # noqa: E402
from sagbench.judge import contact as judge  # noqa: E402
from sagbench.parts import load_part  # noqa: E402
from sagbench.plan.fixture import load_fixture  # noqa: E402
from sagbench.plan.seat import Seat, seatings  # noqa: E402
from sagbench.record import Contact, Verdict  # noqa: E402
from sagbench.sweep import sweep  # noqa: E402

DIP14 = {p: p if p <= 7 else p + 10 for p in range(1, 15)}
GATES_00 = {3: (1, 2), 6: (4, 5), 8: (9, 10), 11: (12, 13)}


def nands(levels):
    return {y: "L" if levels[a] and levels[b] else "H" for y, (a, b) in GATES_00.items()}


class LosingDevice(IdealDevice):
    """An ideal fixture whose chip changes once the given step comes for the n-th time."""

    def __init__(self, chip, step, count, after):
        super().__init__(chip)
        self.info.wiring_id = load_fixture("bench24").wiring_id
        self._step, self._left, self._after = step, count, after

    def run_pass(self, sequence):
        for step in sequence:
            if step.name == self._step:
                self._left -= 1
        if self._left <= 0:
            self._left, self.chip = 10**9, self._after
            self.powered = self.powered and self._after is not None
        return super().run_pass(sequence)


@pytest.mark.parametrize(("step", "count"), [("load_scan", 1), ("load", 1), ("ramp", 1), ("load_scan", 9)])
def test_a_chip_pulled_in_mid_sweep_is_told_as_lost_contact(step, count):
    record = sweep(LosingDevice(IdealChip(DIP14, 14, 7, nands), step, count, None), load_part("7400"))
    assert record.verdict is Verdict.INCOMPLETE and record.partial == "contact lost"
    assert "taken out, or lost contact, during the sweep" in record.advice
    assert not record.logic and not any(p.findings and p.findings[0].value for p in record.pins)
    assert all(c.contact is Contact.NOT_MEASURED for c in record.contacts)


def standing(device):
    device.info.wiring_id = load_fixture("bench24").wiring_id
    return device


def test_a_supply_that_dipped_for_a_moment_is_told_and_gives_no_verdict():
    device = standing(IdealDevice(IdealChip(DIP14, 14, 7, nands)))
    device.powered_rail = 4.7
    with pytest.raises(DeviceError, match=r"dipped to 4\.(69|70) V while"):
        sweep(device, load_part("7400"))


def test_a_chip_whose_supply_current_was_nothing_for_a_moment_was_out_of_its_socket():
    """Zero: 18 V/A times (5.0 + 8.32) mA, code 49; the chip takes 8 mA and more in both states, 29 codes."""
    for least, lost in ((51, True), (76, False)):
        device = standing(IdealDevice(IdealChip(DIP14, 14, 7, nands, lambda levels: 0.008)))
        device.icc_least = least
        record = sweep(device, load_part("7400"))
        assert (record.partial == "contact lost") is lost


def test_a_leg_that_lets_go_is_named():
    after = IdealChip(DIP14, 14, 7, nands, open=frozenset({3}))
    record = sweep(LosingDevice(IdealChip(DIP14, 14, 7, nands), "load_scan", 3, after), load_part("7400"))
    assert record.verdict is Verdict.INCOMPLETE and "pin 3 (1Y) lost contact during the sweep" in record.advice


def test_a_chip_one_row_too_high_is_told_so_though_two_pins_hang_in_the_air():
    """Pin 1 and pin 14 stand out above the socket; pin 7 is in position 6, pin 8 in position 19."""
    high = {p: p - 1 if p <= 7 else p + 11 for p in range(1, 15)}
    device = IdealDevice(IdealChip(high, 14, 7, nands))
    device.info.wiring_id = load_fixture("bench24").wiring_id
    record = sweep(device, load_part("7400"))
    assert record.verdict is Verdict.INCOMPLETE and "1 row too high" in record.advice


def test_seatings_too_high_come_after_all_others_of_the_same_way_round():
    ways = [s for s in seatings(24, [14]) if not s.reversed]
    assert [s.shift for s in ways] == [0, 1, 2, 3, 4, 5, -1, -2]
    assert [Seat(24, 14, -1).position(p) for p in (1, 2, 7, 8, 13, 14)] == [0, 1, 6, 19, 24, 25]
    assert not Seat(24, 14, -1).has(1) and not Seat(24, 14, -1).has(14) and Seat(24, 14, -1).has(13)


def rows_of(conducts):
    """Raised position -> what conducts; nothing from any other."""
    return {p: conducts.get(p, {}) for p in range(1, 25)}


def test_an_open_ground_is_told_from_an_empty_socket_by_what_conducts_from_the_supply():
    """A bipolar chip without ground, textbook models: 1.8 V through base resistors to inputs, 1.5 V through pull-ups."""
    part, seat = load_part("7400"), Seat(24, 14)
    outputs = {3, 6, 8, 11}
    signals = {p: 1.5 if p in outputs else 1.8 for p in range(1, 14) if p != 7}
    from_supply = {seat.position(p): drop for p, drop in signals.items()}
    assert judge.ground_is_open(part, seat, rows_of({24: from_supply}))
    assert not judge.ground_is_open(part, seat, rows_of({}))
    assert not judge.ground_is_open(part, seat, rows_of({24: from_supply, 7: {1: 0.7}}))
    assert not judge.ground_is_open(part, seat, rows_of({24: {**from_supply, 12: 0.7}}))
    turned = dict.fromkeys(from_supply, 0.7)  # single junctions: that pin is the ground of a chip the wrong way round
    assert not judge.ground_is_open(part, seat, rows_of({24: turned}))
    report = judge.without_ground(part)
    assert report.pins[6].contact is Contact.OPEN and "pin 7 (GND)" in report.problem
    assert all(p.contact is Contact.NOT_MEASURED for p in report.pins if p.pin != 7)
