"""A chip of the virtual fixture held by hand.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest
import rig
from inprocess import BOOT_S, part

from sagbench.device import Device
from sagbench.hold.held import Held
from sagbench.hold.hold import Hold, NotPowered
from sagbench.hold.view import picture
from virtual_fixture import commands
from virtual_fixture.inproc import Fixture

DEMO = rig.ROOT / "tests/virtual_fixture/chips/demo"


def test_a_gate_follows_its_inputs_and_power_goes_by_itself() -> None:
    with Fixture(7, DEMO / "sound_74ls00.toml") as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            hold = Hold(device, part("74LS00"))
            assert not hold.look().powered
            hold.power()
            first = hold.look()
            assert first.powered and first.amperes is not None and 0.0005 < first.amperes.value < 0.0044   # data book: ICC of an LS00
            assert first.volts[3] is not None and first.volts[3] > 2.7
            hold.set(1, Held.HIGH)
            hold.set(2, Held.HIGH)
            low = hold.look().volts[3]
            assert low is not None and low < 0.5
            hold.set(3, Held.WEAK_HIGH)                       # against a low output: the output overcomes it
            low = hold.look().volts[3]
            assert low is not None and low < 0.8 and hold.powered
            fixture.run(0.06)                                 # nobody says anything
            assert not fixture.powered
            view = hold.look()
            assert not view.powered and "switch it on again" in view.said
            hold.power()
            assert hold.look().powered and fixture.powered
            hold.off()
            assert not hold.look().powered


def test_a_counter_steps_by_single_pulses() -> None:
    with Fixture(7, {"part": "7493"}) as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            seven = part("7493")
            number = {pin.name: pin.number for pin in seven.pins}
            hold = Hold(device, seven)
            hold.power()
            for name in ("R01", "R02"):
                hold.set(number[name], Held.HIGH)
            hold.look()
            for name in ("R01", "R02"):
                hold.set(number[name], Held.LOW)
            hold.look()
            seen = []
            for _ in range(4):
                hold.clock(number["CKB"])
                volts = hold.look().volts
                seen.append(sum((1 << bit) * ((volts[number[q]] or 0) > 2) for bit, q in enumerate(("QB", "QC", "QD"))))
            assert seen == [1, 2, 3, 4]


def test_a_shorted_chip_is_not_powered() -> None:
    with Fixture(7, {"part": "74LS00", "fault": [{"kind": "short", "pin": "VCC", "to": "GND", "ohms": 1.0}]}) as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device, pytest.raises(NotPowered, match="not powered"):
            Hold(device, part("74LS00")).power()


SECOND = 1.0   # within which it is to be told,
LOOK_S = 0.25  # and how long both faces wait from one look to the next


@pytest.mark.parametrize(("name", "what"), [
    ("74LS00", "pull"), ("74LS00", "fault open pin=VCC"), ("7406", "pull"),  # by the supply current,
    ("74HC00", "pull"), ("74HC00", "fault open pin=VCC"), ("74HC245", "pull"),  # and where that is nothing, by the outputs
])  # fmt: skip
def test_a_chip_that_is_pulled_is_told_and_the_power_goes(name: str, what: str) -> None:
    with Fixture(7, {"part": name}) as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            hold = Hold(device, part(name))
            hold.power()
            for pin in [p.number for p in hold.part.inputs if not p.role.is_output]:  # each level is no reason
                hold.set(pin, Held.HIGH)
                assert hold.look().powered, hold.said
                hold.set(pin, Held.LOW)
            assert hold.look().powered and hold.look().powered
            commands.prepare(fixture, what)()
            begun = fixture.now_s
            view = hold.look()
            assert fixture.now_s - begun + LOOK_S < SECOND
            assert not view.powered and not fixture.powered and "pulled, or has lost contact" in view.said
            assert ("supply current is gone" in view.said) == (name in ("74LS00", "7406"))
            assert all(len(line) <= 80 for line in picture(hold.part, view)) and "no power" in picture(hold.part, view)[1]


def test_a_dead_output_is_no_chip_that_was_pulled() -> None:
    """A CMOS chip with no output that drives: it can be held and looked at all the same."""
    dead = [{"kind": "open", "pin": pin} for pin in ("1Y", "2Y", "3Y", "4Y")]
    with Fixture(7, {"part": "74HC00", "fault": dead}) as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            hold = Hold(device, part("74HC00"))
            hold.power()
            hold.set(1, Held.HIGH)
            assert [hold.look().powered for _ in range(3)] == [True] * 3
