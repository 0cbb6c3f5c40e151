"""core/budget.c and its use by core/lines.c: sums that follow every change, limits of every group and direction."""
from __future__ import annotations

import ctypes as c
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from .world import FIXTURE, World, library

GROUPS = FIXTURE["port_group"]
PINS = {wire["net"]: wire["port"] for wire in FIXTURE["controller"]["wires"].values()}
DRIVER_MIN = FIXTURE["controller"]["driver_ohm"]["min"]


def group_of(net: str) -> int:
    """Index of the port group of a line."""
    return next(i for i, g in enumerate(GROUPS) if PINS[net] in g["ports"])


def short_ma(ohm: float) -> float:
    """Worst current of a line into a short: highest supply, lowest resistor, lowest driver."""
    return FIXTURE["supply"]["max_v"] / (ohm * 0.99 + DRIVER_MIN) * 1000


class Drive(c.Structure):
    """struct step_drive."""

    _fields_ = [("m_on", c.c_uint32), ("m_high", c.c_uint32), ("s_on", c.c_uint32), ("s_high", c.c_uint32)]


def expected(drive: Drive, verified: int) -> list[list[float]]:
    """mA of each group, sinking and sourcing, counted afresh."""
    sums = [[0.0] * len(GROUPS), [0.0] * len(GROUPS)]
    for k in range(1, 25):
        bit = 1 << (k - 1)
        if drive.m_on & bit:
            sums[bool(drive.m_high & bit)][group_of(f"M{k}")] += short_ma(560)
        if drive.s_on & bit:
            sums[bool(drive.s_high & bit)][group_of(f"S{k}")] += FIXTURE["interlock"]["verified_pin_ma"]
    return sums


MASK = st.integers(0, 0xFFFFFF)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(MASK, MASK, MASK, MASK), min_size=1, max_size=8), MASK)
def test_sums_follow_every_change(states: list[tuple[int, int, int, int]], verified: int) -> None:
    """After any sequence of drives the sums are those of the present state; refused ones change nothing."""
    lib = library()
    world = World(lib=lib)      # must live as long as the library calls it
    world.reset()
    for k in range(1, 25):
        if verified >> (k - 1) & 1:
            lib.lines_verified_add(k)
    now = Drive(0, 0, 0, 0)
    for state in states:
        wish, where = Drive(*state), c.c_uint8()
        wild = bool(wish.s_on & ~verified)
        answer = lib.lines_plan(c.byref(wish), c.byref(where))
        sums = expected(wish, verified)
        most = max(max(sum(side) for side in sums) / FIXTURE["controller"]["total_budget_ma"],
                   max(side[i] / g["limit_ma"] for side in sums for i, g in enumerate(GROUPS)))
        if abs(most - 1) > 0.01:                   # so close to the limit rounding decides
            assert answer == (1 if wild else 2 if most > 1 else 0)
        if answer == 0:
            lib.lines_commit()
            now = wish
        for high in (0, 1):
            for i in range(len(GROUPS)):
                assert lib.budget_now(i, bool(high)) / 10 == pytest.approx(expected(now, verified)[high][i], rel=0.02, abs=0.01)


@pytest.mark.parametrize("high", [False, True])
@pytest.mark.parametrize("group", range(len(GROUPS)))
def test_every_group_has_its_limit(group: int, high: bool) -> None:
    """Data sheet of the ATmega2560, DC characteristics, notes 3 and 4: sums of IOL, and of IOH, of a port group."""
    lib = library()
    lib.budget_fits.restype = c.c_bool
    lib.budget_start()
    number = c.c_uint8()
    limit = GROUPS[group]["limit_ma"] * 10
    if limit <= FIXTURE["controller"]["total_budget_ma"] * 10:
        lib.budget_give(group, high, limit)
        assert lib.budget_fits(c.byref(number))
        lib.budget_give(group, high, 1)
    else:
        lib.budget_give(group, high, limit + 1)
    assert not lib.budget_fits(c.byref(number)) and number.value == group + 1
    lib.budget_start()


def sums(lib: c.CDLL) -> list[int]:
    """All sums, 0.1 mA."""
    return [lib.budget_now(i, bool(high)) for high in (0, 1) for i in range(len(GROUPS))]


def test_a_refused_drive_and_a_load_that_is_over_count_nothing() -> None:
    lib = library()
    world = World(lib=lib)      # must live as long as the library calls it
    world.reset()
    where = c.c_uint8()
    lib.lines_plan(c.byref(Drive(0xFF00FF, 0x0F000F, 0, 0)), c.byref(where))
    lib.lines_commit()
    before = sums(lib)
    assert lib.lines_plan(c.byref(Drive(0xFFFFFF, 0, 0, 0)), c.byref(where)) == 2
    assert sums(lib) == before
    assert lib.lines_load(9, 3, True, c.byref(where)) == 0
    assert sum(sums(lib)) - sum(before) == ceil(10 * short_ma(560)) + ceil(10 * short_ma(270))
    lib.lines_unload()
    assert sums(lib) == before
