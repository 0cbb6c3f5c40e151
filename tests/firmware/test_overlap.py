"""Steps overlap with the converter's work: what is planned, let go and judged late must come to the same in the end."""
from __future__ import annotations

import ctypes as c

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from .host import MESSAGES, Host, frame, mask, number, step
from .test_budget import Drive, expected
from .world import FIXTURE, GROUND_CHANNEL, LD, PORTS, M, S, World, library

AVCC = step("reference", reference="avcc")
POWER = step("power_on", supply=24, supply_2=0, ground=7, limit=500)
K_READ = step("read", source="k", repeats=1)
GROUPS = FIXTURE["port_group"]


def load_scan(*positions: int, high: int = 0, lines: int = 2, load: int = 0, repeats: int = 5, settle_us: int = 0) -> bytes:
    """The step."""
    return step("load_scan", mask=mask(*positions), high=high, lines=lines, load=load, repeats=repeats, settle_us=settle_us)


def test_a_load_is_gone_when_lines_of_its_port_change(host: Host, world: World) -> None:
    """Levels of positions 1..4 are planned while S3, on the same port, still stands: it must not come back with them."""
    world.chip = {3: (0.2, 10.0)}
    host.run(POWER, AVCC, step("drive", m_on=mask(1, 2, 4), m_high=0, s_on=0, s_high=0))
    for high in (mask(1), mask(2, 4), mask(1, 2, 4), 0):
        host.run(load_scan(3, high=mask(3)), step("levels", high=high))
        assert world.lines() == {f"M{k}": int(bool(high & mask(k))) for k in (1, 2, 4)}
    host.run(load_scan(3, high=mask(3)), step("drive", m_on=mask(1, 3), m_high=mask(3), s_on=0, s_high=0))
    assert world.lines() == {"M1": 0, "M3": 1}
    host.run(step("idle"), load_scan(3, high=mask(3), lines=3), step("pin", position=4, lines=1, high=1))
    assert world.lines() == {"M4": 1}


@pytest.mark.parametrize("lines,load", [(2, 0), (3, 0), (1, 0), (0, 1), (1, 5)])
def test_a_reading_behind_a_scan_is_without_load(host: Host, world: World, lines: int, load: int) -> None:
    """Scan and read of the same position: as if no load had ever been; LD and lines are off, the selector is open."""
    world.chip = {3: (1.0, 1000.0), 5: (2.0, 1000.0)}
    host.run(POWER, AVCC)
    scan = load_scan(3, 5, high=mask(3, 5), lines=lines, load=load)
    result = host.run(scan, step("scan", mask=mask(5), repeats=1), scan, step("sense", position=5, load=0, ld="off"), K_READ,
                      scan, step("levels", high=0), step("scan", mask=mask(3), repeats=1))
    _, loaded, after, _, _, read, _, _, behind_levels = result.readings
    assert after == read == 409 and behind_levels == 204 and loaded > 5 * 420
    assert not world.lines() and world.drives(LD) is None and world.load() == 0


def test_the_selector_is_open_at_the_end(host: Host, world: World) -> None:
    host.run(AVCC, load_scan(3, 4, lines=0, load=1, high=mask(3)))
    assert world.load() == 0 and world.tied() == 0 and world.drives(LD) is None


def test_scans_one_behind_the_other(host: Host, world: World) -> None:
    """Levels between, other selectors, other directions: each reading as by single loads."""
    world.chip = {3: (0.2, 10.0), 5: (3.4, 100.0), 9: (0.3, 20.0)}
    host.run(POWER, AVCC, step("drive", m_on=mask(1, 2), m_high=0, s_on=0, s_high=0))
    kinds = [(2, 0), (0, 1), (1, 0), (1, 1), (2, 0), (0, 2)]
    scans, singly = [], []
    for i, (lines, load) in enumerate(kinds):
        scans += [load_scan(3, 5, 9, high=mask(3, 9), lines=lines, load=load, repeats=2), step("levels", high=mask(1 + i % 2))]
        singly += [step("load", position=k, lines=lines, load=load, high=high, also=0, repeats=2, settle_us=0)
                   for k, high in ((3, 1), (5, 0), (9, 1))]
    at_once, one_by_one = host.run(*scans), host.run(*singly)
    assert at_once.readings == one_by_one.readings and at_once.done.conversions == one_by_one.done.conversions == 36


def test_a_short_found_late_is_told_in_its_place(host: Host, world: World) -> None:
    """The last of a scan is judged while the next steps have begun; event and FFFF still stand where they belong."""
    world.chip = {3: (0.2, 10.0), 5: (0.0, 0.5), 9: (0.3, 20.0)}
    host.run(POWER, AVCC, step("drive", m_on=mask(1), m_high=0, s_on=0, s_high=0))
    one = load_scan(3, 5, high=mask(3, 5))
    result = host.run(*[one + step("levels", high=mask(1) * (i & 1)) + step("read", source="vref", repeats=1) for i in range(20)])
    assert result.status == "complete" and result.kinds == ["short"] * 20
    assert [(e.position, e.reading) for e in result.events] == [(5, 3 * i + 1) for i in range(20)]
    assert result.readings[1::3] == [0xFFFF] * 20 and result.readings[2::3] == [512] * 20
    assert all(0 < r < 0xFFFF for r in result.readings[0::3])


# An acknowledgement of frames that were never sent counts for nothing.
STRANGE = frame(0, 128, 0, MESSAGES["ack"].id, bytes([number("here", "ack_reason")]))


def test_shorts_everywhere(host: Host, world: World) -> None:
    """An event for each, with a host that acknowledges slowly: nothing is lost, no line stands on."""
    shorted = [k for k in range(1, 24) if k not in (7, 4)]
    world.chip = {k: (0.0, 0.5) for k in shorted}
    host.run(POWER, AVCC)
    at = len(world.writes)
    host.begin([load_scan(*shorted, high=mask(*shorted), repeats=1)] * 3 + [step("end")])
    host.mute = True
    for i in range(100):
        host.turn(1000)
        if i % 20 == 0:
            host.put(STRANGE)          # the chip keeps its power: a host that is there, and acknowledges nothing
    host.mute = False
    host.control("ack", b"\1")
    result = host.finish()
    assert result.status == "complete" and [e.position for e in result.events] == shorted * 3
    assert result.readings == [0xFFFF] * (3 * len(shorted))
    for k in shorted:
        on, (port, bit) = 0, S[k]
        for ns, p, ddr, _ in world.writes[at:]:
            if p == port:
                on = (on or ns) if ddr >> bit & 1 else 0
                assert not on or ns - on < 1_000_000


def test_a_halt_under_a_load(host: Host, world: World) -> None:
    """Nothing of it comes later: neither the load's end nor its selector's."""
    world.chip = {3: (0.2, 10.0), 5: (0.3, 10.0)}
    for wait in range(12):
        host.run(POWER, AVCC)
        host.begin([load_scan(3, 5, high=mask(3, 5), lines=2 * (wait & 1), load=1 - (wait & 1))] * 50)
        for _ in range(10):
            host.turn(300 + 37 * wait)
        host.control("halt")
        host.wait("state")
        host.finish()
        world.run(8000)
        assert not world.lines() and not world.powered and world.load() == 0
        assert host.run(step("sense", position=9, load=2, ld="low"), AVCC, K_READ).done.readings == 1
        assert world.tied() == 9 and world.load() == 2


# ------------------------------------------------------------------------- K remembers nothing

def test_k_is_at_ground_before_each_position(host: Host, world: World) -> None:
    """Between two positions read with the selector open K is tied to ground, and to no position then."""
    seen: list[tuple[int, int]] = []
    world.at_latch = lambda: seen.append((world.tied(), world.load()))
    host.run(AVCC, step("scan", mask=mask(3, 4, 20), repeats=2), step("sense", position=5, load=0, ld="off"))
    assert seen[:6] == [(0, GROUND_CHANNEL), (0, 0)] * 3 and seen[6:8] == [(0, GROUND_CHANNEL), (0, 0)]


def test_k_under_a_load_is_left_alone(host: Host, world: World) -> None:
    """The resistor that is on takes it where it must be."""
    host.run(AVCC, step("sense", position=5, load=2, ld="low"))
    seen: list[int] = []
    world.at_latch = lambda: seen.append(world.load())
    host.run(step("scan", mask=mask(3, 4, 20), repeats=2))
    assert seen and set(seen) == {2}


# ------------------------------------------------------------------------- levels by themselves

MASK = st.integers(0, 0xFFFFFF)


@settings(max_examples=80, deadline=None)
@given(MASK, MASK, MASK, st.lists(MASK, min_size=1, max_size=6))
def test_levels_come_to_the_same_as_a_drive(m_on: int, s_on: int, high: int, states: list[int]) -> None:
    """Sums, registers and refusals."""
    lib = library()
    world = World(lib=lib)      # must live as long as the library calls it
    world.reset()
    where = c.c_uint8()
    for k in range(1, 25):
        lib.lines_verified_add(k)
    if lib.lines_plan(c.byref(Drive(m_on, high, s_on, high)), c.byref(where)):
        return
    lib.lines_commit()
    now = Drive(m_on, m_on & high, s_on, s_on & high)
    for state in states:
        wish = Drive(m_on, m_on & state, s_on, s_on & state)
        sums = expected(wish, 0xFFFFFF)
        most = max(max(sum(side) for side in sums) / FIXTURE["controller"]["total_budget_ma"],
                   max(side[i] / g["limit_ma"] for side in sums for i, g in enumerate(GROUPS)))
        answer = lib.lines_plan_levels(c.byref(c.c_uint32(state)), c.byref(where))
        if abs(most - 1) > 0.01:                   # so close to the limit rounding decides
            assert answer == (2 if most > 1 else 0)
        if answer == 0:
            lib.lines_commit()
            now = wish
        for way in (0, 1):
            for i in range(len(GROUPS)):
                assert lib.budget_now(i, bool(way)) / 10 == pytest.approx(expected(now, 0xFFFFFF)[way][i], rel=0.02, abs=0.01)
    for k in range(1, 25):
        for lines, on, levels in ((M, now.m_on, now.m_high), (S, now.s_on, now.s_high)):
            assert world.drives(lines[k]) == ((levels >> (k - 1) & 1) if on >> (k - 1) & 1 else None), (k, PORTS[lines[k][0]])
