"""The logic test as passes, on parts whose truth is known by heart.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

from sagbench.parts import Expect, load_part
from sagbench.plan import loads, logic
from sagbench.plan.drive import Drive, plan_drive
from sagbench.plan.fixture import load_fixture
from sagbench.plan.lines import low_ones, plan_lines, without
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat
from sagbench.wire.numbers import Reference

FIXTURE = load_fixture("bench24")


def played(name, play):
    part = load_part(name)
    recipe = Recipe()
    drive = plan_drive(FIXTURE, part, Seat(24, part.pin_count))
    play(recipe, part, drive)
    return part, recipe


def test_an_output_to_be_low_is_pulled_up_and_one_to_be_high_is_pulled_down():
    point = FIXTURE.point("weak")
    part, recipe = played("7400", lambda r, p, d: logic.loaded(r, p, d, point, lambda pin, up: True))
    seat = Seat(24, 14)
    assert recipe.marks
    for mark in recipe.marks:
        expect = part.sequence[mark.step].expect[seat.pin_at(mark.position)]
        assert mark.up == (expect is Expect.LOW)


def test_an_output_to_be_off_is_pulled_both_ways():
    part, recipe = played("74LS125", lambda r, p, d: logic.unloaded(r, FIXTURE, p, d))
    off = {(i, pin) for i, step in enumerate(part.sequence) for pin, e in step.expect.items() if e is Expect.OFF}
    seat = Seat(24, 14)
    for label, up in (("off up", True), ("off down", False)):
        seen = {(m.step, seat.pin_at(m.position)) for m in recipe.marks if m.label == label}
        assert seen == off and off
        assert all(m.up == up and m.selector == 1 for m in recipe.marks if m.label == label)


def test_a_pin_that_delivers_much_as_an_input_is_pulled_low_by_m():
    """74F245: 1 mA at a bidirectional pin would lift 8.2 kohm to the threshold; 587 ohm stay at 0.6 V."""
    _, recipe = played("74F245", lambda r, p, d: logic.unloaded(r, FIXTURE, p, d))
    down = [m for m in recipe.marks if m.label == "off down"]
    assert down and all(m.lines == 1 and m.selector == 0 and not m.up for m in down)


def test_trains_of_pulses_reach_the_device_after_the_levels():
    part = load_part("7400")
    train = replace(part.sequence[0], pulses={1: 4096})
    drive = plan_drive(FIXTURE, part, Seat(24, 14))
    recipe = Recipe()
    logic.apply(recipe, drive, {}, train)
    assert [s.name for s in recipe.steps] == ["drive", "pulse"]
    assert recipe.steps[1].arguments == {"position": 1, "count": 4096}
    released = Recipe()
    logic.apply(released, Drive(Seat(24, 14)), {}, train)
    assert [s.name for s in released.steps] == ["drive"], "a pin that is not driven cannot be pulsed"


def test_an_open_collector_output_is_never_asked_to_source():
    part = load_part("7401")
    for pin in part.outputs:
        assert not any(loads.wants(FIXTURE, part, pin.number, False, p) for p in FIXTURE.points)
    usable = {(i, pin) for i, step in enumerate(part.sequence) for pin in step.expect}
    assert all(reading.up for reading in plan_lines(FIXTURE, part, usable, {}))


def test_load_points_go_just_beyond_the_rated_current():
    names = {
        name: loads.line_points(FIXTURE, load_part(name).limits[load_part(name).outputs[0].number], True)
        for name in ("7400", "74LS00", "74S00", "74LS245")
    }
    assert names["7400"][-1] == "both"  # 16 mA rated, 23.8 mA there
    assert names["74LS00"][-1] == "strong"  # 8 mA rated, 15.8 mA there
    assert names["74S00"][-1] == "both"  # 20 mA rated; 36 mA would be 16 mA too much
    assert names["74LS245"][-1] == "both"  # 24 mA rated; 36 mA would be 12 mA too much


def test_the_logic_test_is_loaded_no_harder_than_rated():
    assert [p.name for p in loads.logic_points(FIXTURE, load_part("7400"))] == ["weak", "medium", "strong"]
    assert [p.name for p in loads.logic_points(FIXTURE, load_part("74LS00"))] == ["weak", "medium"]
    assert [p.name for p in loads.logic_points(FIXTURE, load_part("4011"))] == ["weak"]


def test_precise_readings_are_taken_where_an_output_did_worst_but_not_where_its_logic_is_wrong():
    part = load_part("7400")
    low = [i for i, step in enumerate(part.sequence) if step.expect.get(3) is Expect.LOW]
    seen = {(low[0], 3): 0.20, (low[1], 3): 0.30}
    usable = {(i, 3) for i in range(len(part.sequence))}
    assert next(r for r in plan_lines(FIXTURE, part, usable, seen) if r.pin == 3 and r.up).step == low[1]
    assert (
        next(r for r in plan_lines(FIXTURE, part, usable - {(low[1], 3)}, seen) if r.pin == 3 and r.up).step == low[0]
    )
    assert not plan_lines(FIXTURE, part, set(), seen)


def test_low_levels_are_read_against_the_finer_reference_and_what_did_not_fit_under_it_again():
    part = load_part("7400")
    usable = {(i, pin) for i, step in enumerate(part.sequence) for pin in step.expect}
    wanted = plan_lines(FIXTURE, part, usable, {})
    first = low_ones(wanted)
    assert [r.pin for r in first] == [3, 6, 8, 11] and all(r.up for r in first)
    taken = {(r.pin, point) for r in first for point in r.points} - {(3, "strong")}
    left = without(wanted, taken)
    assert [(r.pin, r.points) for r in left if r.up] == [(3, ("strong",)), (6, ()), (8, ()), (11, ())]
    assert [r for r in left if not r.up] == [r for r in wanted if not r.up], "high levels do not fit anyhow"
    recipe, seat = Recipe(), Seat(24, 14)
    where = rails(FIXTURE, part, seat)
    logic.lines(recipe, FIXTURE, part, plan_drive(FIXTURE, part, seat), where, left, Reference.AVCC)
    low = [m for m in recipe.marks if m.label == "line" and m.up and not m.under]
    assert [(seat.pin_at(m.position), m.point) for m in low] == [(3, "strong")]
    assert {m.step for m in recipe.marks if m.label == "supply"} == {r.step for r in wanted}, "the rails of every line"
