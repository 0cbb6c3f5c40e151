"""What can be wrong at the pins of a part, and inside it, as far as its equations show.

Pin faults: every signal pin stuck at 0 and at 1; every output open (never drives);
bridges between neighbours in a row of the package: one pin's driver wins over the other's, either
way round, or whichever pulls low wins (wired AND).  A bridge to a rail is the neighbour stuck.
An open input is the input stuck as the chip sees it: at 1 for TTL, which reads an open input
high (common practice); a CMOS input may drift to either, so both must be detected.

Inside: every reading of a signal by an equation stuck at 0 and at 1, unless it only says where the data book leaves something open.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from sagbench.parts.definition import Pinout
from sagbench.parts.model import Role
from sagbench.vectors.compile import Compiled, Reading


class Kind(StrEnum):
    """Classes of faults, as they are reported."""

    STUCK = "pin stuck"
    OPEN = "output open"
    BRIDGE = "adjacent-pin bridge"
    INSIDE = "inside stuck"


class How(StrEnum):
    """What happens at a bridge of pins a and b."""

    FIRST = "the first wins"
    SECOND = "the second wins"
    AND = "low wins"


@dataclass(frozen=True)
class PinFault:
    """One fault; which fields hold depends on its kind."""

    kind: Kind
    pin: str = ""                        # STUCK, OPEN, BRIDGE (its first pin)
    other: str = ""                      # BRIDGE: its second pin, or a rail
    how: How | None = None               # BRIDGE between two signal pins
    value: int = 0                       # STUCK, INSIDE, BRIDGE to a rail
    reading: Reading | None = None       # INSIDE

    def __str__(self) -> str:
        if self.kind is Kind.STUCK:
            return f"{self.pin} stuck at {self.value}"
        if self.kind is Kind.OPEN:
            return f"{self.pin} open"
        if self.kind is Kind.INSIDE:
            return f"{self.reading} stuck at {self.value}"
        return f"{self.pin} bridged to {self.other}" + (f", {self.how}" if self.how else "")


def universe(part: Compiled, pinout: Pinout) -> tuple[PinFault, ...]:
    """Every fault of a part in this pinout."""
    signals = [name for name in pinout.pins if name in part.roles]
    faults = [PinFault(Kind.STUCK, name, value=value) for name in signals for value in (0, 1)]
    faults += [PinFault(Kind.OPEN, name) for name in signals if part.roles[name].is_output]
    half = len(pinout.pins) // 2
    for row in (pinout.pins[:half], pinout.pins[half:]):
        for first, second in zip(row, row[1:], strict=False):
            faults += _bridges(first, second, part.roles, pinout)
    faults += [PinFault(Kind.INSIDE, reading=reading, value=value) for reading in part.readings if not reading.of_book for value in (0, 1)]
    return tuple(faults)


def _bridges(first: str, second: str, roles: Mapping[str, Role], pinout: Pinout) -> list[PinFault]:
    """The ways in which two neighbours can be bridged; none with a pin that is not connected or left alone."""
    if first in roles and second in roles:
        return [PinFault(Kind.BRIDGE, first, second, how) for how in How]
    signal, rail = (first, second) if first in roles else (second, first)
    if signal not in roles or rail not in pinout.supply | pinout.ground:
        return []
    return [PinFault(Kind.BRIDGE, signal, rail, value=int(rail in pinout.supply))]
