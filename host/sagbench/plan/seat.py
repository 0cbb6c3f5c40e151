"""Where the pins of a chip are in the socket, seated as they should be or otherwise.

    >>> Seat(24, 14).position(14)
    24
    >>> Seat(24, 14, shift=1).position(1), Seat(24, 14, reversed=True).position(1)
    (2, 18)

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Seat:
    """A seating: `shift` rows below the top (negative: above), `reversed` if pin 1 is where pin N/2+1 should be.

    Pins above the top hang in the air: their positions are outside 1..socket.
    """

    socket: int
    size: int
    shift: int = 0
    reversed: bool = False

    def position(self, pin: int) -> int:
        """The socket position of a pin."""
        half = self.size // 2
        if self.reversed:
            pin = (pin - 1 + half) % self.size + 1
        return pin + self.shift if pin <= half else self.socket - self.size + pin - self.shift

    @property
    def positions(self) -> tuple[int, ...]:
        """Positions of pins 1..N, in that order."""
        return tuple(self.position(pin) for pin in range(1, self.size + 1))

    def pin_at(self, position: int) -> int:
        """The pin in a position, or 0."""
        return self._pins.get(position, 0)

    @cached_property
    def _pins(self) -> dict[int, int]:
        return {self.position(pin): pin for pin in range(1, self.size + 1)}

    def has(self, pin: int) -> bool:
        """True if the pin is in the socket at all."""
        return 1 <= self.position(pin) <= self.socket

    @property
    def in_words(self) -> str:
        """How the chip sits, for a sentence."""
        words = []
        if self.reversed:
            words.append("the wrong way round")
        if self.shift:
            rows = abs(self.shift)
            words.append(f"{rows} row{'s' * (rows > 1)} too {'low' if self.shift > 0 else 'high'}")
        return " and ".join(words) or "at the top"


TOO_HIGH = 2  # so many rows of a chip may stand out above the socket


def seatings(socket: int, sizes: Iterable[int]) -> tuple[Seat, ...]:
    """Every way in which a chip of one of these sizes can sit in the socket, the right one of each size first."""
    return tuple(
        Seat(socket, size, shift, turned)
        for size in sizes
        for turned in (False, True)
        for shift in (*range((socket - size) // 2 + 1), *range(-1, -TOO_HIGH - 1, -1))
    )


def mask(positions: Iterable[int]) -> int:
    """Bits of the step arguments: bit 0 is position 1."""
    bits = 0
    for position in positions:
        bits |= 1 << (position - 1)
    return bits


def of_mask(bits: int) -> tuple[int, ...]:
    """Positions of a mask, ascending."""
    return tuple(k + 1 for k in range(bits.bit_length()) if bits >> k & 1)
