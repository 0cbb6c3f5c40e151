"""A monostable's pulse: timing resistor to its pin, levels, a trigger, the firmware's timing.

The timing resistor is one of the load selector's, pulled to 5 V; the capacitor is what node K and the position have
against ground. Labels of the readings: `pulse cleared` and `pulse ready` (levels of all positions, two readings each),
`pulse` (length) and `pulses seen`; `pulse again` and `pulses seen again` with a second trigger.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping

from sagbench.parts.model import Part, PulseTest
from sagbench.plan.drive import Drive
from sagbench.plan.fixture import Fixture, LoadPoint
from sagbench.plan.logic import levels_at
from sagbench.plan.recipe import Mark, Reading, Recipe
from sagbench.wire import steps
from sagbench.wire.numbers import LineLevel

SHOTS = 8  # triggers of one step `one_shot`
CLOCK_S = 1 / 16e6  # what its length counts
LOOK_CLOCKS = 8  # and its second trigger
ENDLESS = 0xFFFE  # the length of a pulse that does not end within 30 ms
FOLLOWED_S = 840e-6  # a pulse is followed so long; of a longer one only that it ended is known
AGAIN_SHARE = 0.6  # of a pulse's length: when the second trigger comes (HC types ignore one in the first third)
AGAIN_LOOKS = (4, 16)  # what the step allows
SETTLE_US = 3000  # far longer than any pulse here: one that the way to these levels has triggered is over
POINTS = ("trickle", "weak")  # resistors of the load selector that may be the timing resistor, the largest first
WORDS = 12  # positions told by one reading of `lines_read`


def timing_point(fixture: Fixture, ohm: tuple[float, float]) -> LoadPoint | None:
    """The largest resistor within the data book's span: it makes the longest pulse. None if neither is."""
    for name in POINTS:
        if ohm[0] <= fixture.resistor(f"{name}_load").typ <= ohm[1]:
            return fixture.point(name)
    return None


def pins_of(test: PulseTest) -> frozenset[int]:
    """Pins that must be in order for this test."""
    return frozenset((test.trigger, test.timing, test.output, *test.ready))


def fire(recipe: Recipe, part: Part, drive: Drive, test: PulseTest, point: LoadPoint, again: int = 0) -> None:
    """One way to trigger; `again`: half microseconds until a second trigger, 0 for none. Cleared before and after."""
    rest: Mapping[int, bool] = levels_at(part, 0)
    more = " again" if again else ""
    recipe.drive(*drive.masks(rest))
    recipe.sense(drive.seat.position(test.timing), point.load, LineLevel.HIGH)
    recipe.settle(SETTLE_US)
    recipe.add(steps.lines_read(), *[Mark("lines", label="pulse cleared" + more)] * 2)
    recipe.drive(*drive.masks({**rest, **test.ready}))
    recipe.settle(SETTLE_US)
    recipe.add(steps.lines_read(), *[Mark("lines", label="pulse ready" + more)] * 2)
    recipe.add(
        steps.one_shot(drive.seat.position(test.trigger), drive.seat.position(test.output), again),
        Mark("length", label="pulse" + more),
        Mark("count", label="pulses seen" + more),
    )
    recipe.drive(*drive.masks(rest))
    recipe.sense(0)


def high_at(words: tuple[Reading, ...], position: int) -> bool | None:
    """The level of a position in the two readings of `lines_read`; None if they are missing."""
    word = words[(position - 1) // WORDS].total if len(words) == 2 else None
    return None if word is None else bool(word >> (position - 1) % WORDS & 1)


def second_trigger(length_s: float) -> int:
    """Half microseconds after which a second trigger falls well within a pulse of that length; 0: it cannot."""
    looks = round(AGAIN_SHARE * length_s / (CLOCK_S * LOOK_CLOCKS))
    return min(looks, AGAIN_LOOKS[1]) if looks >= AGAIN_LOOKS[0] else 0
