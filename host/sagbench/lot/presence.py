"""Is there a chip in the socket, and has the hand let go of the lever?  At contact-check currents, without power.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

from sagbench.device import Device
from sagbench.errors import DeviceError
from sagbench.measure.contact import drops
from sagbench.plan.contact import conduction
from sagbench.plan.fixture import fixture_of
from sagbench.plan.recipe import Recipe, pair
from sagbench.wire.numbers import PassStatus

Look = frozenset[tuple[int, int]]  # (position raised, position that conducts)

FEWEST = 3  # so many pairs must conduct: a finger gives none, a bridged socket one or two
ALIKE = 0.9  # two looks at a chip that sits still share so much
STILL = 3  # looks in a row


class Presence(Enum):
    """What the last looks say together."""

    EMPTY = "empty"
    MOVING = "something moves"
    SEATED = "seated"


def look(device: Device) -> Look:
    """Every position raised in turn: which others conduct; never more than 0.65 mA through a pin, no power.

    Raises DeviceError if the fixture refuses, LinkError.
    """
    fixture = fixture_of(device.info.wiring_id)
    recipe = Recipe()
    recipe.power_off()
    conduction(recipe, fixture, fixture.present)
    result = device.run_pass(recipe.finish())
    if result.status is not PassStatus.COMPLETE:
        raise DeviceError(f"The fixture at {device.info.port} would not look at its socket; reset it and start again.")
    readings = pair(recipe.marks, result.readings)
    nominal = float(fixture.raw["supply"]["nominal_v"])
    return frozenset(
        (raised, position)
        for raised in fixture.present
        for position, drop in drops(fixture, readings, raised, nominal).items()
        if drop is not None
    )


class Watcher:
    """Looks put together: a chip is seated when STILL looks in a row agree, and gone when as many see nothing."""

    def __init__(self, see: Callable[[], Look]) -> None:
        self._see = see
        self._last: Look = frozenset()
        self._same = 0

    def now(self) -> Presence:
        """One more look."""
        seen = self._see()
        both = len(seen | self._last)
        alike = not both or len(seen & self._last) >= ALIKE * both
        self._same = self._same + 1 if alike else 1
        self._last = seen
        if self._same < STILL:
            return Presence.MOVING
        return Presence.SEATED if len(seen) >= FEWEST else Presence.EMPTY

    def begin_again(self) -> None:
        """Forget earlier looks: after a sweep, or when the user says so."""
        self._last, self._same = frozenset(), 0
