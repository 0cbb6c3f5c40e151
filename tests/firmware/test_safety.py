"""Every safety rule of the firmware, each by a case that it must stop.

The rules are those of hardware/wiring.toml, [interlock]; who asks for what does not matter: the firmware refuses.
"""
from __future__ import annotations

import pytest

from .host import Host, mask, number, step
from .world import LAMP, M, S, World

POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)
FREE = (2.0, 5000.0)          # an input: lets itself be driven
HIGH, LOW = (4.5, 60.0), (0.2, 15.0)


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
    world.tripped = True
    at = world.now_us
    while world.would_switch():
        world.run(50)
        assert world.now_us - at < 1500
    world.tripped = False
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


# ------------------------------------------------------------------- strong drive

def test_strong_drive_only_where_verified(host: Host, world: World) -> None:
    for steps in ([POWER, step("pin", position=3, lines=2, high=1)], [step("drive", m_on=0, m_high=0, s_on=mask(3), s_high=0)]):
        at = len(world.writes)
        result = host.run(*steps)
        assert result.kinds == ["not_verified"] and result.status == "fault" and result.events[0].position == 3
        port, bit = S[3]
        drove = [ns for ns, p, ddr, out in world.writes[at:] if p == port and ddr >> bit & 1 and out >> bit & 1]
        assert not drove
        assert off(world, host)


def test_verify(host: Host, world: World) -> None:
    world.chip = {3: FREE, 4: HIGH, 5: LOW}
    result = host.run(POWER, *[step("verify", position=k) for k in (3, 4, 5)])
    assert result.status == "complete" and result.kinds == ["not_verified"] * 2
    assert [e.position for e in result.events] == [4, 5] and len(result.readings) == 7
    assert host.state().verified == mask(3) and not world.lines()
    assert host.run(step("pin", position=3, lines=2, high=1)).status == "complete"
    assert world.lines() == {"S3": 1}


def test_verify_drives_less_than_a_millisecond(host: Host, world: World) -> None:
    world.chip = {4: (5.0, 1.0)}
    host.run(POWER)
    at = len(world.writes)
    host.run(step("reference", reference="v1v1"), step("verify", position=4))
    port, bit = S[4]
    on, spans = None, []
    for ns, p, ddr, _ in world.writes[at:]:
        if p == port and ddr >> bit & 1 and on is None:
            on = ns
        elif p == port and not ddr >> bit & 1 and on is not None:
            spans.append(ns - on)
            on = None
    assert len(spans) == 2 and all(span < 1_000_000 for span in spans)


def test_verify_judges_by_the_rail_whatever_the_reference(host: Host, world: World) -> None:
    """An input that gives 1.6 mA stands at 0.5 V under S low: followed, though that is much of 1.1 V."""
    world.chip = {4: (5.0, 2700.0)}
    host.run(POWER, step("reference", reference="v1v1"), step("verify", position=4))
    assert host.state().verified == mask(4)


def test_verify_needs_power(host: Host) -> None:
    assert host.run(step("verify", position=3)).status == "bad_step"


def test_power_off_forgets_verified(host: Host, world: World) -> None:
    world.chip = {3: FREE}
    host.run(POWER, step("verify", position=3))
    assert host.state().verified == mask(3)
    host.run(step("power_off"), POWER)
    assert host.state().verified == 0
    assert host.run(step("pin", position=3, lines=2, high=1)).kinds == ["not_verified"]


@pytest.mark.parametrize("lines", [2, 3])
@pytest.mark.parametrize("k", [1, 6, 10, 16, 24])
@pytest.mark.parametrize("high", [0, 1])
def test_contention(host: Host, world: World, k: int, lines: int, high: int) -> None:
    """A verified position that something else begins to drive: strong drive is gone within strong_unwatched_us."""
    supply = step("power_on", supply=4, supply_2=0, ground=7, limit=500)
    world.chip = {k: FREE}
    host.begin([supply, step("verify", position=k), step("pin", position=k, lines=lines, high=high),
                step("scan", mask=mask(20, 21), repeats=64), *[step("settle", us=60000)] * 4])
    for _ in range(300):
        host.turn()
        if world.samples[-1][3] == 20:
            break
    assert world.drives(S[k]) == high and world.drives(M[k]) == (high if lines & 1 else None)
    world.chip = {k: LOW if high else HIGH}
    at = world.now_us
    while world.drives(S[k]) is not None and world.powered:
        world.run(20)
        assert world.now_us - at < 1000
    result = host.finish()
    assert result.kinds == ["contention"] and result.events[0].position == k and result.status == "fault"
    assert off(world, host)
    assert host.state().faults == number("contention", "fault")


def test_a_driven_position_that_follows_is_no_contention(host: Host, world: World) -> None:
    world.chip = {k: FREE for k in range(1, 25)}
    both = mask(3, 9, 20)
    result = host.run(POWER, *[step("verify", position=k) for k in (3, 9, 20)],
                      *[step("drive", m_on=both, m_high=both * (i & 1), s_on=both, s_high=both * (i & 1)) + step("settle", us=2000)
                        for i in range(20)])
    assert result.status == "complete"


def test_m_against_s_is_the_hosts_wish(host: Host, world: World) -> None:
    """S low with M high at one position makes a middle level on purpose."""
    world.chip = {3: FREE}
    result = host.run(POWER, step("verify", position=3), step("drive", m_on=mask(3), m_high=mask(3), s_on=mask(3), s_high=0),
                      step("settle", us=5000))
    assert result.status == "complete"


def spans_of(world: World, line: tuple[int, int], since: int) -> list[int]:
    """How long a line drove, each time, ns."""
    port, bit = line
    on, spans = None, []
    for ns, p, ddr, _ in world.writes[since:]:
        if p == port and ddr >> bit & 1 and on is None:
            on = ns
        elif p == port and not ddr >> bit & 1 and on is not None:
            spans.append(ns - on)
            on = None
    return spans


@pytest.mark.parametrize("high,short", [(1, (0.0, 0.5)), (0, (5.0, 0.5))])
@pytest.mark.parametrize("settle", [20, 5000])
def test_load_on_a_short(host: Host, world: World, high: int, short: tuple[float, float], settle: int) -> None:
    """Event, FFFF for each reading, the pass goes on, and the strong line was on for less than 1 ms."""
    world.chip = {9: short, 3: FREE}
    host.run(POWER)
    at = len(world.writes)
    load = step("load", position=9, lines=3, load=0, high=high, also=7, repeats=8, settle_us=settle)
    result = host.run(step("reference", reference="avcc"), load, step("read", source="vref", repeats=1))
    assert result.kinds == ["short"] and result.events[0].position == 9 and result.events[0].reading == 0
    assert result.readings == [0xFFFF, 0xFFFF, 512] and result.status == "complete"
    assert result.done.conversions == 1
    spans = spans_of(world, S[9], at)
    assert len(spans) == 1 and spans[0] < 1_000_000
    assert not world.lines()


@pytest.mark.parametrize("reference", ["v2v56", "v1v1"])
def test_load_on_a_short_with_a_small_reference(host: Host, world: World, reference: str) -> None:
    world.chip = {9: (0.0, 0.5), 10: (5.0, 0.5)}
    host.run(POWER, step("reference", reference=reference))
    for k, high in ((9, 1), (10, 0)):
        load = step("load", position=k, lines=2, load=0, high=high, also=0, repeats=8, settle_us=20)
        assert host.run(load).readings == [0xFFFF]


@pytest.mark.parametrize("high,output", [(1, (0.05, 5.0)), (0, (4.95, 9.0))])
def test_a_very_strong_output_is_not_a_short(host: Host, world: World, high: int, output: tuple[float, float]) -> None:
    world.chip = {9: output}
    host.run(POWER, step("reference", reference="avcc"))
    load = step("load", position=9, lines=3, load=0, high=high, also=0, repeats=8, settle_us=20)
    assert host.run(load).kinds == []


def test_all_medium_lines_one_way_are_over_budget(host: Host, world: World) -> None:
    """24 x 9.2 mA would be 221 mA: above total_budget_ma.  21 lines are below, or 24 that go both ways."""
    result = host.run(step("drive", m_on=0xFFFFFF, m_high=0, s_on=0, s_high=0))
    assert result.kinds == ["over_budget"] and result.status == "fault" and off(world, host)
    assert host.run(step("drive", m_on=0x1FFFFF, m_high=0x1FFFFF, s_on=0, s_high=0)).status == "complete"
    assert host.run(step("drive", m_on=0xFFFFFF, m_high=0xAAAAAA, s_on=0, s_high=0)).status == "complete"
    assert len(world.lines()) == 24
    assert host.run(step("levels", high=0xFFFFFF)).kinds == ["over_budget"]


def test_load_counts_too(host: Host, world: World) -> None:
    """19 medium lines low are 175 mA; a position under S and M load low would make 202 mA."""
    host.run(POWER, step("drive", m_on=0x7FFFF & ~mask(9), m_high=0, s_on=0, s_high=0))
    load = step("load", position=9, lines=3, load=0, high=0, also=0, repeats=1, settle_us=20)
    assert host.run(step("pin", position=20, lines=1, high=0), load).kinds == ["over_budget"]
    assert off(world, host)


def test_ld_counts_too(host: Host, world: World) -> None:
    """20 medium lines high are 184 mA; LD into the heavy load would make 200 mA."""
    lines = step("drive", m_on=0xFFFFF, m_high=0xFFFFF, s_on=0, s_high=0)
    assert host.run(lines, step("sense", position=21, load=1, ld="high")).status == "complete"
    assert host.run(lines, step("sense", position=21, load=5, ld="high")).kinds == ["over_budget"]
    assert host.run(lines, step("sense", position=21, load=5, ld="low")).status == "complete"


def test_the_lamp_says_powered(host: Host, world: World) -> None:
    assert world.drives(LAMP) == 0
    host.run(POWER)
    assert world.drives(LAMP) == 1
    host.control("halt")
    host.wait("state")
    assert world.drives(LAMP) == 0


def test_a_line_driven_high_leaves_no_pull_up_behind(host: Host, world: World) -> None:
    """A pull-up of 20..50 kilohm would falsify every weak reading of the position."""
    host.run(step("drive", m_on=mask(1, 9, 20), m_high=mask(1, 9, 20), s_on=0, s_high=0),
             step("drive", m_on=mask(2), m_high=0, s_on=0, s_high=0))
    for k in (1, 9, 20):
        port, bit = M[k]
        assert not world.out[port] >> bit & 1
