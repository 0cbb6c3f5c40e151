"""Every pass of parts of every shape, counted as the interlocks count, with the figures written down here.

M drives 9.14 mA at most, a verified S 4.0 mA, an S under load 18.27 mA, the load selector 15.54 mA; 195 mA in all,
and the limits of the port groups (ATmega2560 data sheet, DC characteristics, notes 3 and 4).  S may be driven only
where `verify` has been before, or by `load`.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.technology import marked
from sagbench.parts import load_part
from sagbench.parts.behaviour import Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names, load_file
from sagbench.plan import contact, inputs, loads, logic, power, thresholds
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import load_fixture
from sagbench.plan.lines import plan_lines
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat, of_mask
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")
#          position: 1 .. 24
M_GROUP = [5, 5, 5, 5, 5, 5, 2, 3, 1, 4, 3, 3, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 1]
S_GROUP = [5, 5, 5, 5, 5, 5, 2, 3, 1, 4, 3, 3, 2, 2, 2, 1, 2, 2, 2, 2, 1, 1, 1, 1]
LIMIT = {1: 200, 2: 200, 3: 200, 4: 100, 5: 100}
TOTAL = 195
# Every kind of package, supply pin and input count; 74150, 4067 and 74154 have the most inputs and outputs there are.
NAMES = [
    "7400",
    "74S04",
    "74H30",
    "74S133",
    "7473",
    "7475",
    "4051",
    "7476",
    "7490",
    "74LS112",
    "74LS125",
    "74LS138",
    "74150",
    "4067",
    "74154",
    "74HC154",
    "74161",
    "74LS181",
    "74S181",
    "74LS240",
    "74LS245",
    "74AC245",
    "74LS374",
    "74F373",
    "4011",
]


def worst(m_on, s_on, loaded=None):
    """Milliamperes by group, and in all."""
    sums = dict.fromkeys(LIMIT, 0.0)
    for p in of_mask(m_on):
        sums[M_GROUP[p - 1]] += 9.14
    for p in of_mask(s_on):
        sums[S_GROUP[p - 1]] += 4.0
    if loaded:
        position, lines, selector = loaded
        sums[M_GROUP[position - 1]] += 9.14 * (lines & 1)
        sums[S_GROUP[position - 1]] += 18.27 * (lines >> 1)
        sums[3] += 15.54 if selector == 5 else 0.7
    return sums


def check(recipe, verified):
    """Walk through a pass as the firmware does."""
    m_on = s_on = 0
    for step in recipe.steps:
        a = step.arguments
        if step.name == "drive":
            m_on, s_on = a["m_on"], a["s_on"]
        elif step.name == "pin":
            bit = 1 << (a["position"] - 1)
            m_on = m_on & ~bit | (bit if a["lines"] & 1 else 0)
            s_on = s_on & ~bit | (bit if a["lines"] & 2 else 0)
        elif step.name == "ramp":
            for position in (a["position"], a["watch"]):
                m_on, s_on = m_on & ~(1 << (position - 1)), s_on & ~(1 << (position - 1))
        elif step.name in ("idle", "power_off"):
            m_on = s_on = 0
            if step.name == "power_off":
                verified.clear()
        elif step.name == "verify":
            verified.add(a["position"])
        at = [a["position"]] if step.name == "load" else of_mask(a["mask"]) if step.name == "load_scan" else []
        assert not any((m_on | s_on) & 1 << (p - 1) for p in at), "a position under load is not driven otherwise"
        loads_on = [(p, a["lines"], a["load"]) for p in at]
        loads_on += [(a["position"], 2, 0)] if step.name == "verify" else []     # S, before it is known to be harmless
        for loaded in loads_on or ([None] if step.name in ("drive", "pin") else []):
            sums = worst(m_on, s_on, loaded)
            assert all(sums[g] <= LIMIT[g] for g in LIMIT) and sum(sums.values()) <= TOTAL, (step, sums)
            assert set(of_mask(s_on)) <= verified, f"S driven where not verified: {step}"


@pytest.mark.parametrize("name", NAMES)
def test_every_pass_of_a_part_keeps_within_the_interlocks(name):
    part = load_part(name)
    seat = Seat(24, part.pin_count)
    where = rails(FIXTURE, part, seat)
    drive = plan_drive(FIXTURE, part, seat)
    verified: set[int] = set()

    unpowered = Recipe()
    signals = [p for p in seat.positions if p != where.ground and p not in where.supplies]
    contact.channels(unpowered, FIXTURE, signals)
    contact.conduction(unpowered, FIXTURE, range(1, 25))
    contact.shorts(unpowered, FIXTURE, seat, where.ground)
    contact.pairs(unpowered, FIXTURE, seat, seat.positions)
    if power.has_quiescent(FIXTURE, part, drive):
        power.quiescent(unpowered, FIXTURE, part.supply_states, drive, where)
    inputs.clamps(unpowered, FIXTURE, where.ground, [seat.position(p) for p in inputs.measured(part, drive, ())])
    check(unpowered, verified)
    assert all(step.name != "power_on" and not step.arguments.get("s_on") for step in unpowered.steps)

    powered = Recipe()
    power.power_up(powered, FIXTURE, drive, where, 300)
    power.at_rest(powered, drive, where)
    power.supply_states(powered, part.supply_states, drive, wide=False)
    logic.unloaded(powered, FIXTURE, part, drive)
    for point in loads.logic_points(FIXTURE, part):
        logic.loaded(
            powered, part, drive, point, lambda pin, up, point=point: loads.wants(FIXTURE, part, pin, up, point)
        )
    network = Network(load_file(file_names()[part.function]).of(part.family or PLAIN))
    pins = inputs.measured(part, drive, ())
    toggles = thresholds.find_toggles(part, network, pins, thresholds.watchable(part, ()))
    for wide in (False, True):
        thresholds.ramps(powered, FIXTURE, part, drive, where, toggles, memory=bool(network.registers), wide=wide)
    for finely in (True, False):
        inputs.high_currents(powered, FIXTURE, drive, pins, finely=finely)
    inputs.rails_inputs_high(powered, drive, where)
    inputs.low_currents(powered, FIXTURE, part, drive, pins, marked(part))
    usable = {(i, pin) for i, step in enumerate(part.sequence) for pin in step.expect}
    logic.lines(powered, FIXTURE, part, drive, where, plan_lines(FIXTURE, part, usable, {}), Reference.AVCC)
    check(powered, verified)
    for step, count in ((s, s.readings) for s in powered.steps):
        assert count == step.readings
    assert sum(s.readings for s in powered.steps) == len(powered.marks)
