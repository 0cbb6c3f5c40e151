"""Resistors and switches in the socket, for tests of the network and for calibration.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes

from . import clib


class PlainChip:
    """Resistors and switches between positions (0: the fixture's ground), for tests of the network."""

    def __init__(self) -> None:
        self._lib = clib.library()
        self.pointer = self._lib.plain_new()
        self.ops = ctypes.addressof(ctypes.c_char.in_dll(self._lib, "plain_ops"))

    def resistor(self, a: int, b: int, ohm: float) -> PlainChip:
        assert self._lib.plain_resistor(self.pointer, a, b, ohm) == 0, "too many branches"
        return self

    def inverter(self, in_: int, out: int, vcc: int, gnd: int, ohm: float) -> PlainChip:
        assert self._lib.plain_inverter(self.pointer, in_, out, vcc, gnd, ohm) == 0, "too many inverters"
        return self

    def limit(self, amperes: float) -> PlainChip:
        self._lib.plain_limit(self.pointer, amperes)
        return self

    def __del__(self) -> None:
        self._lib.plain_free(self.pointer)
