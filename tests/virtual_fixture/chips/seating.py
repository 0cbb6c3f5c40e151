"""Where a chip's pins end up in the socket.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

POSITIONS = 24


def position(pin: int, pins: int, reversed_: bool = False, shift: int = 0) -> int:
    """Socket position of a chip pin with top seating, 0 when it hangs in the air.

    `reversed_`: turned by half a turn.  `shift`: rows towards the bottom of the socket.
    """
    half = pins // 2
    if reversed_:
        pin = pin + half if pin <= half else pin - half
    at = pin + shift if pin <= half else POSITIONS - pins + pin - shift
    on_left = pin <= half
    inside = 1 <= at <= POSITIONS // 2 if on_left else POSITIONS // 2 < at <= POSITIONS
    return at if inside else 0
