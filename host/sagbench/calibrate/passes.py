"""Passes for calibration and self-test: run a recipe, and one sentence for what the device will not do.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence

from sagbench.device import Device, unheard
from sagbench.errors import DeviceError
from sagbench.plan.recipe import Readings, Recipe, pair
from sagbench.wire.messages import Event
from sagbench.wire.numbers import PassStatus


class Refused(Exception):
    """A safety rule ended a pass; the fixture is without power. `events` say which, `readings` are those until then."""

    def __init__(self, events: Sequence[Event], readings: Readings) -> None:
        super().__init__(
            ", ".join(
                f"{e.kind.name.lower()} at position {e.position}" if e.position else e.kind.name.lower() for e in events
            )
            or "no event"
        )
        self.events = tuple(events)
        self.readings = readings


def run(device: Device, recipe: Recipe) -> tuple[Readings, tuple[Event, ...]]:
    """One pass, whole. Raises Refused, or DeviceError if a silence ended it or host and firmware do not understand each other."""
    result = device.run_pass(recipe.finish())
    readings = pair(recipe.marks, result.readings)
    if result.silenced:
        raise unheard(device.info.port)
    if result.status == PassStatus.FAULT:
        raise Refused(result.events, readings)
    if result.status != PassStatus.COMPLETE:
        raise DeviceError(
            f"The fixture ended a pass ({result.status.name.lower()}): host and firmware may be of different versions."
        )
    return readings, result.events


def clear(device: Device) -> None:
    """Latched faults of earlier work are cleared. Raises DeviceError if one stays."""
    state = device.state()
    if state.faults:
        state = device.clear_faults()
    if state.faults:
        names = ", ".join((f.name or "unknown").lower().replace("_", " ") for f in state.faults)
        raise DeviceError(
            f"The fixture at {device.info.port} has a fault that stays ({names}): run `sagbench fixture selftest`."
        )
