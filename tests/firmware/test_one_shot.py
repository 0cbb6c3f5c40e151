"""`one_shot`: a monostable's pulse, timed by the firmware.

The monostable here is ours: a pulse of a given length after each rising edge of its input. What it must look like to
the step (none, one of some clocks, one that lasts, one without end) is that of any data book of the 121 or 123.
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pytest
from virtual_fixture.bench import Bench, PlainChip

from .host import Host, mask, step
from .line import Image
from .world import M, S, World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)
CLOCK_NS = 62.5
NEVER = 0xFFFE


@dataclass
class Monostable(World):
    """Position 1 triggers by its rising edge, position 2 answers (to the other side of `rest`)."""

    pulse_ns: float = 0.0
    late_ns: float = 40.0
    rest: int = 0
    retriggers: bool = False
    ends: bool = True
    fails: int = 0                            # so many edges are missed at first
    begun: float = -1e18
    over: float = -1e18
    edges: int = 0
    level: int = 0

    def _write(self, c: Any, port: int, ddr: int, out: int) -> None:
        super()._write(c, port, ddr, out)
        level = 1 if self.volts(1) > 2.5 else 0
        now = float(self.lib.port_pc_now_ns())
        if level > self.level and self.powered:
            self.edges += 1
            running = self.begun <= now < self.over
            if self.edges > self.fails and (self.retriggers or not running):
                self.begun = self.begun if running else now + self.late_ns
                self.over = now + self.late_ns + self.pulse_ns
        self.level = level

    def _read(self, c: Any, port: int, ddr: int, out: int) -> int:
        pins = super()._read(c, port, ddr, out)
        if port != M[2][0] or not self.powered:
            return pins
        now = float(self.lib.port_pc_now_ns())
        on = 0 < self.begun <= now and (now < self.over or not self.ends)
        return pins | 1 << M[2][1] if on != bool(self.rest) else pins & ~(1 << M[2][1]) & 0xFF


def shoot(chip: Monostable, again: int = 0, lines: int = 1) -> tuple[int, int]:
    """The two readings of one step."""
    host = Host(chip)
    ready = [step("verify", position=1)] if lines & 2 else []
    result = host.run(POWER, *ready, step("pin", position=1, lines=lines, high=0),
                      step("one_shot", trigger=1, watch=2, again=again))
    assert result.status == "complete" and not result.kinds
    assert chip.lines() == {"M1": 0, **({"S1": 0} if lines & 2 else {})}, "the lines are as before"
    assert not chip.hurt and chip.lib.port_pc_watchdog_gap_ns() < 3_000_000
    return result.readings[-2], result.readings[-1]


@pytest.mark.parametrize("clocks", [8, 9, 12, 100, 255, 300])
@pytest.mark.parametrize("rest", [0, 1])
def test_length_to_a_clock(clocks: int, rest: int) -> None:
    """Eight shots, a clock apart: the sum of their looks is the length. What passes before the first look is not seen:
    some 3 clocks after the edge (and 7 more at the eighth shot, which misses what is shorter), beside 40 ns of delay in
    the chip. Beyond 16 us it is the clock's half microsecond."""
    width, seen = shoot(Monostable(pulse_ns=clocks * CLOCK_NS, rest=rest))
    assert seen == (8 if clocks > 10 else clocks - 4)
    assert clocks - 4 <= width <= clocks + (1 if clocks <= 250 else 8 * 16)


@pytest.mark.parametrize("us", [20, 100, 800])
def test_longer_pulses(us: int) -> None:
    """Followed by the clock, with the cost of asking it (PC port: 3 us before the edge, and 4 us each time)."""
    width, seen = shoot(Monostable(pulse_ns=us * 1000))
    assert seen == 8 and 16 * us <= width <= 16 * (us + 8)


def test_shorter_than_a_clock_or_none() -> None:
    """A pulse that is over before the first look is not seen; nor is one that never comes."""
    assert shoot(Monostable(pulse_ns=30)) == (0, 0)
    assert shoot(Monostable(fails=99, pulse_ns=1000)) == (0, 0)


def test_one_that_does_not_end() -> None:
    """Given up after 30 ms; the number of shots seen so far tells that it did begin (here by the edge before)."""
    chip = Monostable(pulse_ns=1000, ends=False)
    assert shoot(chip) == (NEVER, 0)
    assert 30_000 < chip.now_us - chip.begun / 1000 < 40_000


def test_one_that_fires_now_and_then() -> None:
    """The edge that goes before and two more are missed."""
    width, seen = shoot(Monostable(pulse_ns=100 * CLOCK_NS, fails=3))
    assert seen == 6 and abs(width - 75) <= 4


def test_of_five_milliseconds() -> None:
    """Longer than it is followed, but it ends: beyond 0.85 ms, eight times."""
    width, seen = shoot(Monostable(pulse_ns=5e6))
    assert seen == 8 and 16 * 850 <= width < NEVER


@pytest.mark.parametrize("retriggers", [True, False])
def test_a_second_edge(retriggers: bool) -> None:
    """5 us after the first: a retriggerable one ends 5 us later, another one does not."""
    alone, _ = shoot(Monostable(pulse_ns=8000, retriggers=retriggers))
    twice, seen = shoot(Monostable(pulse_ns=8000, retriggers=retriggers), again=10)
    assert seen == 8 and abs(alone - 128) <= 8
    assert abs(twice - alone - (80 if retriggers else 0)) <= 8


def test_strong_lines_turn_with_the_medium_ones() -> None:
    chip = Monostable(pulse_ns=2000)
    chip.chip[1] = (2.5, 1e6)
    width, seen = shoot(chip, lines=3)
    assert seen == 8 and 32 - 8 <= width <= 32    # the strong line turns 2 clocks earlier still
    both = [t for t in range(1, len(chip.writes)) if chip.writes[t][1] == M[1][0] == S[1][0]]
    assert both


@pytest.mark.parametrize("arguments", [{"trigger": 0}, {"watch": 25}, {"again": 17}, {"again": 3}, {"watch": 1}, {"trigger": 3}])
def test_what_cannot_be(arguments: dict[str, int], host: Host) -> None:
    """Beyond the range, a second edge too soon, an output that triggers itself, a position that no line drives."""
    one = step("one_shot", **{"trigger": 1, "watch": 2, "again": 0, **arguments})
    assert host.run(step("pin", position=1, lines=1, high=0), one).status == "bad_step"


def test_the_other_level_must_be_allowed(host: Host, world: World) -> None:
    """22 M lines at 9.2 mA each into a short are beyond the controller's total of 195 mA, 21 are not: what `levels` may
    not do the step may not either."""
    some = mask(*range(1, 23))
    held = step("drive", m_on=some, m_high=some & ~mask(9), s_on=0, s_high=0)
    for forbidden in (step("levels", high=some), step("one_shot", trigger=9, watch=24, again=0)):
        result = host.run(held, forbidden)
        assert result.status == "fault" and result.kinds == ["over_budget"]
    assert host.run(held, step("one_shot", trigger=8, watch=24, again=0)).status == "complete"


def test_halt_while_it_waits() -> None:
    chip = Monostable(pulse_ns=1000, ends=False)
    host = Host(chip)
    host.begin([POWER, step("pin", position=1, lines=1, high=0), step("one_shot", trigger=1, watch=2, again=0)])
    for _ in range(60):
        host.turn(400)
    host.control("halt")
    host.wait("state")
    assert host.finish().status == "halted"
    chip.run(10_000)
    assert not chip.powered and not chip.lines()


@pytest.mark.image
def test_on_the_controller() -> None:
    """An inverter's answer lasts as long as its input is turned over: 33 looks, then the clock, each time."""
    with Bench(chip=PlainChip().inverter(1, 2, 24, 7, 30.0).resistor(24, 7, 1000.0).resistor(1, 7, 100e3), seed=11) as bench:
        host = Host(Image(bench))
        result = host.run(POWER, step("pin", position=1, lines=1, high=0), step("one_shot", trigger=1, watch=2, again=0),
                          step("one_shot", trigger=1, watch=3, again=0))
        assert result.status == "complete" and not result.kinds
        width, seen, none, never = result.readings[-4:]
        assert seen == 8 and 16 * 850 <= width <= 16 * 900
        assert (none, never) == (0, 0)
        assert not bench.trouble and not bench.violations


@pytest.mark.image
def test_no_byte_is_lost_while_interrupts_are_off() -> None:
    """27 us at most, with a second edge as late as it may be: the receiver holds two bytes and one more in its shift register
    (data sheet, "Receiver Error Flags"). With 28.5 us one frame of this pass was damaged, with 53 us 25 were."""
    with Bench(chip=PlainChip().inverter(1, 2, 24, 7, 30.0).resistor(24, 7, 1000.0).resistor(1, 7, 100e3), seed=11) as bench:
        host = Host(Image(bench))
        shot = step("one_shot", trigger=1, watch=2, again=16)
        result = host.run(POWER, step("pin", position=1, lines=1, high=0), *[shot + step("settle", us=0) * 8] * 60)
        assert result.status == "complete" and len(result.readings) == 1 + 2 * 60
        assert host.state().frames_damaged == 0
        assert not bench.trouble and not bench.violations
