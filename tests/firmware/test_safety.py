"""Safety rules about power: dead-man, rails, over-current, registers, discharge; each by a case that it must stop.

The rules are those of hardware/wiring.toml, [interlock]; who asks for what does not matter: the firmware refuses.
"""
from __future__ import annotations

import pytest

from .host import Host, number, step
from .world import LAMP, S, World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)


def off(world: World, host: Host) -> bool:
    """Unpowered, and after the discharge no line drives."""
    at_once = not world.powered
    host.turn(10_000)
    return at_once and not world.lines() and not world.powered


# --------------------------------------------------------------------- start and dead-man

def test_nothing_is_on_from_reset_to_the_first_pass(world: World) -> None:
    seen: set[str] = set()
    world.at_latch = lambda: seen.update(n for n in world.would_switch())
    Host(world)
    assert not seen and not world.lines() or set(world.lines()) <= {f"S{k}" for k in S}


def test_switches_stay_off_over_a_watchdog_reset(host: Host, world: World) -> None:
    """After a reset the dead-man still holds OE_N low for a while: the registers must be set to off before anything else."""
    host.run(POWER)
    assert world.powered
    seen: set[str] = set()
    world.at_latch = lambda: seen.update(world.would_switch())
    world.reset(8)
    assert not seen and not world.would_switch()


def test_dead_man_is_tested_at_the_start(world: World) -> None:
    """OE_N that is low although nothing pumps: a fault, and no power."""
    world.oe_stuck = 0
    host = Host(world)
    assert host.state().faults == number("dead_man", "fault")
    world.oe_stuck = None
    assert host.run(POWER).kinds == ["power_refused"]
    assert not world.powered
    host.numbered("clear_faults")
    assert host.wait("state").faults == 0
    assert host.run(POWER).status == "complete"


def test_oe_n_that_never_gets_low(world: World) -> None:
    world.oe_stuck = 1
    host = Host(world)
    assert host.state().faults == number("dead_man", "fault")
    host.numbered("clear_faults")
    assert host.wait("state").faults == number("dead_man", "fault"), "its cause is not gone"


def test_no_pump_during_the_self_test(world: World) -> None:
    world.reset()
    world.run(75_000)
    assert world.pumped_at < 0
    world.run(50_000)
    assert world.enabled


def test_pump_goes_on_at_rest_and_in_a_pass(host: Host, world: World) -> None:
    gap = 0
    host.begin([step("scan", mask=0xFFFFFF, repeats=64), step("settle", us=60000), step("end")])
    for _ in range(500):
        host.turn(500)
        gap = max(gap, world.lib.port_pc_now_ns() - world.pumped_at)
    assert gap < 2_000_000, "an edge every 2 ms at least"


# ---------------------------------------------------------------------------- power

def test_power_on_reads_icc(host: Host, world: World) -> None:
    world.icc_code = 123
    result = host.run(POWER)
    assert result.readings == [16 * 123] and result.done.conversions == 16
    assert world.switches() == {"P24", "N7"}


def test_two_supply_positions(host: Host, world: World) -> None:
    assert host.run(step("power_on", supply=1, supply_2=24, ground=8, limit=500)).status == "complete"
    assert world.switches() == {"P1", "P24", "N8"}


def test_power_without_ground_takes_the_zero(host: Host, world: World) -> None:
    result = host.run(step("power_on", supply=24, supply_2=0, ground=0, limit=500))
    assert result.status == "complete" and world.switches() == {"P24"} and len(result.readings) == 1
    host.run(step("power_off"))
    drives = step("pin", position=3, lines=1, high=1)
    assert host.run(drives, step("power_on", supply=24, supply_2=0, ground=0, limit=500)).kinds == ["power_refused"]


@pytest.mark.parametrize(("ground", "bits"), [(0, 3), (7, 1)])
def test_the_zero_is_read_against_the_reference_that_is_set_and_power_against_avcc(
        host: Host, world: World, ground: int, bits: int) -> None:
    """REFS1:0 of the data sheet: 3 is 2.56 V, 1 is AVCC. A change costs 20 ms, and the zero none."""
    host.run(step("reference", reference="v2v56"))
    at = len(world.samples)
    result = host.run(step("power_on", supply=24, supply_2=0, ground=ground, limit=500))
    assert result.status == "complete" and {refs for _, _, refs, _ in world.samples[at:][-16:]} == {bits}
    assert (result.done.elapsed_us < 10_000) is (ground == 0)


@pytest.mark.parametrize("which", ["supply", "supply_2"])
def test_shorted_rails(host: Host, world: World, which: str) -> None:
    """Below rail_short_mv through the weak load with the ground switch on: no power."""
    world.unpowered[24 if which == "supply" else 1] = (0.0, 300.0)
    result = host.run(step("power_on", supply=24, supply_2=1, ground=7, limit=500))
    assert result.kinds == ["rail_short"] and result.status == "fault" and not result.readings
    assert result.events[0].position == (24 if which == "supply" else 1) and result.events[0].value < 52
    assert off(world, host)


def test_a_chip_is_not_a_short(host: Host, world: World) -> None:
    world.unpowered[24] = (0.6, 500.0)
    assert host.run(POWER).status == "complete"


def test_over_current_at_power_on(host: Host, world: World) -> None:
    world.icc_code = 501
    result = host.run(POWER)
    assert result.kinds == ["over_current"] and result.events[0].value == 501 and result.status == "fault"
    assert off(world, host)
    assert host.state().faults == number("over_current", "fault")
    world.icc_code = 100
    assert host.run(POWER).kinds == ["power_refused"], "latched"
    host.numbered("clear_faults")
    host.wait("state")
    assert host.run(POWER).status == "complete"


def test_trip_is_seen_and_latched(host: Host, world: World) -> None:
    """The comparator discharges the dead-man: registers off and a fault, so that it does not come back by itself."""
    host.begin([POWER, *[step("settle", us=60000)] * 10])
    for _ in range(60):
        host.turn()
    assert world.powered
    world.trip(slice_us=50)
    result = host.finish()
    assert result.kinds == ["over_current"] and result.status == "fault"
    assert host.state().faults == number("over_current", "fault")
    assert off(world, host)


def test_trip_outside_a_pass(host: Host, world: World) -> None:
    host.run(POWER)
    world.tripped = True
    host.turn(2000)
    world.tripped = False
    assert host.wait("event").kind == number("over_current", "event_kind")
    assert not world.would_switch()


@pytest.mark.parametrize("supply,supply_2,ground", [(2, 0, 7), (24, 2, 7), (24, 0, 11)])
def test_switches_that_do_not_exist(host: Host, world: World, supply: int, supply_2: int, ground: int) -> None:
    result = host.run(step("power_on", supply=supply, supply_2=supply_2, ground=ground, limit=500))
    assert result.kinds == ["power_refused"] and off(world, host)


def test_no_power_while_the_dead_man_does_not_hold(host: Host, world: World) -> None:
    world.oe_stuck = 1
    result = host.run(POWER)
    assert result.kinds == ["power_refused"] and not world.would_switch()


def test_power_on_twice_is_refused(host: Host, world: World) -> None:
    result = host.run(POWER, POWER)
    assert result.kinds == ["power_refused"] and off(world, host)


def test_broken_register_chain(host: Host, world: World) -> None:
    world.chain_broken = True
    result = host.run(step("sense", position=3, load=0, ld="off"), POWER)
    assert result.status == "fault" and result.kinds == ["power_refused"]
    assert host.state().faults & number("registers", "fault")
    assert host.run(POWER).kinds == ["power_refused"]
    host.numbered("clear_faults")
    assert host.wait("state").faults & number("registers", "fault"), "its cause is not gone"
    world.chain_broken = False
    host.numbered("clear_faults")
    assert host.wait("state").faults == 0


def test_chain_that_breaks_under_power(host: Host, world: World) -> None:
    host.begin([POWER, *[step("scan", mask=0xFFFFFF, repeats=1)] * 200])
    for _ in range(80):
        host.turn()
    world.chain_broken = True
    result = host.finish()
    assert result.status == "fault" and host.state().faults == number("registers", "fault")
    assert off(world, host)


def test_discharge(host: Host, world: World) -> None:
    """After power off every S is low for discharge_ms, then off."""
    host.run(POWER)
    at = len(world.writes)
    host.run(step("power_off"))
    port, bit = S[17]
    on = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ddr >> bit & 1)
    gone = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ns > on and not ddr >> bit & 1)
    assert 5_000_000 <= gone - on < 6_500_000
    assert not world.lines()


def test_discharge_lets_go_of_what_is_held_high(host: Host, world: World) -> None:
    host.run(POWER)
    world.unpowered[5] = (5.0, 10.0)
    at = len(world.writes)
    host.numbered("pass_begin", b"\x63\0")
    host.numbered("steps", step("power_off"))
    host.turn()
    host.turn(4000)
    port, bit = S[5]
    on = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ddr >> bit & 1)
    gone = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ns > on and not ddr >> bit & 1)
    assert gone - on < 1_000_000, "strong against a short: at most 1 ms"
    assert host.state().faults & number("contention", "fault")


def test_discharge_lets_go_of_all_that_is_held_high_at_once(host: Host, world: World) -> None:
    """Not one after the other: the last would stand against its short for ms."""
    held = (1, 5, 9, 13, 17, 20, 24)
    host.run(POWER)
    world.unpowered = {k: (5.0, 10.0) for k in held}
    at = len(world.writes)
    host.begin([step("power_off")])
    for _ in range(20):
        host.turn()
    for k in held:
        port, bit = S[k]
        on = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ddr >> bit & 1)
        gone = next(ns for ns, p, ddr, out in world.writes[at:] if p == port and ns > on and not ddr >> bit & 1)
        assert gone - on < 1_000_000
    assert host.wait("event").position == 1 and host.state().faults & number("contention", "fault")


def test_the_lamp_says_powered(host: Host, world: World) -> None:
    assert world.drives(LAMP) == 0
    host.run(POWER)
    assert world.drives(LAMP) == 1
    host.control("halt")
    host.wait("state")
    assert world.drives(LAMP) == 0
