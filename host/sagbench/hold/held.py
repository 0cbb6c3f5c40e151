"""What can be done to a pin by hand.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from enum import Enum


class Held(Enum):
    """What drives a pin."""

    OFF = "off"
    LOW = "low"
    HIGH = "high"
    WEAK_LOW = "weak low"  # through the medium resistor only, which an output overcomes
    WEAK_HIGH = "weak high"
