"""Passes of the self-test: short ones, with readings by label as fractions of the reference.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable

from sagbench.calibrate.passes import Refused, run
from sagbench.device import Device
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Readings, Recipe
from sagbench.selftest.findings import Report
from sagbench.selftest.names import Names
from sagbench.wire.numbers import EventKind, Reference

Progress = Callable[[str, int, int], None]


class Bench:
    """One self-test under way."""

    def __init__(self, device: Device, fixture: Fixture, report: Report) -> None:
        self.device, self.fixture, self.report = device, fixture, report
        self.names = Names(fixture)
        self.positions = fixture.present
        self.spoilt: set[int] = set()  # positions of which more need not be asked
        self.bad_loads: set[int] = set()  # channels of the load selector that cannot be used
        self.always_on: set[int] = set()  # supply positions whose switch is on when it should be off

    def recipe(self) -> Recipe:
        """A pass against AVcc, everything off before. No discharge: a stuck line would end it."""
        recipe = Recipe()
        recipe.idle()
        recipe.reference(Reference.AVCC)
        return recipe

    def run(self, recipe: Recipe, *, clear: bool = True) -> Levels:
        """Play it; everything is off afterwards. Raises Refused if a safety rule ended it.

        clear: unlatch faults of earlier passes before.
        """
        recipe.idle()
        return Levels(self.play(recipe, clear=clear), self.fixture.full_scale)

    def play(self, recipe: Recipe, *, clear: bool = True) -> Readings:
        """The same, with the readings as they came.

        The discharge after power ends a pass where a position known to be held stays high: that is no news.
        """
        if clear:
            self.clear()
        try:
            readings, _ = run(self.device, recipe)
        except Refused as refused:
            readings = refused.readings
            known = all(e.kind == EventKind.CONTENTION and e.position in self.spoilt for e in refused.events)
            if not known or not refused.events or any(r.total is None for r in readings.all):
                raise
        return readings

    def clear(self) -> int:
        """Unlatch what an earlier pass has left; gives the faults that stay."""
        state = self.device.state()
        return int(self.device.clear_faults().faults) if state.faults else 0


class Levels:
    """Readings as fractions of the reference they were taken against."""

    def __init__(self, readings: Readings, full_scale: int) -> None:
        self._readings, self._full = readings, full_scale

    def all(self, label: str) -> list[float]:
        """All readings with a label; one that was not made is 0."""
        return [(r.code or 0.0) / self._full for r in self._readings.labelled(label)]

    def one(self, label: str) -> float:
        """The one reading with a label."""
        (level,) = self.all(label)
        return level

    def raw(self, label: str) -> list[int | None]:
        """Sums as they came."""
        return [r.total for r in self._readings.labelled(label)]

    def by_position(self, label: str) -> dict[int, float]:
        """Position -> reading."""
        return {r.mark.position: (r.code or 0.0) / self._full for r in self._readings.labelled(label)}


__all__ = ["Bench", "Levels", "Progress", "Refused"]
