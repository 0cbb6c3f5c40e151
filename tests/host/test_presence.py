"""The second voice: a program that thinks in real time is heard all the while its chip is powered, and no longer.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
import time
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from fake_device import FakeDevice

from sagbench.device import Device
from sagbench.errors import LinkLost
from sagbench.wire import numbers, steps
from sagbench.wire.loop import LoopTransport
from sagbench.wire.numbers import PassStatus, Source

POWER, READ = steps.power_on(24, 0, 7, 900), steps.read(Source.K, 1)
MANY_S = 20.0                # a machine with other work


class LiveLine(LoopTransport):
    """A loop whose clock is the wall's; `words`: when something was said, `lost`: it has been pulled."""

    def __init__(self, fake: FakeDevice) -> None:
        self.words: list[float] = []
        self.lost = False
        super().__init__(fake)

    def now(self) -> float:
        return time.monotonic()

    def read(self) -> bytes:
        self._now = time.monotonic()
        self._back.put(self._peer(self._there.get(self._now), self._now), self._now)
        came = self._back.get(self._now)
        if not came:
            time.sleep(1e-3)
        return came

    def read_at_once(self) -> bytes:
        return self.read()

    def write(self, data: bytes) -> None:
        if self.lost:
            raise LinkLost("pulled")
        self._now = time.monotonic()
        if data:
            self.words.append(self._now)
        super().write(data)


def think(line: LiveLine, words: int) -> None:
    """Compute, and never wait, until so many more words have been said."""
    until, wanted = time.monotonic() + MANY_S, len(line.words) + words
    while len(line.words) < wanted:
        assert time.monotonic() < until
        sum(range(10_000))


def test_a_program_that_computes_is_heard_and_its_passes_are_whole() -> None:
    fake = FakeDevice()
    line = LiveLine(fake)
    with Device(line) as device:
        device.run_pass([POWER])
        for _ in range(5):
            think(line, 6)
            result = device.run_pass([READ] * 300)
            assert result.status is PassStatus.COMPLETE and result.readings == tuple(range(300))
        assert fake.powered and fake.hellos == 1
        device.run_pass([steps.power_off()])
        count = len(line.words)
        time.sleep(5 * numbers.PRESENCE_MS / 1000)
        assert len(line.words) <= count + 1                    # the thread may have been in the middle of a word


def test_nobody_speaks_of_an_unpowered_chip_or_behind_a_closed_device() -> None:
    line = LiveLine(FakeDevice())
    device = Device(line)
    device.run_pass([READ])
    count = len(line.words)
    time.sleep(5 * numbers.PRESENCE_MS / 1000)
    assert len(line.words) == count
    device.run_pass([POWER])
    think(line, 2)
    device.close()
    count = len(line.words)
    time.sleep(5 * numbers.PRESENCE_MS / 1000)
    assert len(line.words) == count


def test_a_line_that_is_lost_meanwhile_is_left_to_the_next_pass() -> None:
    line = LiveLine(FakeDevice())
    device = Device(line)
    device.run_pass([POWER])
    line.lost = True
    time.sleep(5 * numbers.PRESENCE_MS / 1000)                 # nothing is raised, and nothing printed
    with pytest.raises(LinkLost, match="pulled"):
        device.run_pass([READ])
    device.close()


def test_a_device_that_is_not_heard_any_more_is_not_kept_powered() -> None:
    fake = FakeDevice()
    line = LiveLine(fake)
    device = Device(line)
    device.run_pass([POWER])
    device._silence = 0.2
    think(line, 2)
    fake.mute = True
    begun = time.monotonic()
    until = begun + MANY_S
    while line.words[-1] > time.monotonic() - 0.2:             # it falls silent, too
        assert time.monotonic() < until
        time.sleep(1e-2)
    assert line.words[-1] - begun > 0.05
    device.close()
