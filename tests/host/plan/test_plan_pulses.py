"""How a monostable is triggered and timed: what goes over the wire, step by step.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.parts import load_part
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import load_fixture
from sagbench.plan.pulses import AGAIN_LOOKS, fire, high_at, pins_of, second_trigger, timing_point
from sagbench.plan.recipe import Mark, Reading, Recipe
from sagbench.plan.seat import Seat

FIXTURE = load_fixture("bench24")


def recipe_of(name, index, again=0):
    part = load_part(name)
    seat = Seat(FIXTURE.positions, part.pin_count)
    recipe = Recipe()
    fire(recipe, part, plan_drive(FIXTURE, part, seat), part.pulses[index], FIXTURE.point("trickle"), again)
    return part, seat, recipe


def named(recipe, *names):
    return [step for step in recipe.steps if step.name in names]


@pytest.mark.parametrize("ohm,name", [
    ((5e3, 260e3), "trickle"), ((5e3, 50e3), "weak"), ((100e3, 100e3), "trickle"), ((8.2e3, 9e3), "weak"), ((10e3, 90e3), None),
    ((200e3, 1e6), None)])
def test_the_largest_resistor_that_the_data_book_allows(ohm, name):
    point = timing_point(FIXTURE, ohm)
    assert (point.name if point else None) == name


def test_resistor_then_levels_then_trigger():
    """74LS123, first way: 1RCX (pin 15: position 23) to 5 V, 1A low, 1B low, 1CLR high, then 1B at position 2; 1Q is pin 13."""
    _, seat, recipe = recipe_of("74LS123", 0)
    order = [step.name for step in recipe.steps]
    assert order.index("sense") < order.index("one_shot") and order[-1] == "sense"
    tie, off = named(recipe, "sense")
    assert tie.arguments == {"position": seat.position(15), "load": FIXTURE.point("trickle").load, "ld": 2}
    assert off.arguments["position"] == 0 and off.arguments["load"] == 0
    (shot,) = named(recipe, "one_shot")
    assert shot.arguments == {"trigger": 2, "watch": seat.position(13), "again": 0}
    high = [(step.arguments.get("m_high", step.arguments.get("high", 0)) | step.arguments.get("s_high", 0)) for step in
            named(recipe, "drive", "levels")]
    assert high == [0, 1 << 2, 0]                        # all low, only 1CLR (position 3) high, all low
    assert recipe.marks[-2:] == [Mark("length", label="pulse"), Mark("count", label="pulses seen")]


def test_what_a_second_trigger_adds():
    _, _, recipe = recipe_of("74LS123", 0, 9)
    assert named(recipe, "one_shot")[0].arguments["again"] == 9
    assert [m.label for m in recipe.marks[-2:]] == ["pulse again", "pulses seen again"]


def test_the_121_keeps_its_resistor_pin_high():
    """RINT (pin 9) is high from the beginning, before and after: low it would empty the timing node."""
    part, seat, recipe = recipe_of("74121", 1)
    rint = 1 << seat.position(9) - 1
    for step in named(recipe, "drive", "levels"):
        assert (step.arguments.get("m_high", step.arguments.get("high", 0)) | step.arguments.get("s_high", 0)) & rint
    assert pins_of(part.pulses[1]) == {3, 4, 5, 6, 9, 11}


@pytest.mark.parametrize("us,looks", [(6.5, 8), (2.8, 0), (3.4, 4), (13.3, 16), (35.0, 16), (0.0, 0)])
def test_when_the_second_trigger_comes(us, looks):
    """At six tenths of the pulse, in half microseconds, or as late as the step can; not where it cannot so early."""
    assert second_trigger(us * 1e-6) == looks and (looks == 0 or AGAIN_LOOKS[0] <= looks <= AGAIN_LOOKS[1])


def test_levels_from_two_words():
    """Positions 1 to 12 in the first, 13 to 24 in the second, bit 0 the lowest."""
    words = tuple(Reading(Mark("lines"), total) for total in (0b1000_0000_0001, 0b10))
    assert [p for p in range(1, 25) if high_at(words, p)] == [1, 12, 14]
    assert high_at((), 3) is None and high_at((Reading(Mark("lines"), None), words[1]), 3) is None
