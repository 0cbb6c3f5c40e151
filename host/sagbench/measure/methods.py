"""Which test method each figure follows, and where this fixture departs from it: METHODS.md as the program knows it.

Methods of MIL-STD-883, "Test method standard, microcircuits", numbers 3005 to 3022 (titles from memory).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping

SUPPLY = "at the fixture's supply of about 5 V and at room temperature, not at the corners"

METHODS: Mapping[str, str] = {
    "ICC": f"MIL-STD-883 3005; {SUPPLY}",
    "VOH": f"MIL-STD-883 3006; {SUPPLY}; inputs near the rails, not at VIL and VIH",
    "VOL": f"MIL-STD-883 3007; {SUPPLY}; inputs near the rails, not at VIL and VIH",
    "IIL": f"MIL-STD-883 3009; {SUPPLY}; the pin held low by resistors, brought to the test voltage by calculation",
    "IIH": f"MIL-STD-883 3010; {SUPPLY}; the pin pulled to the supply through a resistor: at least the test voltage",
    "IOS": f"MIL-STD-883 3011; {SUPPLY}; the output's line prolonged from some 15 mA to 0 V",
    "NML": "MIL-STD-883 3013; lowest input threshold less highest low level, both measured",
    "NMH": "MIL-STD-883 3013; lowest high level less highest input threshold, both measured",
    "IOZH": f"MIL-STD-883 3021; {SUPPLY}; pulled to the supply through a resistor",
    "IOZL": f"MIL-STD-883 3020; {SUPPLY}; pulled to ground through a resistor",
    "VIK": "MIL-STD-883 3022; unpowered, ground pin raised, 5 mA, prolonged along a diode's law to the rated current",
    "VT+": "common practice; input ramped, watched at an output's logic level instead of 1.5 V",
    "VT-": "common practice; input ramped, watched at an output's logic level instead of 1.5 V",
    "VH": "common practice; VT+ less VT-",
    "TW": "common practice; timed at the output's logic level, timing resistor and stray capacitance of the fixture: coarse",
    "ROL": "common practice; slope between two load points",
    "ROH": "common practice; slope between two load points",
    "IOL at VIL": "common practice; load at which a low output reaches VIL of what it drives",
    "IOH at VIH": "common practice; load at which a high output falls to VIH of what it drives",
}
