"""A pass under construction: marks follow readings, and the device is told no more than it must be.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.plan.fixture import load_fixture
from sagbench.plan.recipe import Mark, Recipe, pair
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel, Reference, Source

FIXTURE = load_fixture("bench24")


def test_every_reading_has_a_mark_and_a_step_without_its_marks_is_refused():
    recipe = Recipe()
    recipe.scan([3, 9, 24], label="x")
    recipe.load(6, FIXTURE.point("strong"), True, also=7, repeats=4)
    recipe.verify(2)
    assert len(recipe.marks) == sum(step.readings for step in recipe.finish()) == 3 + 2 + 2
    assert [m.position for m in recipe.marks] == [3, 9, 24, 6, 7, 2, 2]
    with pytest.raises(ValueError, match="1 readings, 0 marks"):
        recipe.add(steps.read(Source.K, 1))


def test_a_mark_knows_the_load_it_was_read_under():
    recipe = Recipe()
    recipe.sense(0, 1, LineLevel.HIGH)
    recipe.scan([5])
    recipe.load(6, FIXTURE.point("heavy"), False, also=7)
    scanned, loaded, ground = recipe.marks
    assert (scanned.selector, scanned.up) == (1, True)
    assert (loaded.selector, loaded.lines, loaded.up, loaded.point) == (5, 3, False, "heavy")
    assert (ground.selector, ground.lines, ground.under) == (0, 0, 6), "the selector is open while ground is read"


def test_the_reference_is_sent_only_when_it_changes():
    recipe = Recipe()
    for reference in (Reference.AVCC, Reference.AVCC, Reference.V1V1, Reference.V1V1):
        recipe.reference(reference)
    assert [s.arguments["reference"] for s in recipe.steps] == [0, 2]
    recipe.power_on([24], 7, 500)  # the device reads ICC against avcc meanwhile
    recipe.reference(Reference.V1V1)
    assert [s.name for s in recipe.steps][-1] == "reference"


def test_power_without_ground_leaves_the_reference_and_sets_one_that_is_not_known():
    for before in (Reference.V2V56, None):
        recipe = Recipe()
        if before is not None:
            recipe.reference(before)
        recipe.power_on([24], 0, 500)
        recipe.reference(Reference.V2V56)
        sent = [s.arguments["reference"] for s in recipe.steps if s.name == "reference"]
        assert sent == ([Reference.V2V56] if before else [Reference.AVCC, Reference.V2V56])
        assert recipe.marks[0].reference is (before or Reference.AVCC)


def test_the_time_a_pass_takes_at_least_is_that_of_its_conversions_and_waits():
    recipe = Recipe()
    recipe.drive(1, 0, 1)
    recipe.read_position(3, 10)
    recipe.settle(70_000)
    recipe.load(6, FIXTURE.point("heavy"), False, also=7, repeats=4)
    assert recipe.at_least_us == 10 * 104 + 70_000 + 8 * 104


def test_the_same_lines_get_new_levels_only_and_others_a_whole_drive():
    recipe = Recipe()
    recipe.drive(0b11, 0b100, 0b001)
    recipe.drive(0b11, 0b100, 0b110)
    recipe.drive(0b10, 0b100, 0b110)
    recipe.lines_gone()
    recipe.drive(0b10, 0b100, 0b110)
    assert [s.name for s in recipe.steps] == ["drive", "levels", "drive", "drive"]
    assert recipe.steps[2].arguments == {"m_on": 0b10, "m_high": 0b10, "s_on": 0b100, "s_high": 0b100}


def test_readings_that_never_came_are_not_measured_and_not_zero():
    readings = pair([Mark("position", 1), Mark("position", 2, repeats=4)], [512])
    assert [r.code for r in readings.all] == [512, None]
