"""The supply current amplifier: known currents drawn from the supply switches, and what the amplifier says.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence

from sagbench.calibrate.session import Draw
from sagbench.plan.fixture import M_LINE, Fixture
from sagbench.plan.power import ALLOWANCE_A, limit_code
from sagbench.plan.recipe import Readings, Recipe
from sagbench.wire.numbers import Reference, Source

REPEATS = 64
LEVELS = 16  # conversions of a pin's level
SETTLE_US = 2000


def states(supplies: Sequence[int]) -> list[tuple[int, ...]]:
    """Positions whose M line pulls low, state by state: from none to all that may be drawn.

    The load selector could draw more, but what its channel has at such a level is not known well enough.
    """
    return [tuple(supplies[:n]) for n in range(len(supplies) + 1)]


def plan(
    recipe: Recipe, fixture: Fixture, supplies: Sequence[int], ground: int, across: tuple[int, int] | None
) -> None:
    """Switches on, every state read, switches off. `ground` 0: only the lines draw."""
    recipe.power_off()
    recipe.power_on(supplies, ground, limit_code(fixture, ALLOWANCE_A, len(supplies)))
    recipe.reference(Reference.AVCC)
    for n, low in enumerate(states(supplies)):
        for position in supplies:
            recipe.pin(position, M_LINE if position in low else 0)
        for position in low:
            recipe.read_position(position, LEVELS, label=f"{n} medium")
        for position in across or ():
            recipe.read_position(position, LEVELS, label=f"{n} through")
        recipe.settle(SETTLE_US)
        recipe.read(Source.ICC, REPEATS, label=f"{n} icc")
    recipe.idle()
    recipe.power_off()


def draws(readings: Readings, stage: str, supplies: Sequence[int], across: tuple[int, int] | None) -> list[Draw]:
    """What `plan` gave. ValueError if a reading is missing."""
    out = []
    for n, low in enumerate(states(supplies)):
        through = _codes(readings, f"{n} through")
        medium = dict(zip(low, _codes(readings, f"{n} medium"), strict=True))
        (icc,) = _codes(readings, f"{n} icc")
        out.append(Draw(stage, tuple(supplies), icc, REPEATS, medium, (through[0], through[1]) if across else None))
    return out


def _codes(readings: Readings, label: str) -> list[float]:
    found = [reading.code for reading in readings.labelled(label)]
    if any(code is None for code in found):
        raise ValueError("a level was not measured")
    return [code for code in found if code is not None]
