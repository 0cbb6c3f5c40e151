"""The clamp prolonged to the data book's current: a resistance that may be half gone there.

SPDX-License-Identifier: MIT
"""

from math import log

import pytest

from sagbench.measure.inputs import clamp
from sagbench.measure.model import Model
from sagbench.measure.uncertain import standard, value
from sagbench.plan.fixture import load_fixture
from sagbench.plan.inputs import clamps
from sagbench.plan.recipe import Mark, Reading, Readings, Recipe

FIXTURE = load_fixture("bench24")
GROUND, INPUT = 7, 1
RAIL, LINE, BOTH = 5.0, 590.0, 1 / (1 / 590 + 1 / 300)  # middles of the spans: 560 and 270 ohm, and a pin's 30
CHANNEL = 105.0


def drop(amperes, ohm):
    """A diode of 0.7 V at 1 mA and n = 1.02, and a resistance."""
    return 0.7 + 1.02 * 0.0259 * log(amperes / 1e-3) + ohm * amperes


def readings(ohm):
    """A model, and what an ideal converter shows of the clamp's points: M from 5 V, the diode, and the load to 0 V."""
    model = Model(FIXTURE)
    model.learn_rail(Reading(Mark("vref", repeats=64), round(511.75 * 64)))
    recipe = Recipe()
    clamps(recipe, FIXTURE, GROUND, [INPUT])
    out = []
    for mark in recipe.marks:
        load = {"weak": 8200 + 30 + 2 * CHANNEL, "medium": LINE, "both": BOTH}[mark.point]
        low, high = 1e-6, RAIL / (LINE + load)
        for _ in range(60):
            amperes = (low + high) / 2
            low, high = (amperes, high) if amperes * (LINE + load) + drop(amperes, ohm) < RAIL else (low, amperes)
        volts = RAIL - amperes * LINE if mark.under else RAIL - amperes * LINE - drop(amperes, ohm)
        volts -= CHANNEL * amperes if mark.selector and not mark.under else 0.0  # K is behind the position's channel
        out.append(Reading(mark, round((volts / RAIL * 1024 - 0.25) * mark.repeats)))
    return model, Readings(tuple(out))


@pytest.mark.parametrize("share", [1.0, 0.75, 0.5])
def test_what_is_left_of_its_resistance_beyond_the_heaviest_point_is_within_the_uncertainty(share):
    """40 ohm up to some 5.3 mA, and this share of it for what is beyond, to 12 mA."""
    model, seen = readings(40.0)
    found = clamp(model, seen, INPUT, 0.012)
    heaviest = 5.3e-3
    true = drop(heaviest, 40.0) + 1.02 * 0.0259 * log(0.012 / heaviest) + share * 40.0 * (0.012 - heaviest)
    assert abs(-value(found.number) - true) <= 2 * standard(found.number)
    even = 0.25 / 3**0.5 * 40.0 * (0.012 - heaviest)
    assert even < standard(found.number) < 1.3 * even  # and what the readings themselves leave
