"""Where a part's rails are in the socket.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sagbench.errors import DeviceError
from sagbench.parts.model import Part, Role
from sagbench.plan.fixture import Fixture
from sagbench.plan.seat import Seat


@dataclass(frozen=True)
class Rails:
    """Positions of a part's supply and ground pins."""

    supplies: tuple[int, ...]
    ground: int


def rails(fixture: Fixture, part: Part, seat: Seat) -> Rails:
    """Where the rails are. Raises DeviceError if the fixture has no switch there."""
    supplies = tuple(seat.position(p.number) for p in part.of_role(Role.SUPPLY))
    grounds = tuple(seat.position(p.number) for p in part.of_role(Role.GROUND))
    if (
        len(grounds) != 1
        or not 1 <= len(supplies) <= 2
        or grounds[0] not in fixture.ground_positions
        or any(s not in fixture.supply_positions for s in supplies)
    ):
        pins = ", ".join(f"pin {p.number} ({p.name})" for p in part.of_role(Role.SUPPLY, Role.GROUND))
        raise DeviceError(f"This fixture cannot power a {part.name}: it has no switches for {pins}.")
    return Rails(supplies, grounds[0])


def powered_pins(fixture: Fixture, size: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Pins of a chip of that size that the fixture can give 5 V, and those it can ground; the most common first."""
    seat = Seat(fixture.positions, size)

    def pins(positions: Iterable[int]) -> tuple[int, ...]:
        return tuple(pin for pin in map(seat.pin_at, positions) if pin)

    return pins(fixture.supply_positions), pins(fixture.ground_positions)
