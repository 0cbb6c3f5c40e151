"""What is in the socket: pairs of positions that conduct, and how many ohms are between them.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass

from sagbench.calibrate.passes import run
from sagbench.calibrate.plan import WEAK
from sagbench.device import Device
from sagbench.plan.fixture import M_LINE, Fixture
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import mask
from sagbench.wire.numbers import LineLevel, Reference

CONDUCTS = 0.05  # of the rail, through the weak load: some 150 kohm


@dataclass(frozen=True)
class Between:
    """Something between two positions: ohms, to some five per cent if they are some hundred."""

    low: int
    high: int
    ohms: float


def everything(device: Device, fixture: Fixture) -> list[Between]:
    """All pairs that conduct, either way. Raises DeviceError, LinkError, Refused."""
    positions = fixture.present
    recipe = Recipe()
    recipe.power_off()
    recipe.reference(Reference.AVCC)
    for raised in positions:
        recipe.drive(mask([raised]), 0, mask([raised]))
        recipe.sense(0, WEAK, LineLevel.LOW)
        recipe.scan([p for p in positions if p != raised], label=f"from {raised}")
    recipe.idle()
    readings, _ = run(device, recipe)
    found: dict[tuple[int, int], float] = {}
    for raised in positions:
        for reading in readings.labelled(f"from {raised}"):
            level = (reading.code or 0.0) / fixture.full_scale
            if level > CONDUCTS:
                low, high = sorted((raised, reading.mark.position))
                found[low, high] = min(found.get((low, high), 1e9), _ohms(fixture, level))
    return [Between(low, high, ohms) for (low, high), ohms in sorted(found.items())]


def _ohms(fixture: Fixture, level: float) -> float:
    """Between a position raised through M and one that the weak load pulls low to this share of the rail."""
    channel = fixture.raw["mux"]["ron_ohm"]["typ"]
    weak = fixture.resistor("weak_load").typ + fixture.driver.typ + channel
    return float(max(0.0, weak * (1 / level - 1) - channel - fixture.line_ohm(M_LINE)))


def between(device: Device, fixture: Fixture, pair: tuple[int, int]) -> float | None:
    """Ohms between two positions, to some three per cent if they are some hundred; None if there is nothing.

    Raises DeviceError, LinkError, Refused.
    """
    first, second = pair
    recipe = Recipe()
    recipe.power_off()
    recipe.reference(Reference.AVCC)
    recipe.drive(mask(pair), 0, mask([first]))
    for position in pair:
        recipe.read_position(position, 8, label="end")
    recipe.idle()
    readings, _ = run(device, recipe)
    above, below = ((reading.code or 0.0) / fixture.full_scale for reading in readings.labelled("end"))
    if below < CONDUCTS / 2:
        return None
    return max(0.0, (above - below) / (1 - above + below) * 2 * fixture.line_ohm(M_LINE))
