"""The device as the host sees it, over a line that is a function.  SPDX-License-Identifier: MIT"""
import os
import pty
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from fake_device import FakeDevice

from sagbench.calibrate import passes
from sagbench.device import TRIES, Device
from sagbench.errors import DeviceError, LinkLost, NoDevice, NotOurs, WrongApiLevel
from sagbench.plan.recipe import Recipe
from sagbench.wire import numbers, steps
from sagbench.wire.code import packed
from sagbench.wire.loop import Faults, LoopTransport
from sagbench.wire.numbers import EventKind, PassStatus, Source
from sagbench.wire.serial import find_port


def joined(fake: FakeDevice, faults: Faults = Faults(), seed: int = 0) -> tuple[Device, LoopTransport]:
    line = LoopTransport(fake, faults, seed)
    return Device(line), line


def test_connects_and_says_who_it_is() -> None:
    device, _ = joined(FakeDevice(serial=42))
    assert (device.info.serial, device.info.firmware, device.info.positions) == (42, "1.2", 24)
    assert device.info.wiring == ""
    with pytest.raises(DeviceError, match="00000007"):
        device.model()


def test_knows_its_own_wiring() -> None:
    from hardware.wiring import load
    fixture = load()
    device, _ = joined(FakeDevice(wiring_id=fixture.id))
    assert device.info.wiring == fixture["fixture"]["name"]
    assert device.model()["socket"]["positions"] == 24


def test_a_fixture_without_serial_number() -> None:
    assert joined(FakeDevice())[0].info.serial is None


def test_silence_is_no_device() -> None:
    with pytest.raises(NoDevice, match="Nothing answers at loop"):
        Device(LoopTransport(lambda data, now: b""))


def test_chatter_is_not_ours() -> None:
    with pytest.raises(NotOurs, match="sends"):
        Device(LoopTransport(lambda data, now: b"ok\r\n\x00"))


def test_wrong_magic_is_not_ours() -> None:
    with pytest.raises(NotOurs):
        joined(FakeDevice(magic=b"GASB"))


def test_other_api_level_even_with_other_fields() -> None:
    with pytest.raises(WrongApiLevel, match="API level 9"):
        joined(FakeDevice(api_level=9))


def test_old_chatter_before_the_welcome_does_no_harm() -> None:
    fake = FakeDevice()
    calls = iter(range(10 ** 9))

    def peer(data: bytes, now: float) -> bytes:
        return (b"half a fra\x00" if next(calls) == 0 else b"") + fake(data, now)
    assert Device(LoopTransport(peer)).info.positions == 24


def test_a_pass_of_many_frames() -> None:
    device, _ = joined(FakeDevice())
    sequence = [steps.drive(1, 1, 0, 0), *[steps.read(Source.K, 4)] * 500, steps.scan(0xFFFFFF, 1)]
    seen: list[tuple[int, int]] = []
    result = device.run_pass(sequence, on_progress=lambda done, total: seen.append((done, total)))
    assert result.status is PassStatus.COMPLETE
    assert list(result.readings) == list(range(524))
    assert result.steps == 503 and result.conversions == 500 * 4 + 24
    assert seen[-1] == (524, 524) and seen == sorted(seen)


def test_passes_follow_each_other() -> None:
    device, _ = joined(FakeDevice())
    assert [device.run_pass([steps.read(Source.K, 1)]).readings for _ in range(300)] == [(0,)] * 300


def test_what_was_not_measured_is_none() -> None:
    fake = FakeDevice()
    fake.shorted = {3}
    device, _ = joined(fake)
    result = device.run_pass([steps.load(p, 2, 0, 1, 0, 1, 50) for p in (2, 3, 4)])
    assert result.readings == (0, None, 2)
    assert [(e.kind, e.position, e.reading) for e in result.events] == [(EventKind.SHORT, 3, 1)]


def test_a_pass_ended_by_a_fault_is_a_result() -> None:
    fake = FakeDevice()
    fake.fault_at = 30
    device, _ = joined(fake)
    result = device.run_pass([steps.read(Source.K, 1)] * 900)
    assert result.status is PassStatus.FAULT and len(result.readings) == 30
    assert result.events[-1].kind is EventKind.OVER_CURRENT
    fake.fault_at = None
    assert device.run_pass([steps.read(Source.K, 1)]).readings == (0,)


@pytest.mark.parametrize("seed", range(6))
def test_a_bad_line_changes_nothing_but_time(seed: int) -> None:
    fake = FakeDevice()
    device, line = joined(fake)
    line._there.faults = line._back.faults = Faults(loss=0.05, damage=0.05, delay=0.004)
    line._there._random.seed(seed)
    result = device.run_pass([steps.read(Source.K, 1)] * 400)
    assert list(result.readings) == list(range(400))
    assert fake.hellos == 1
    assert device._link.resent + device._link.damaged > 0


def test_silence_in_mid_pass_is_link_lost() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)

    def stop(done: int, total: int) -> None:
        fake.mute = done > 50
    with pytest.raises(LinkLost, match="silent"):
        device.run_pass([steps.read(Source.K, 1)] * 200, on_progress=stop)


def test_a_reset_in_mid_pass_is_told_as_a_reset_and_with_its_cause() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)

    def restart(done: int, total: int) -> None:
        if fake.born == 0 and done > 50:
            fake.born, fake.welcome = None, {"reset_cause": 8}
    with pytest.raises(LinkLost, match=r"was reset by its watchdog in the middle of a measurement, \d\.\d s ago; the chip lost"):
        device.run_pass([steps.read(Source.K, 1)] * 200, on_progress=restart)


def test_another_cause_of_reset_or_a_clock_that_went_back_tells_a_reset_too() -> None:
    fake = FakeDevice()
    device, line = joined(fake)
    device.run_pass([steps.read(Source.K, 1)] * 400)
    before = device.state().uptime_ms / 1000
    assert before > 0
    fake.welcome = {"reset_cause": 4}
    assert "was reset by a supply too low" in str(device._fallen_silent(0.0))
    fake.born = None
    assert "was reset" in str(device._fallen_silent(100.0))


def test_one_that_was_only_silent_is_not_called_reset() -> None:
    fake = FakeDevice()
    device, line = joined(fake)

    def stop(done: int, total: int) -> None:
        fake.mute = done > 50
    seen = device._fallen_silent

    def back(silent: float) -> LinkLost:
        fake.mute = False
        return seen(silent)
    device._fallen_silent = back  # type: ignore[method-assign]
    with pytest.raises(LinkLost, match="silent for .* and answers again"):
        device.run_pass([steps.read(Source.K, 1)] * 200, on_progress=stop)


def test_interrupt_then_halt_then_go_on() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)

    def stop(done: int, total: int) -> None:
        raise KeyboardInterrupt
    with pytest.raises(KeyboardInterrupt):
        device.run_pass([steps.power_on(24, 0, 7, 900), *[steps.read(Source.K, 1)] * 200], on_progress=stop)
    assert device.halt().powered == 0
    assert fake.halts == 1 and not fake.powered
    assert device.run_pass([steps.read(Source.K, 1)]).readings == (0,)


def test_state_and_orders() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)
    assert device.state().registers_enabled == 1
    assert device.clear_faults().faults == 0
    device.set_serial(77)
    assert fake.serial == 77
    with pytest.raises(DeviceError, match="cannot be"):
        device.set_serial(0xFFFFFFFF)


def test_questions_survive_a_bad_line() -> None:
    device, line = joined(FakeDevice())
    line._there.faults = line._back.faults = Faults(loss=0.3)
    assert all(device.state().pass_running == 0 for _ in range(20))


def test_host_away_for_long_unpowered_just_starts_anew() -> None:
    fake = FakeDevice()
    device, line = joined(fake)
    line.spend(30)
    assert device.run_pass([steps.read(Source.K, 1)]).readings == (0,)
    assert fake.hellos == 2


def test_host_away_for_long_with_a_powered_chip_is_an_error() -> None:
    device, line = joined(FakeDevice())
    device.run_pass([steps.power_on(24, 0, 7, 900)])
    line.spend(30)
    with pytest.raises(LinkLost, match="too long"):
        device.run_pass([steps.read(Source.K, 1)])


def test_keep_alive_holds_the_lease() -> None:
    fake = FakeDevice()
    device, line = joined(fake)
    gaps = []
    heard = line.now()
    original = fake.__call__

    def peer(data: bytes, now: float) -> bytes:
        nonlocal heard
        if data:
            gaps.append(now - heard)
            heard = now
        return original(data, now)
    line._peer = peer
    while line.now() < 10:
        device._pump()
    assert max(gaps) <= numbers.KEEP_ALIVE_MS / 1000 + 0.01
    assert device._link.in_session


POWER, READ = steps.power_on(24, 0, 7, 900), steps.read(Source.K, 1)


def test_a_pass_that_begins_without_power_is_run_again_after_a_silence() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)
    fake.silences = TRIES - 1
    result = device.run_pass([POWER, READ])
    assert result.status is PassStatus.COMPLETE and not result.silenced and len(result.readings) == 2
    assert not fake.missed and fake.powered


def test_a_silence_again_and_again_ends_in_words() -> None:
    fake = FakeDevice()
    device, _ = joined(fake)
    fake.silences = 100
    with pytest.raises(DeviceError, match="heard nothing of this program for 50 ms .* again and again"):
        device.run_pass([POWER, READ])
    fake.silences = 0
    assert device.run_pass([READ]).status is PassStatus.COMPLETE


def test_a_pass_that_needs_a_powered_chip_is_not_run_on_an_unpowered_one() -> None:
    """Whoever asked for it must power the chip again; what takes power away, or needs none, runs."""
    for after in ([READ], [steps.power_off(), READ]):
        fake = FakeDevice()
        device, _ = joined(fake)
        device.run_pass([POWER])
        fake.missed, fake.powered = True, False            # between two passes
        result = device.run_pass(after)
        assert result.silenced is (after[0] is READ)
        assert result.readings == (() if result.silenced else (0,))
        assert device.run_pass([READ]).readings == (0,) and not fake.missed


def test_one_silence_in_a_calibration_is_told_as_one() -> None:
    """What was begun under power cannot be taken up by itself; nothing came again and again."""
    fake = FakeDevice()
    device, _ = joined(fake)
    device.run_pass([POWER])
    fake.missed, fake.powered = True, False
    recipe = Recipe()
    recipe.read(Source.VREF, 1)
    with pytest.raises(DeviceError, match="heard nothing of this program for 50 ms .*cannot be ended.*Start again") as told:
        passes.run(device, recipe)
    assert "again and again" not in str(told.value)


def test_a_word_each_ten_milliseconds_while_the_chip_is_powered() -> None:
    """In passes, too, however long they take."""
    fake = FakeDevice()
    device, line = joined(fake)
    said = [line.now()]
    original = fake.__call__

    def peer(data: bytes, now: float) -> bytes:
        if data:
            said.append(now)
        return original(data, now)
    line._peer = peer
    device.run_pass([POWER])
    for _ in range(500):
        device._pump()
    device.run_pass([READ] * 200)
    gaps = [after - before for before, after in zip(said, said[1:], strict=False)]
    assert max(gaps) <= numbers.PRESENCE_MS / 1000 + 2 * 0.002 + 1e-9
    assert len(said) < 1.2 * (line.now() - said[0]) / (numbers.PRESENCE_MS / 1000) + 300
    device.run_pass([steps.power_off()])
    count = len(said)
    for _ in range(100):
        device._pump()
    assert len(said) - count <= 2                              # nothing to keep powered


def test_close_halts_and_is_idempotent() -> None:
    fake = FakeDevice()
    line = LoopTransport(fake)
    with Device(line) as device:
        pass
    device.close()
    assert fake.halts == 1 and line.closed
    with pytest.raises(LinkLost, match="closed"):
        device.state()


def test_steps_are_never_split() -> None:
    sequence = [steps.drive(i, 0, 0, 0) for i in range(50)] + [steps.read(Source.K, 1)] * 7
    payloads = list(packed(sequence))
    assert all(len(p) <= numbers.PAYLOAD_MAX for p in payloads)
    assert [s for p in payloads for s in steps.parse(p)] == sequence


def test_no_such_port() -> None:
    with pytest.raises(NoDevice, match="There is no port /dev/no-such-port"):
        Device.connect("/dev/no-such-port")


def test_a_file_is_no_port(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(NoDevice):
        Device.connect(str(tmp_path / "file"))


def test_port_from_the_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SAGBENCH_PORT", "/dev/ours")
    assert find_port() == "/dev/ours"
    assert find_port("/dev/named") == "/dev/named"


class _Port:
    def __init__(self, device: str, vid: int | None) -> None:
        self.device, self.vid = device, vid


@pytest.mark.parametrize(("ports", "result"), [
    ([("/dev/ttyS0", None), ("/dev/ttyUSB0", 0x2341)], "/dev/ttyUSB0"),
    ([("/dev/ttyS0", None)], "plug in"),
    ([("/dev/ttyUSB1", 1), ("/dev/ttyUSB0", 2)], "Several"),
])
def test_port_discovery(monkeypatch: pytest.MonkeyPatch, ports: list[tuple[str, int | None]], result: str) -> None:
    monkeypatch.delenv("SAGBENCH_PORT", raising=False)
    monkeypatch.setattr("serial.tools.list_ports.comports", lambda: [_Port(*p) for p in ports])
    if result.startswith("/"):
        assert find_port() == result
    else:
        with pytest.raises(NoDevice, match=result):
            find_port()


def test_a_real_pseudo_terminal_with_nobody_behind_it() -> None:
    master, slave = pty.openpty()
    try:
        with pytest.raises(NoDevice, match="Nothing answers"):
            Device.connect(os.ttyname(slave), timeout=0.4)
    finally:
        os.close(master)
        os.close(slave)


@pytest.mark.parametrize("call", range(1, 60, 3))
@pytest.mark.parametrize("verb", ["read", "write"])
def test_an_interrupt_anywhere_leaves_the_device_usable(call: int, verb: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C at any input or output of a pass: halt, then the next pass is as if nothing had been."""
    fake = FakeDevice()
    device, line = joined(fake)
    original, calls = getattr(line, verb), 0

    def interrupted(*data: bytes) -> bytes | None:
        nonlocal calls
        calls += 1
        if calls == call:
            raise KeyboardInterrupt
        return original(*data)
    monkeypatch.setattr(line, verb, interrupted)
    with pytest.raises(KeyboardInterrupt):
        device.run_pass([steps.power_on(24, 0, 7, 900), *[steps.read(Source.K, 1)] * 1500])
    assert device.halt().powered == 0 and not fake.powered
    assert device.run_pass([steps.read(Source.K, 1)] * 100).readings == tuple(range(100))
