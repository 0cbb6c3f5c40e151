"""Which inputs can be watched while they are ramped: states worked out from data books' function tables.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.parts import load_part
from sagbench.parts.behaviour import Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.model import Role
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import load_fixture
from sagbench.plan.logic import levels_at
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat
from sagbench.plan.thresholds import (
    ENDED_V,
    LEAD_V,
    codes,
    find_toggles,
    may_be_wider,
    ramps,
    reachable,
    settling,
    span,
    stays_us,
    untold,
    usual_v,
    watchable,
)

FIXTURE = load_fixture("bench24")


def toggles(name, skip=()):
    part = load_part(name)
    network = Network(load_file(file_names()[part.function]).of(part.family or PLAIN))
    pins = [p.number for p in part.of_role(Role.INPUT)]
    return part, find_toggles(part, network, pins, watchable(part, skip)), pins


@pytest.mark.parametrize(("name", "controls"), [("4066B", {5, 6, 12, 13}), ("4067B", {10, 11, 13, 14, 15})])
def test_what_an_analog_switch_lets_through_has_no_threshold(name, controls):
    """An output of a switch is the input's own voltage: only control inputs have thresholds. Pins: data books."""
    part, found, pins = toggles(name)
    assert {t.pin for t in found} == controls
    assert controls < set(pins)


def test_an_input_of_a_nand_answers_while_its_fellow_is_high():
    part, found, pins = toggles("7400")
    fellow = {1: 2, 2: 1, 4: 5, 5: 4, 9: 10, 10: 9, 12: 13, 13: 12}
    output = {1: 3, 2: 3, 4: 6, 5: 6, 9: 8, 10: 8, 12: 11, 13: 11}
    rising = [t for t in found if t.rising]
    assert sorted(t.pin for t in rising) == pins
    assert [t.pin for t in found if not t.rising] == [1], "one both ways, to see that it is no Schmitt input"
    for t in rising:
        levels = levels_at(part, t.step)
        assert levels[t.pin] is False and levels[fellow[t.pin]] is True and t.watch == output[t.pin]


def test_a_schmitt_input_is_ramped_both_ways():
    _, found, pins = toggles("7414")
    assert sorted((t.pin, t.rising) for t in found) == sorted((p, way) for p in pins for way in (False, True))


def test_a_clock_is_ramped_the_way_it_acts_and_data_inputs_have_no_output_that_answers():
    part, found, pins = toggles("74LS74")
    ways = {part.pin(t.pin).name: t.rising for t in found}
    assert ways["1CLK"] is ways["2CLK"] is True
    assert [part.pin(p).name for p in untold(pins, found)] == ["1D", "2D"]
    part, found, _ = toggles("74LS112")
    assert {part.pin(t.pin).name: t.rising for t in found}["1CLK"] is False


def test_a_clear_that_is_active_low_is_ramped_down_while_the_output_is_high():
    part, found, _ = toggles("74LS273")
    clear = next(t for t in found if part.pin(t.pin).name == "CLR")
    assert clear.rising is False and levels_at(part, clear.step)[clear.pin] is True


def test_an_open_collector_and_an_output_that_goes_off_are_watched_for_their_pin_is_pulled_up():
    _, found, pins = toggles("7407")
    assert sorted({t.pin for t in found}) == pins
    part, found, _ = toggles("74LS244")  # enabled, with a low input: the output is low, and off when G goes high
    enable = next(t for t in found if part.pin(t.pin).name == "1G")
    assert enable.rising and not levels_at(part, enable.step)[part.pins[1].number]


def test_outputs_that_answer_wrongly_are_not_watched():
    _, found, _ = toggles("7400", skip={3})
    assert {t.pin for t in found} == {4, 5, 9, 10, 12, 13}


def test_the_level_begins_below_what_lifts_the_pin_and_ends_beyond_the_usual_threshold():
    """1.6 mA at most in some 890 ohm: the pin of a 7400 stands up to 1.4 V above the level, near 1.4 V some 0.6 V."""
    part = load_part("7400")
    begin, end = span(part, 1, True)
    assert 0.3 <= begin <= 0.7 and 2.0 <= end <= 2.4
    part = load_part("74HC00")
    assert span(part, 1, True) == pytest.approx((2.05, 3.35)) and span(part, 1, False) == pytest.approx((2.75, 1.45))


def test_an_input_of_many_unit_loads_is_out_of_the_level_drives_reach():
    """Three S loads of 2 mA, typically two thirds: 4.2 V behind 1.1 kohm, 890 ohm to 0 V: 1.9 V, above 1.25 V."""
    part = load_part("74S181")
    loads = {p.number: p.low_unit_loads for p in part.of_role(Role.INPUT)}
    assert {loads[pin] for pin in loads if reachable(part, pin)} == {1.0}
    assert all(reachable(load_part("7474"), pin) for pin in (1, 2, 3, 4))


def test_a_falling_ramp_that_ended_at_nothing_is_not_made_wider():
    part, found, _ = toggles("7414")
    down = next(t for t in found if not t.rising)
    assert codes(FIXTURE, part, down, False)[1] == 0 and not may_be_wider(FIXTURE, part, down)
    assert may_be_wider(FIXTURE, part, next(t for t in found if t.rising))


def test_a_plain_input_that_did_not_answer_on_the_way_down_may_have_been_below_its_threshold_from_the_start():
    """LOAD of a 74LS193 acts low; a specimen with 1.46 V lies below that where the ramp begins, at 1.45 V: 1.1 V is usual."""
    part, found, _ = toggles("74LS193")
    load = next(t for t in found if part.pin(t.pin).name.startswith("LOAD"))
    assert not load.rising and codes(FIXTURE, part, load, False)[1] == 0 and may_be_wider(FIXTURE, part, load)


@pytest.mark.parametrize("name", ["7400", "74LS74"])
def test_the_level_waits_at_its_first_code_while_the_lines_still_hold_the_input(name):
    part, found, _ = toggles(name)
    seat = Seat(24, part.pin_count)
    drive, recipe = plan_drive(FIXTURE, part, seat), Recipe()
    ramps(recipe, FIXTURE, part, drive, rails(FIXTURE, part, seat), found, memory=name == "74LS74")
    names = [s.name for s in recipe.steps]
    at = [i for i, n in enumerate(names) if n == "ramp"]
    assert len(at) == len(found)
    for i, toggle in zip(at, found, strict=True):
        step = recipe.steps[i].arguments
        level = next(s.arguments for s in reversed(recipe.steps[:i]) if s.name == "level")
        assert level["code"] == step["first"]
        assert step["position"] == seat.position(toggle.pin) and step["watch"] == seat.position(toggle.watch)
        assert names[i + 1] == "sense" and names[i + 2] in ("drive", "levels")  # the input is held again
    labels = [m.label for m in recipe.marks if m.label.startswith("threshold")]
    assert labels == ["threshold ground", "threshold code", "threshold", "threshold vdac"] * len(found)


def test_the_level_is_near_its_ramps_beginning_when_the_input_is_taken_over():
    """Each ramp's wait against the filter in small steps, from where the ramp before is taken to have ended."""
    part, found, _ = toggles("7414")
    waits = settling(FIXTURE, part, found, False)
    before = 0.0
    for toggle, wait in zip(found, waits, strict=True):
        first = codes(FIXTURE, part, toggle, False)[0] * 5 / 1024
        a = b = before
        for _ in range(wait):
            a, b = a + ((first - a) - (a - b)) * 1e-3, b + (a - b) * 1e-3  # 10 kohm and 100 nF twice: 1 us of 1 ms
        assert abs(b - first) <= LEAD_V
        before = usual_v(part, toggle.pin, toggle.rising) + (ENDED_V if toggle.rising else -ENDED_V)
    assert waits[0] > 0


def test_a_ramp_down_to_nothing_waits_there_for_the_filter():
    assert stays_us(FIXTURE, 0) > 5 * stays_us(FIXTURE, 100)
