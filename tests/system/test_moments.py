"""A chip that is pulled, or breaks, in the middle of a sweep is never called sound, and nothing stays powered.

Host and fixture in one process (tests/inprocess.py); moments are simulated seconds after the chip is powered first.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from inprocess import sweep_here
from rig import ROOT
from virtual_fixture.commands import prepare
from virtual_fixture.inproc import Fixture

DEMO = ROOT / "tests/virtual_fixture/chips/demo"


@pytest.mark.parametrize("command", [
    *(f"powered {moment} pull" for moment in (0.01, 0.05, 0.1, 0.2, 0.3)),
    *(f"powered {moment} fault open pin=GND" for moment in (0.02, 0.1, 0.3)),
    "powered 0.2 fault open pin=VCC",
    "powered 0.1 fault short pin=1Y to=GND ohms=2",
    f"powered 0.1 chip {DEMO / 'shifted_7400.toml'}"])
def test_a_chip_that_leaves_is_not_sound(command: str) -> None:
    with Fixture(7, DEMO / "sound_7400.toml") as fixture:
        prepare(fixture, command)()
        swept = sweep_here(fixture, "7400")     # AssertionError if anything was driven beyond its ratings
        assert swept.record.verdict != "sound"
        assert not fixture.powered
        assert fixture.now_s < 10


@pytest.mark.parametrize("variant", ["avr", "pc"])
def test_a_controller_that_stood_still_condemns_no_chip(variant: str) -> None:
    """Frozen for 0.3 s, clock and all, the fixture finds the power gone and knows no better than that it tripped."""
    with Fixture(3, DEMO / "sound_74ls00.toml", variant) as fixture:
        fixture.at(0.2, lambda: fixture.freeze(0.3), powered=True)
        record = sweep_here(fixture, "74LS00").record
        assert record.verdict == "sound" and any("taken away once" in note for note in record.notes)


@pytest.mark.parametrize("ohms", [0.67, 5000])
def test_time_goes_on_while_a_cmos_chip_is_fed_through_its_inputs(ohms: float) -> None:
    """In the contact check such a chip has too little supply for its logic, and an input behind a bond wire stays on its way."""
    with Fixture(5, {"part": "4011", "fault": [{"kind": "series", "pin": "1A", "ohms": ohms}]}, "pc") as fixture:
        assert sweep_here(fixture, "4011").record.verdict != "not finished"
