"""The contact check: an unpowered chip, never more than 0.65 mA through a pin.

1. The ground position is raised to 5 V through M and every position is read with the weak load to 0 V:
   each connected pin shows the forward drop of its junction to the substrate.
2. Each pin in turn is pulled up through the weak load with all other pins (or so many that no pair is left out) held
   low through M: a pin that stays near 0 V is shorted to one of them.  No junction and no MOS channel
   conducts at so low a voltage, so nothing but a short can hold it there.
   On the way the multiplexer channel of each signal pin is measured: M low and the weak load up at the pin
   itself make a divider, and an unpowered pin takes nothing at a third of a volt.
3. Only for pins that 2. caught: the same against one pin at a time, to see which.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat, mask
from sagbench.wire.numbers import LineLevel, Reference


def conduction(recipe: Recipe, fixture: Fixture, raised: Iterable[int]) -> None:
    """Step 1 for each of these positions; readings are labelled `from 7`."""
    weak = fixture.point("weak").load
    recipe.reference(Reference.AVCC)
    for position in raised:
        recipe.drive(mask([position]), 0, mask([position]))
        recipe.sense(0, weak, LineLevel.LOW)
        recipe.scan(fixture.present, label=f"from {position}")
    recipe.idle()


def lows(fixture: Fixture, pins: Sequence[int], position: int) -> list[int]:
    """Those held low through M while this one is pulled up: the others, or of many the next ones around, as many as may be driven.

    Of two pins each is among the next ones of the other, or at least one is: no pair is left out.
    """
    budget = fixture.raw["budget_ma"]
    most = int((budget["total"] - max(budget["load_short"])) // budget["medium_short"])
    if most < (len(pins) - 1) / 2:
        raise ValueError(f"{most} positions held low at once leave out pairs of {len(pins)}")
    at = pins.index(position)
    return [*pins[at + 1 :], *pins[:at]][:most]


def shorts(recipe: Recipe, fixture: Fixture, seat: Seat, ground: int) -> None:
    """Step 2 for every pin but ground; readings are labelled `against all`."""
    weak = fixture.point("weak").load
    recipe.reference(Reference.AVCC)
    pins = [p for p in seat.positions if p != ground]
    for position in pins:
        recipe.drive(mask(lows(fixture, pins, position)), 0, 0)
        recipe.read_position(position, 1, label="against all", selector=weak, ld=LineLevel.HIGH)
    recipe.idle()


def channels(recipe: Recipe, fixture: Fixture, positions: Sequence[int]) -> None:
    """Readings `channel` (M low, weak load up), then one `selector` (M high, K tied to ground).

    Against the reference now set.
    """
    weak = fixture.point("weak").load
    for position in positions:
        recipe.drive(mask([position]), 0, 0)
        recipe.read_position(position, 8, label="channel", selector=weak, ld=LineLevel.HIGH)
    first = positions[0]
    recipe.drive(mask([first]), 0, mask([first]))
    recipe.read_position(first, 8, label="selector", selector=fixture.raw["load_selector"].index("GND"))
    recipe.idle()


def pairs(recipe: Recipe, fixture: Fixture, seat: Seat, suspects: Iterable[int]) -> None:
    """Step 3; readings of position p against q are labelled `against q`."""
    weak = fixture.point("weak").load
    recipe.reference(Reference.AVCC)
    for position in suspects:
        for other in seat.positions:
            if other != position:
                recipe.drive(mask([other]), 0, 0)
                recipe.read_position(position, 1, label=f"against {other}", selector=weak, ld=LineLevel.HIGH)
    recipe.idle()
