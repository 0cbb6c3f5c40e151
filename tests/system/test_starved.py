"""A computer that has no time for the fixture for a moment spoils nothing: what the silence ended is played again.

Simulated time: "no time" is time that the fixture is let run while the host does nothing, or a line to it that is cut.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from faults.line import CLEAN, FaultyTransport
from identify_here import library
from inprocess import BOOT_S, part, sweep_here
from sagbench.device import Device
from sagbench.errors import DeviceError, SagbenchError
from sagbench.hold.held import Held
from sagbench.hold.hold import Hold
from sagbench.identify.run import identify
from sagbench.learn.draft import About
from sagbench.learn.socket import learn_here
from virtual_fixture.inproc import Fixture

DEMO = Path(__file__).parents[1] / "virtual_fixture/chips/demo"
AWAY_S = 0.06


class _Cut(Fixture):
    """Its way from the host can be cut."""

    made: FaultyTransport

    @property
    def line(self) -> Any:
        self.made = FaultyTransport(super().line, CLEAN, self.seed)
        return self.made

    def cut(self, seconds: float = AWAY_S) -> None:
        """Nothing the host says arrives for so long from now."""
        self.made.there.cut = (self.now_s, self.now_s + seconds)


def away(fixture: Fixture, when: Callable[[str], bool]) -> Callable[[str, int, int], None]:
    """A progress callback during which the fixture hears nothing."""
    def told(stage: str, done: int, total: int) -> None:
        if when(stage):
            fixture.run(AWAY_S)
    return told


@pytest.mark.parametrize(("chip", "marking", "verdict"), [("sound_74ls00", "74LS00", "sound"), ("tired_74ls00", "74LS00", "not sound")])
def test_silences_between_passes_change_no_verdict(chip: str, marking: str, verdict: str) -> None:
    """In front of each stage; the chip was powered there, and each time it is powered again."""
    with Fixture(5, DEMO / f"{chip}.toml") as fixture:
        done = sweep_here(fixture, marking, progress=away(fixture, lambda stage: True))
        silenced = [one for one in done.passes if one.silenced]
        assert len(silenced) >= 4 and all(not one.readings for one in silenced)
        assert done.record.verdict == verdict and not done.record.partial
        assert not any("taken away" in note for note in done.record.notes)


@pytest.mark.parametrize("moment_s", [0.002, 0.01, 0.03, 0.06, 0.1, 0.15, 0.2, 0.25, 0.3])
def test_a_silence_in_a_pass_changes_no_verdict(moment_s: float) -> None:
    with _Cut(5, DEMO / "sound_74ls00.toml") as fixture:
        fixture.at(moment_s, fixture.cut, powered=True)
        done = sweep_here(fixture, "74LS00")
        assert done.record.verdict == "sound" and not done.record.partial


def test_a_line_that_stays_cut_one_way_ends_in_words() -> None:
    """The device's way to the host is whole: it says why it is without power, and nothing the host says arrives."""
    with _Cut(5, DEMO / "sound_74ls00.toml") as fixture:
        fixture.at(0.1, lambda: fixture.cut(math.inf), powered=True)
        with pytest.raises(SagbenchError, match="silent|answers no more|heard nothing|does not answer"):
            sweep_here(fixture, "74LS00")
        assert not fixture.powered


def test_a_computer_that_is_always_late_is_told_so(monkeypatch: pytest.MonkeyPatch) -> None:
    with Fixture(5, DEMO / "sound_74ls00.toml") as fixture:
        whole = Device.run_pass

        def late(device: Device, sequence: Any, **options: Any) -> Any:
            if fixture.powered:
                fixture.run(AWAY_S)
            return whole(device, sequence, **options)
        monkeypatch.setattr(Device, "run_pass", late)
        with pytest.raises(DeviceError, match="heard nothing of this program for 50 ms .*says nothing against the chip.*Close what keeps"):
            sweep_here(fixture, "74LS00")
        assert not fixture.powered and fixture.truth.supply.powered_s < 1.0


def test_a_held_chip_says_why_it_has_lost_its_power_and_comes_back() -> None:
    with Fixture(5, DEMO / "sound_74ls00.toml") as fixture:
        fixture.run(BOOT_S)
        with Device(fixture.line) as device:
            hold = Hold(device, part("74LS00"))
            hold.power()
            hold.set(1, Held.HIGH)
            assert hold.look().powered
            fixture.run(AWAY_S)
            view = hold.look()
            assert not view.powered and not fixture.powered and view.said.startswith("This computer was too busy")
            hold.power()
            assert hold.look().powered and fixture.powered


def test_identify_begins_again() -> None:
    with Fixture(5, DEMO / "sound_74ls00.toml") as fixture:
        fixture.run(BOOT_S)
        times: list[str] = []

        def told(stage: str, left: int) -> None:
            times.append(stage)
            if stage != "seating" and len(times) == 2:
                fixture.run(AWAY_S)
        with Device(fixture.line) as device:
            found = identify(device, library(), progress=told)
        assert found.found and "00" in {member.function for member in found.ranked[0].members}
        assert times.count("patterns") >= 2


def test_learn_begins_again() -> None:
    with Fixture(5, DEMO / "sound_74ls00.toml") as fixture:
        fixture.run(BOOT_S)
        times: list[str] = []

        def told(stage: str, *_: int) -> None:
            times.append(stage)
            if len(times) == 2:
                fixture.run(AWAY_S)
        with Device(fixture.line) as device:
            tried = learn_here(device, About("9300", "LS", 14, (14,), (7,)), progress=told)
        assert tried.passed and times.count(times[0]) >= 2
