"""`ramp`: an input's threshold, found by the level drive and an output that answers.

The worlds' thresholds are ours; the shape of a sound answer (rising and falling threshold of a Schmitt input apart,
none for a dead output) is that of any data book.
"""
from __future__ import annotations

from collections.abc import Iterator

import pytest

from .host import Host, mask, step
from .world import FIXTURE, GROUND_CHANNEL, LEVEL, M, S, World

AVCC = step("reference", reference="avcc")
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)
LSB = 5 / 1024


def ramp(position: int = 1, watch: int = 2, begin: int = 0, end: int = 1023, step_us: int = 50, repeats: int = 4,
         settle_us: int = 0) -> bytes:
    """The step."""
    return step("ramp", position=position, watch=watch, first=begin, last=end, step_us=step_us, repeats=repeats,
                settle_us=settle_us)


@pytest.fixture
def gate(world: World) -> Iterator[World]:
    """An inverter from position 1 to 2 with its threshold at 1.4 V."""
    world.inverters = {2: (1, 1.4)}
    yield world


def test_the_firmware_knows_its_load_selector() -> None:
    """steps_ramp.c has LEVEL_LOAD 4, sense.c GROUND_LOAD 7."""
    assert GROUND_CHANNEL == 7 and LEVEL == 4 and FIXTURE.part("R314")["role"] == "level drive"


@pytest.mark.parametrize("begin,end", [(200, 1023), (400, 0), (286, 287), (287, 286)])
def test_threshold(host: Host, gate: World, begin: int, end: int) -> None:
    """Rising, the first code above 1.4 V (286.7 codes) answers; falling, the first below it."""
    result = host.run(POWER, AVCC, ramp(begin=begin, end=end))
    assert result.status == "complete" and not result.kinds
    code, k, vdac = result.readings[1:]
    assert code == (287 if end > begin else 286)
    assert k == 4 * code and vdac == 4 * code
    assert result.done.conversions == 16 + 8
    assert gate.pwm == 0 and gate.tied() == 0 and gate.load() == 0 and not gate.lines()


@pytest.mark.parametrize("begin,end", [(900, 1023), (250, 280), (500, 500), (0, 0)])
def test_no_answer(host: Host, gate: World, begin: int, end: int) -> None:
    """Beyond the threshold from the start, or never reached: not measured, and no event."""
    result = host.run(POWER, AVCC, ramp(begin=begin, end=end, settle_us=500), step("read", source="vref", repeats=1))
    assert result.status == "complete" and not result.kinds
    assert result.readings[1:] == [0xFFFF] * 3 + [512]
    assert gate.pwm == 0 and gate.tied() == 0


def test_one_code_each_step_us(host: Host, gate: World) -> None:
    """100 codes of 200 us, 5 ms before and 5 ms at the end."""
    host.run(POWER, AVCC)
    result = host.run(ramp(begin=300, end=400, step_us=200, settle_us=5000))
    assert result.readings == [0xFFFF] * 3
    assert abs(result.done.elapsed_us - 30_000) < 1000


def test_the_conversion_follows_at_once(host: Host, gate: World) -> None:
    """The level still moves: K's sample is due within 20 us of the answer, and 1.5 converter clocks (12 us)."""
    host.run(POWER, AVCC)
    first = len(gate.samples)
    host.run(ramp(begin=280, end=300, step_us=3000, settle_us=100))
    changed = next(ns for ns, duty in gate.levels if duty == 287)
    assert 0 <= gate.samples[first][0] - changed < 40_000


def test_the_watched_pin_alone_is_pulled_up_while_the_ramp_runs(host: Host, gate: World) -> None:
    """So an open collector is seen to let go; afterwards, and when the ramp is halted, no pull-up is left."""
    port, bit = M[2]
    host.run(POWER, AVCC)
    at = len(gate.writes)
    host.run(ramp(begin=200, end=300, step_us=60))
    pulled = [out >> bit & 1 for _, p, ddr, out in gate.writes[at:] if p == port and not ddr >> bit & 1]
    assert pulled and 1 in pulled and pulled[-1] == 0
    own, own_bit = M[1]
    assert not any(out >> own_bit & 1 for _, p, ddr, out in gate.writes[at:] if p == own and not ddr >> own_bit & 1)
    host.begin([ramp(begin=200, end=300, step_us=60000)])
    for _ in range(20):
        host.turn(1000)
    assert gate.out[port] >> bit & 1
    host.control("halt")
    host.wait("state")
    assert not gate.out[port] >> bit & 1


def test_a_position_that_watches_itself_is_not_pulled(host: Host, world: World) -> None:
    at = len(world.writes)
    host.run(AVCC, ramp(position=5, watch=5))
    port, bit = M[5]
    assert not any(out >> bit & 1 for _, p, ddr, out in world.writes[at:] if p == port)


def test_lines_of_both_are_off_and_without_pull_up(host: Host, gate: World) -> None:
    """What drives elsewhere stays."""
    host.run(POWER, AVCC, step("drive", m_on=mask(1, 2, 12), m_high=mask(1, 2, 12), s_on=0, s_high=0))
    at = len(gate.writes)
    host.run(ramp(step_us=60, end=300))
    for k in (1, 2):
        for port, bit in (M[k], S[k]):
            assert not gate.ddr[port] >> bit & 1 and not gate.out[port] >> bit & 1
    assert gate.lines() == {"M12": 1}
    assert not [w for w in gate.writes[at:] if w[1] == M[12][0] and not w[2] >> M[12][1] & 1]


def test_a_position_may_watch_itself(host: Host, world: World) -> None:
    """The controller's own threshold: 2.5 V here."""
    assert host.run(AVCC, ramp(position=5, watch=5)).readings[0] in (512, 513)


def test_halt_in_a_ramp(host: Host, gate: World) -> None:
    host.begin([POWER, AVCC, ramp(begin=300, step_us=60000)])
    for _ in range(60):
        host.turn(1000)
    assert gate.pwm >= 300 and gate.powered
    host.control("halt")
    host.wait("state")
    assert host.finish().status == "halted"
    assert gate.pwm == 0 and gate.tied() == 0 and not gate.powered


def test_trip_in_a_ramp(host: Host, gate: World) -> None:
    host.begin([POWER, AVCC, ramp(begin=300, step_us=60000)])
    for _ in range(60):
        host.turn(1000)
    gate.trip(slice_us=20)
    result = host.finish()
    assert result.kinds == ["over_current"] and result.status == "fault" and gate.pwm == 0


def test_pump_and_watchdog_go_on_in_a_ramp(host: Host, gate: World) -> None:
    host.run(POWER, AVCC)
    host.begin([ramp(begin=300, end=400, step_us=200), step("end")])
    gap = 0.0
    for _ in range(900):
        host.turn(20)
        gap = max(gap, gate.lib.port_pc_now_ns() - gate.pumped_at)
    assert gap < 900_000 and gate.enabled


def test_steps_too_fast_are_refused(host: Host) -> None:
    assert host.run(ramp(step_us=49)).status == "bad_step"
    assert host.run(ramp(begin=1024)).status == "bad_step"
    assert host.run(ramp(position=0)).status == "bad_step"
    assert host.run(ramp(watch=25)).status == "bad_step"
