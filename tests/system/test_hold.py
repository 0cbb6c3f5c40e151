"""A chip of the virtual fixture held by hand.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest
import rig
from inprocess import BOOT_S, part

from sagbench.device import Device
from sagbench.hold.hold import Held, Hold, NotPowered
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
