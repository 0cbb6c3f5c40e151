"""What a test may look at: violations, and the truth behind a bench.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Violation:
    """Something that must never happen, when, where, and the amperes, volts or code that belong to it."""

    moment_s: float
    what: str
    where: str
    value: float

    def __str__(self) -> str:
        amperes = any(word in self.what for word in ("current", "short", "sinks", "sources", "reversed"))
        value = f"{self.value * 1e3:.1f} mA" if amperes else f"{self.value:.4g}"
        return f"{self.moment_s:.6f} s: {self.what}, {self.where} ({value})"


# Of all benches closed so far that nobody forgave: what watches over the whole test suite looks here (tests/conftest.py).
SEEN: list[Violation] = []


@dataclass(frozen=True)
class Supply:
    """What the chip has got between its supply pins since it was put in: volts at the socket's contacts."""

    powered_s: float             # how long, simulated seconds; 0: never
    low_v: float                 # least, most and mean of VCC against GND
    high_v: float
    mean_v: float
    vcc_v: float                 # last, against the fixture's ground
    gnd_v: float


@dataclass(frozen=True)
class Truth:
    """What is really there, for studies: settled node voltages, the values drawn for the fixture's parts, the chip."""

    nodes: dict[str, float]      # volts; "Z1".."Z24", "K", "VBUS", "V5", "VREF"
    drawn: dict[str, float]      # by part, e.g. "R101.ohm", "PA0.driver_low_ohm", "adc.offset_lsb": ohms, volts, farads
    icc_v: float
    chip_pin_a: dict[int, float]  # out of a port pin, by pin number
    supply: Supply
    defects: list[str]           # of the fixture
    chip: dict[str, Any]         # what is in the socket (chips/README.md: truth); empty for resistors or nothing
