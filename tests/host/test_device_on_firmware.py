"""The host's half of the wire against the real firmware image, in the virtual fixture.

Needs `make virtual`.  What is read is not looked at here, only that it comes, and once.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import time
from collections.abc import Iterator

import pytest
from rig import virtual_port

from sagbench.device import Device
from sagbench.errors import NoDevice
from sagbench.wire import steps
from sagbench.wire.numbers import EventKind, LineLevel, PassStatus, Reference, Source


@pytest.fixture(scope="module")
def port() -> Iterator[str]:
    with virtual_port(None, 11) as name:
        yield name


@pytest.fixture
def device(port: str) -> Iterator[Device]:
    with Device.connect(port) as found:
        yield found


def test_who_it_is(device: Device, port: str) -> None:
    assert device.info.port == port and device.info.wiring == "bench24" and device.info.positions == 24
    assert device.model()["socket"]["positions"] == device.info.positions


def test_every_reading_comes_once(device: Device) -> None:
    sequence = [steps.reference(Reference.AVCC), steps.sense(3, 1, LineLevel.HIGH),
                *[steps.read(Source.K, 1)] * 300, *[steps.scan(0xFFFFFF, 1)] * 10]
    result = device.run_pass(sequence)
    assert result.status is PassStatus.COMPLETE and not result.events
    assert len(result.readings) == 300 + 240 == result.conversions
    assert result.steps == len(sequence) + 1
    assert all(code is not None for code in result.readings)


def test_a_bad_step_is_told_and_the_next_pass_runs(device: Device) -> None:
    verified = steps.pin(3, 2, 1)                      # S driven where nothing has been verified
    result = device.run_pass([steps.read(Source.VREF, 4), verified, *[steps.read(Source.VREF, 4)] * 50])
    assert result.status is not PassStatus.COMPLETE
    assert result.events[-1].kind in (EventKind.NOT_VERIFIED, EventKind.BAD_STEP)
    assert len(device.run_pass([steps.read(Source.VREF, 4)]).readings) == 1


def test_interrupt_and_halt(device: Device) -> None:
    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt
    with pytest.raises(KeyboardInterrupt):
        device.run_pass([steps.read(Source.K, 64)] * 300, on_progress=stop)
    state = device.halt()
    assert state.powered == 0 and state.pass_running == 0
    assert len(device.run_pass([steps.read(Source.VREF, 4)]).readings) == 1


def test_the_lease_runs_out_and_a_new_session_is_no_trouble(device: Device) -> None:
    time.sleep(2.5)
    assert len(device.run_pass([steps.read(Source.VREF, 4)]).readings) == 1


def test_serial_number_is_kept(port: str) -> None:
    with Device.connect(port) as device:
        device.set_serial(0x00C0FFEE)
    with Device.connect(port) as device:
        assert device.info.serial == 0x00C0FFEE


def test_a_second_program_is_told_that_the_port_is_in_use(port: str, device: Device) -> None:
    with pytest.raises(NoDevice, match="in use by another program"):
        Device.connect(port)
