"""Currents as a data book prints them.

SPDX-License-Identifier: MIT
"""


def amperes(value: float) -> str:
    """With a prefix: 8 mA, 0.4 mA, 20 uA."""
    return f"{value * 1e6:.4g} uA" if abs(value) < 0.0000999 else f"{value * 1e3:.4g} mA"
