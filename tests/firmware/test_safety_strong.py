"""Safety rules about strong lines: verification, contention, shorts under load, port groups; each by a case that it must stop.

The rules are those of hardware/wiring.toml, [interlock]; who asks for what does not matter: the firmware refuses.
"""
from __future__ import annotations

import pytest

from .host import Host, mask, number, step
from .test_safety import POWER, off
from .world import M, S, World

FREE = (2.0, 5000.0)          # an input: lets itself be driven
HIGH, LOW = (4.5, 60.0), (0.2, 15.0)


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
    spans = spans_of(world, S[4], at)
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


def test_a_line_driven_high_leaves_no_pull_up_behind(host: Host, world: World) -> None:
    """A pull-up of 20..50 kilohm would falsify every weak reading of the position."""
    host.run(step("drive", m_on=mask(1, 9, 20), m_high=mask(1, 9, 20), s_on=0, s_high=0),
             step("drive", m_on=mask(2), m_high=0, s_on=0, s_high=0))
    for k in (1, 9, 20):
        port, bit = M[k]
        assert not world.out[port] >> bit & 1
