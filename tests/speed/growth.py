"""How a pass grows: with the pins of the contact check, the vectors of a logic test, the load points of an output.

Passes on an empty socket, by the device's clock: what a chip does changes no time.  A straight line is laid through each by
least squares (numpy); its slope is the cost of one more, and what is left over says how straight it is.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sagbench.device import Device
from sagbench.parts import load_part
from sagbench.plan import contact, logic
from sagbench.plan.drive import by_m, plan_drive
from sagbench.plan.fixture import Fixture as Wiring
from sagbench.plan.fixture import load_fixture
from sagbench.plan.logic import LineReading
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat
from sagbench.wire.numbers import Reference
from virtual_fixture.inproc import Fixture

from speed.sweeps import STARTED_S

VECTORS = (4, 16, 32, 64, 96, 134)
POINTS = ("weak", "medium", "strong", "both", "heavy")
COUNTER, GATE = "74LS163", "74LS00"


@dataclass(frozen=True)
class Growth:
    """Milliseconds over a number of things, and the straight line through them: ms = base + slope * count."""

    title: str
    thing: str
    counts: tuple[int, ...]
    ms: tuple[float, ...]

    @property
    def line(self) -> tuple[float, float]:
        """Slope in ms for each, and base in ms."""
        slope, base = np.polyfit(self.counts, self.ms, 1)
        return float(slope), float(base)

    @property
    def left_over(self) -> float:
        """The farthest point's distance from the line, as a share of the longest pass."""
        slope, base = self.line
        return max(abs(ms - base - slope * n) for n, ms in zip(self.counts, self.ms, strict=True)) / max(self.ms)


def contact_check(wiring: Wiring, pins: int) -> Recipe:
    """The contact check's readings for a chip of so many pins."""
    seat, recipe = Seat(wiring.positions, pins), Recipe()
    ground = seat.position(pins // 2)
    recipe.reference(Reference.AVCC)
    contact.channels(recipe, wiring, [p for p in seat.positions if p not in (ground, seat.position(pins))])
    contact.conduction(recipe, wiring, [ground])
    contact.shorts(recipe, wiring, seat, ground)
    return recipe


def vectors(wiring: Wiring, count: int) -> Recipe:
    """So many first steps of a counter's test, each of its outputs read."""
    part = load_part(COUNTER)
    part = replace(part, sequence=part.sequence[:count])
    recipe = Recipe()
    logic.unloaded(recipe, wiring, part, by_m(wiring, plan_drive(wiring, part, Seat(wiring.positions, part.pin_count))))
    return recipe


def load_points(wiring: Wiring, count: int) -> Recipe:
    """A gate's four outputs, each at so many load points."""
    part = load_part(GATE)
    seat, recipe = Seat(wiring.positions, part.pin_count), Recipe()
    wanted = [LineReading(0, pin.number, True, POINTS[:count]) for pin in part.outputs]
    logic.lines(recipe, wiring, part, by_m(wiring, plan_drive(wiring, part, seat)), rails(wiring, part, seat), wanted, Reference.AVCC)
    return recipe


def measured() -> list[Growth]:
    """All three, in one session with an empty fixture."""
    wiring = load_fixture("bench24")
    ways: Sequence[tuple[str, str, Callable[[Wiring, int], Recipe], Sequence[int]]] = (
        ("contact check", "pin", contact_check, wiring.sizes), (f"logic test of a {COUNTER}", "vector", vectors, VECTORS),
        (f"load lines of a {GATE}", "load point", load_points, range(1, len(POINTS) + 1)))
    with Fixture(1) as fixture:
        fixture.run(STARTED_S)
        with Device(fixture.line) as device:
            return [Growth(title, thing, tuple(counts), tuple(_ms(device, make(wiring, n)) for n in counts))
                    for title, thing, make, counts in ways]


def _ms(device: Any, recipe: Recipe) -> float:
    return float(device.run_pass(recipe.finish()).elapsed_us / 1000)
