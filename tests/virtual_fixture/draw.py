"""Draw what each part of one fixture measures.

A part with `min` and `max` or a tolerance is drawn from its span; where the wiring
file gives only a maximum (leakage) it is the magnitude of a normal deviate of a
quarter of that, cut at it.  Each part has a generator of its own (numpy's PCG64),
seeded by the seed and its name, so that the same seed gives the same fixture on every
machine and a part added to the wiring file leaves the others alone.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import zlib
from typing import Any

import numpy as np

from .defects import STRAY_F, Defects


class Draw:
    """Draws values for one seed; remembers each under the name of its part."""

    def __init__(self, seed: int, nominal: bool, defects: Defects | None = None) -> None:
        self.seed, self.nominal, self.defects = seed, nominal, defects or Defects()
        self.drawn: dict[str, float] = {}

    def _generator(self, name: str) -> np.random.Generator:
        return np.random.default_rng([self.seed & 0xFFFFFFFF, zlib.crc32(name.encode())])

    def between(self, name: str, low: float, high: float, typical: float | None = None) -> float:
        """Evenly from low..high; `typical` (or the middle) for a nominal fixture."""
        middle = (low + high) / 2 if typical is None else typical
        value = middle if self.nominal else float(self._generator(name).uniform(low, high))
        return self._keep(name, value)

    def _keep(self, name: str, value: float) -> float:
        """Remember a value; a defect by this very name takes its place."""
        broken = self.defects.quantity(name, "its own unit")
        self.drawn[name] = value if broken is None else broken
        return self.drawn[name]

    def span(self, name: str, span: dict[str, float], scale: float = 1.0) -> float:
        """From an entry {min, max[, typ]}."""
        typical = span["typ"] * scale if "typ" in span else None
        return self.between(name, span["min"] * scale, span["max"] * scale, typical)

    def part(self, part: dict[str, Any], unit: str, scale: float = 1.0) -> float:
        """A resistor's or capacitor's value within its tolerance."""
        value, tolerance, name = part[unit] * scale, part["tolerance"], f"{part['ref']}.{unit}"
        value = self.between(name, value * (1 - tolerance), value * (1 + tolerance), value)
        ref = part["ref"]
        match unit:
            case "ohm":
                broken = self.defects.ohms(ref)
            case "nf":
                nanofarads = self.defects.quantity(ref, "nanofarads", open=0)
                broken = None if nanofarads is None else max(nanofarads * 1e-9, STRAY_F)
            case _:  # a reference; torn off, it lets its net go to the rail
                broken = self.defects.quantity(ref, "volts", open=7.5, short=0.01)
        if broken is not None:
            self.drawn[name] = broken
        return self.drawn[name]

    def leak(self, name: str, most: float) -> float:
        """A leakage of which only the maximum is known."""
        value = 0.1 * most if self.nominal else min(most, abs(float(self._generator(name).normal(0, most / 4))))
        return self._keep(name, value)
