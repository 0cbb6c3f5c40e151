"""Steps by which the fixture looks at itself: levels of all positions, dead-man, register chain."""
from __future__ import annotations

import pytest

from .host import Host, mask, number, step
from .world import PUMP, World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)


# ------------------------------------------------------------------------ lines_read

@pytest.mark.parametrize("k", range(1, 25))
def test_lines_read_one_high(host: Host, world: World, k: int) -> None:
    """Each position by its own bit, whether M drives it or something else does."""
    want = [mask(k) & 0xFFF, mask(k) >> 12]
    assert host.run(step("pin", position=k, lines=1, high=1), step("lines_read")).readings == want
    assert world.lines() == {f"M{k}": 1}, "lines stay as they are"
    host.run(step("idle"))
    world.unpowered[k] = (5.0, 100.0)
    assert host.run(step("lines_read")).readings == want
    assert not world.lines()


def test_lines_read_all(host: Host, world: World) -> None:
    assert host.run(step("lines_read")).readings == [0, 0]
    world.unpowered = {k: (5.0, 100.0) for k in range(1, 25)}
    result = host.run(step("lines_read"))
    assert result.readings == [0xFFF, 0xFFF] and result.done.conversions == 0


def test_lines_read_comes_in_order(host: Host, world: World) -> None:
    """Behind the conversions before it, ahead of those behind it."""
    world.unpowered[13] = (5.0, 100.0)
    vref = step("read", source="vref", repeats=2)
    assert host.run(step("reference", reference="avcc"), vref, vref, step("lines_read"), vref).readings == [
        1024, 1024, 0, 1, 1024]


# --------------------------------------------------------------------------- deadman

@pytest.mark.parametrize("high", [0, 1])
def test_deadman(host: Host, world: World, high: int) -> None:
    """The world lets go 37 ms after the last edge of PUMP and holds at the first."""
    result = host.run(step("deadman", high=high))
    assert result.status == "complete" and not result.kinds
    released, held = result.readings
    assert 36 <= released <= 38 and held <= 1
    assert world.enabled and host.state().faults == 0


def test_deadman_stands_at_the_level(host: Host, world: World) -> None:
    for high in (0, 1):
        host.begin([step("deadman", high=high), step("end")])
        for _ in range(60):
            host.turn()
        assert world.drives(PUMP) == high and world.lib.port_pc_now_ns() - world.pumped_at > 5_000_000
        host.finish()


def test_deadman_that_never_lets_go(host: Host, world: World) -> None:
    world.oe_stuck = 0
    result = host.run(step("deadman", high=0))
    assert result.readings == [0xFFFF, 0] and 200_000 < result.done.elapsed_us < 202_000
    assert host.state().faults == number("dead_man", "fault")
    world.oe_stuck = None
    assert host.run(POWER).kinds == ["power_refused"], "latched"


def test_deadman_that_never_holds(host: Host, world: World) -> None:
    world.oe_stuck = 1
    world.run(50_000)
    result = host.run(step("deadman", high=1))
    assert result.readings == [0, 0xFFFF] and host.state().faults & number("dead_man", "fault")


def test_deadman_needs_an_unpowered_chip(host: Host, world: World) -> None:
    result = host.run(POWER, step("deadman", high=0))
    assert result.status == "bad_step" and not world.powered


def test_halt_while_the_pump_stands(host: Host, world: World) -> None:
    host.begin([step("deadman", high=1)])
    for _ in range(70):
        host.turn()
    assert world.lib.port_pc_now_ns() - world.pumped_at > 5_000_000
    host.control("halt")
    host.wait("state")
    assert host.finish().status == "halted"
    world.run(10_000)
    assert world.enabled and world.lib.port_pc_now_ns() - world.pumped_at < 2_000_000
    assert host.state().faults == 0 and host.run(POWER).status == "complete"


def test_the_watchdog_is_fed_while_the_pump_stands(host: Host, world: World) -> None:
    """The `world` fixture looks at the gap when the test is over."""
    world.oe_stuck = 0
    host.run(*[step("deadman", high=1)] * 3)


# ------------------------------------------------------------------------- registers

@pytest.mark.parametrize("pattern", [0, 0xFFFFFF, 0xAAAAAA, 0x555555, *(1 << bit for bit in range(0, 24, 5)), 0x12345F])
def test_registers(host: Host, world: World, pattern: int) -> None:
    result = host.run(step("registers", pattern=pattern))
    assert result.readings == [pattern & 0xFFF, pattern >> 12] and host.state().faults == 0


def test_registers_change_no_output(host: Host, world: World) -> None:
    host.run(POWER, step("sense", position=3, load=2, ld="high"))
    before, latched = world.switches(), list(world.latched)
    seen: list[list[int]] = []
    world.at_latch = lambda: seen.append(list(world.latched))
    host.run(step("registers", pattern=0x00FF00), step("registers", pattern=0xF000FF))
    assert not seen and world.latched == latched and world.switches() == before and world.chain == latched
    host.run(step("sense", position=4, load=2, ld="high"))
    assert world.switches() == before and host.state().faults == 0


def test_a_stuck_chain_is_seen_and_latched_by_none(host: Host, world: World) -> None:
    """A measurement: the fault is for whoever wants power."""
    world.chain_broken = True
    assert host.run(step("registers", pattern=0x123456)).readings == [0xFFF, 0xFFF]
    assert host.state().faults == 0
