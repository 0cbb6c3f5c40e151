"""Low inputs: what each is held by, and that it never floats.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.parts import load_part
from sagbench.plan import inputs
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import M_LINE, load_fixture
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat

FIXTURE = load_fixture("bench24")
LEVEL = FIXTURE.raw["load_selector"].index("L_LEVEL")


def taken(name, technology="ttl"):
    part = load_part(name)
    drive = plan_drive(FIXTURE, part, Seat(24, part.pin_count))
    recipe = Recipe()
    inputs.low_currents(recipe, FIXTURE, part, drive, inputs.measured(part, drive, ()), technology)
    return recipe


@pytest.mark.parametrize(("name", "levelled"), [("74LS00", 8), ("74L00", 8), ("74ALS00", 8), ("7400", 0), ("74S00", 0)])
def test_inputs_that_deliver_little_are_brought_to_the_test_voltage_by_the_level_drive(name, levelled):
    """0.26 mA of an LS input make 0.15 V at 587 ohm; 1 mA of a 7400's make 0.6 V."""
    marks = [m for m in taken(name).marks if m.label == "low in, level"]
    assert [m.what for m in marks] == ["position", "vdac"] * levelled


def test_the_level_is_that_at_which_a_typical_input_stands_at_the_test_voltage():
    """LS: 0.4 mA at most, 0.26 mA typically, 0.177 V at 680 ohm: 0.223 V."""
    part = load_part("74LS00")
    assert inputs.low_level(FIXTURE, part, [1, 2]) == pytest.approx(0.223 / 5 * 1024, abs=1)


def test_an_input_does_not_float_between_its_line_and_the_level_drive():
    """The drive is tied to it before the line lets go, and unties only when the line is back."""
    held, lines, tied = [], True, False
    for step in taken("74LS00").steps:
        if step.name == "sense":
            tied = step.arguments["load"] == LEVEL
        elif step.name == "pin":
            lines = bool(step.arguments["lines"])
        held.append(lines or tied)
    assert all(held) and not tied


def test_a_cmos_part_is_held_by_the_trickle_load_alone():
    marks = taken("74HC00", "cmos").marks
    assert {m.label for m in marks} == {"common", "low in, finely"} and not any(m.lines & M_LINE for m in marks)
