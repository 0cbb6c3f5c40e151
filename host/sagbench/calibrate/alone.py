"""Stage 1, with nothing but the board: the converter's curve, every line and load, the supply current amplifier.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from sagbench.calibrate import converter, currents, plan
from sagbench.calibrate.parts import LEVEL
from sagbench.calibrate.passes import Refused, run
from sagbench.calibrate.session import Seen, Session
from sagbench.calibrate.setup import Setup
from sagbench.device import Device
from sagbench.errors import DeviceError
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Readings, Recipe
from sagbench.wire.numbers import EventKind

Progress = Callable[[str, int, int], None]
STAGE = "self"


def calibrate_alone(device: Device, fixture: Fixture, session: Session, progress: Progress) -> None:
    """All readings of the first stage into the session; the socket must be empty. Raises DeviceError, LinkError."""
    powerings = plan.powerings(fixture)
    whole = len(powerings) + 3
    session.seen = [s for s in session.seen if s.stage != STAGE]
    session.draws = [d for d in session.draws if d.stage != STAGE]
    progress("converter", 0, whole)
    shots = plan.Shots()
    converter.ramp(shots)
    try:
        readings, _ = run(device, shots.recipe)
        session.curve = converter.curve(fixture, readings)
        for n, (supply, ground, positions) in enumerate(powerings):
            progress(f"lines of {len(positions)} positions", 1 + n, whole)
            shots = plan.Shots()
            plan.lines(shots, fixture, supply, ground, positions)
            readings, events = run(device, shots.recipe)
            lost = [e.position for e in events if e.kind == EventKind.NOT_VERIFIED]
            if lost:
                raise DeviceError(
                    f"Position {lost[0]} does not follow its strong line: run `sagbench fixture selftest`."
                )
            session.seen += seen(shots, readings, STAGE)
        for n, supplies in enumerate((fixture.supply_positions[:1], fixture.supply_positions[:2])):
            progress("supply current", 1 + len(powerings) + n, whole)
            recipe = Recipe()
            currents.plan(recipe, fixture, supplies, 0, None)
            readings, _ = run(device, recipe)
            session.draws += currents.draws(readings, STAGE, supplies, None)
    except Refused as refused:
        raise DeviceError(
            f"The fixture broke off by a safety rule ({refused}) with an empty socket: run `sagbench fixture selftest`."
        ) from None
    except ValueError as wrong:
        raise DeviceError(f"The calibration is not complete: {wrong}; run `sagbench fixture selftest`.") from None


def seen(shots: plan.Shots, readings: Readings, stage: str) -> list[Seen]:
    """Readings of K with their setups; the level drive's own level goes into the setups that it feeds.

    ValueError if one is missing.
    """
    sources = [r.code for r in readings.labelled("source")]
    out = []
    for reading, setup in zip(readings.all, shots.setups, strict=True):
        if setup is None:
            continue
        if reading.code is None:
            raise ValueError(f"position {setup.position} gave no reading")
        out.append(Seen(stage, _fed(setup, sources), reading.mark.reference, reading.code, reading.mark.repeats))
    return out


def _fed(setup: Setup, sources: list[float | None]) -> Setup:
    if setup.selector != LEVEL:
        return setup
    if not sources or sources[0] is None:
        raise ValueError("the level drive was not read")
    return replace(setup, source=sources[0])
