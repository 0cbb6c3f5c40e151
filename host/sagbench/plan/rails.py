"""Where a part's rails are in the socket.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sagbench.errors import DeviceError
from sagbench.parts.model import Part, Pin, Role
from sagbench.plan.fixture import Fixture
from sagbench.plan.seat import Seat


@dataclass(frozen=True)
class Rails:
    """Positions of a part's supply and ground pins; a second ground is a pin that `plan_drive` holds low."""

    supplies: tuple[int, ...]
    ground: int


def rails(fixture: Fixture, part: Part, seat: Seat) -> Rails:
    """Where the rails are. Raises DeviceError if the fixture has no switch there, or would need more of them at once than it closes."""
    supplies, grounds = part.of_role(Role.SUPPLY), part.of_role(Role.GROUND)
    grounds = tuple(pin for pin in grounds if pin.number not in second_grounds(part))
    for pins, most, what in ((supplies, 2, "two supply pins"), (grounds, 1, "one ground pin")):
        if not 1 <= len(pins) <= most:
            raise DeviceError(f"This fixture cannot power a {part.name}: it switches {what}, not {_named(pins)}.")
    lacking = [pin for pins, there in ((supplies, fixture.supply_positions), (grounds, fixture.ground_positions))
               for pin in pins if seat.position(pin.number) not in there]  # fmt: skip
    if lacking:
        raise DeviceError(f"This fixture cannot power a {part.name}: it has no switches for {_named(lacking)}.")
    return Rails(tuple(seat.position(p.number) for p in supplies), seat.position(grounds[0].number))


def _named(pins: Iterable[Pin]) -> str:
    return ", ".join(f"pin {p.number} ({p.name})" for p in pins) or "none"


def second_grounds(part: Part) -> tuple[int, ...]:
    """Pins of further grounds that a line can hold low: of CMOS parts, whose supply current comes back by the last (VEE of a 4051)."""
    cmos = all(limits.technology == "cmos" for limits in part.limits.values())
    return tuple(p.number for p in part.of_role(Role.GROUND)[:-1]) if cmos else ()


def powered_pins(fixture: Fixture, size: int) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Pins of a chip of that size that the fixture can give 5 V, and those it can ground; the most common first."""
    seat = Seat(fixture.positions, size)

    def pins(positions: Iterable[int]) -> tuple[int, ...]:
        return tuple(pin for pin in map(seat.pin_at, positions) if pin)

    return pins(fixture.supply_positions), pins(fixture.ground_positions)
