"""Stage 2, with a known resistor in the socket: one pair of positions after the other.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.calibrate import currents, plan
from sagbench.calibrate.alone import seen
from sagbench.calibrate.passes import Refused, run
from sagbench.calibrate.session import Draw, Session
from sagbench.device import Device
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Recipe

STAGE = "external"
LEAST_OHM, MOST_OHM = (
    400.0,
    1500.0,
)  # below, the firmware takes it for a short of the supply; above, the readings are too coarse
BEST_OHM = 470
RIGHT = 0.05  # a resistor further than this share from what was said is another one


class ContactLost(Exception):
    """The resistor was not there any more when its readings were over."""


def pairs(fixture: Fixture) -> list[tuple[int, int]]:
    """Straight across the socket, from the top: each position once; some are supply against ground."""
    across = ((p, fixture.positions + 1 - p) for p in range(1, fixture.positions // 2 + 1))
    return [pair for pair in across if set(pair) <= set(fixture.present)]


def powered(fixture: Fixture, pair: tuple[int, int]) -> tuple[int, int] | None:
    """The pair as supply and ground, if the fixture has switches there."""
    for supply, ground in (pair, pair[::-1]):
        if supply in fixture.supply_positions and ground in fixture.ground_positions:
            return supply, ground
    return None


def measure_pair(device: Device, fixture: Fixture, session: Session, pair: tuple[int, int]) -> None:
    """All readings with the resistor between two positions into the session.

    Nothing is kept of a pair that is not whole. Raises ContactLost, DeviceError, LinkError.
    """
    shots = plan.Shots()
    plan.across(shots, pair)
    plan.across(shots, pair)  # once more: what has changed meanwhile had no contact
    try:
        readings, events = run(device, shots.recipe)
        if events:
            raise ContactLost
        got = seen(shots, readings, STAGE)
        half = len(got) // 2
        if any(abs(a.code - b.code) > MOVED for a, b in zip(got[:half], got[half:], strict=True)):
            raise ContactLost
        draws = []
        if rails := powered(fixture, pair):
            other = next(s for s in fixture.supply_positions if s not in rails)
            for supplies in ((rails[0],), (rails[0], other)):
                for ground, through in ((0, None), (rails[1], rails)):
                    recipe = Recipe()
                    currents.plan(recipe, fixture, supplies, ground, through)
                    readings, _ = run(device, recipe)
                    draws += currents.draws(readings, STAGE, supplies, through)
            if not all(_carries(fixture, session, draws, draw) for draw in draws if draw.through):
                raise ContactLost
    except (Refused, ValueError):
        raise ContactLost from None
    session.seen += got
    session.draws += draws


def _carries(fixture: Fixture, session: Session, draws: list[Draw], draw: Draw) -> bool:
    """True if the supply current is about that of the resistor, by what the same switches draw without it."""
    assert session.external and draw.through
    idle = next(d for d in draws if d.supplies == draw.supplies and not d.through and len(d.medium) == len(draw.medium))
    expected = fixture.raw["icc_gain_ohm"] * (draw.through[0] - draw.through[1]) / session.external.value
    return bool(abs(draw.code - idle.code - expected) < SAME * expected)


MOVED = 3.0  # codes
SAME = 0.15  # share by which the amplifier's gain and the resistor may be off
