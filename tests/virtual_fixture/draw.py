"""Draw what each part of one fixture measures, as [specimen] of the wiring file says.

    normal  about the middle of the part's span, the span's ends at `span_sigmas` standard deviations,
            nothing outside: the normal distribution cut at the ends
    even    anywhere in the span alike: `--spread even`, for studies of how much hangs on the shape

Where the wiring file gives only a maximum (leakage) the size is the magnitude of a normal deviate
whose maximum is at `leak_sigmas`, cut there, with either shape.  What has no middle (a phase, the
bits at power-up) is always drawn evenly.  A deviate hangs on nothing but the seed and the part's
name (BLAKE2b), so that the same seed gives the same fixture on every machine and a part added to
the wiring file leaves the others alone.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import hashlib
import math
from collections.abc import Callable
from statistics import NormalDist
from typing import Any

from hardware.wiring import WiringError

from .defects import STRAY_F, Defects

SHAPES = ("normal", "even")
_NORMAL = NormalDist()

# Data sheets give typical capacitances only; makers of multiplexers, controllers and sockets differ by some
# third of them (common practice).
STRAY_SPREAD = 0.3


class Draw:
    """Draws values for one seed; remembers each under the name of its part.

    specimen: the table of that name of the wiring file.  spread: one of SHAPES, None for the file's own.
    Raises WiringError for a shape or a number of sigmas that is none.
    """

    def __init__(self, seed: int, nominal: bool, specimen: dict[str, Any], defects: Defects | None = None,
                 spread: str | None = None) -> None:
        self.seed, self.nominal, self.defects = seed, nominal, defects or Defects()
        self._seeded = hashlib.blake2b(f"{seed} ".encode(), digest_size=8)     # each name goes on from here
        self.shape = spread or specimen["shape"]
        self.sigmas, self.leak_sigmas = float(specimen["span_sigmas"]), float(specimen["leak_sigmas"])
        if self.shape not in SHAPES or self.sigmas <= 0 or self.leak_sigmas <= 0:
            raise WiringError(f"specimens spread `{self.shape}` with {self.sigmas:g} and {self.leak_sigmas:g} sigmas: "
                              f"the virtual fixture draws {' or '.join(SHAPES)}, with sigmas above 0")
        self._below = _NORMAL.cdf(-self.sigmas)
        self.drawn: dict[str, float] = {}

    def even(self, name: str) -> float:
        """An evenly distributed deviate, above 0 and below 1, that hangs on seed and name only."""
        named = self._seeded.copy()
        named.update(name.encode())
        return ((int.from_bytes(named.digest(), "big") >> 12) + 0.5) / 2 ** 52

    def normal(self, name: str) -> float:
        """A normal deviate cut at +-span_sigmas, in sigmas."""
        return _NORMAL.inv_cdf(self._below + self.even(name) * (1 - 2 * self._below))

    def between(self, name: str, low: float, high: float, typical: float | None = None) -> float:
        """From low..high in the chosen shape; `typical` (or the middle) for a nominal fixture."""
        middle = (low + high) / 2
        if self.nominal:
            value = middle if typical is None else typical
        elif self.shape == "even":
            value = low + self.even(name) * (high - low)
        else:
            value = middle + self.normal(name) * (high - low) / (2 * self.sigmas)
        return self.keep(name, value)

    def anywhere(self, name: str, low: float, high: float, nominal: float) -> float:
        """From low..high evenly in either shape; `nominal` for a nominal fixture."""
        return self.keep(name, nominal if self.nominal else low + self.even(name) * (high - low))

    def keep(self, name: str, value: float) -> float:
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
        value, tolerance, ref = part[unit] * scale, part["tolerance"], part["ref"]
        name = f"{ref}.{unit}"
        value = self.between(name, value * (1 - tolerance), value * (1 + tolerance), value)
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

    def stray(self, net: str, typical_pf: float) -> float:
        """Stray capacitance of a net in farads, about its typical picofarads."""
        low, high = typical_pf * (1 - STRAY_SPREAD), typical_pf * (1 + STRAY_SPREAD)
        return self.between(f"{net}.stray_f", low * 1e-12, high * 1e-12, typical_pf * 1e-12)

    def leak(self, name: str, most: float) -> float:
        """A leakage of which only the maximum is known."""
        if self.nominal:
            return self.keep(name, 0.1 * most)
        sigmas = _NORMAL.inv_cdf(0.5 + self.even(name) / 2)     # of half a normal distribution
        return self.keep(name, min(most, sigmas * most / self.leak_sigmas))

    def curve(self, name: str, most: float, peak: Callable[[list[float], list[float]], float]) -> tuple[list[float], list[float]]:
        """Sizes and phases of three waves whose sum stays within +-most: a point of it is spread like any value
        of the span -most..most.  `peak` gives the largest size of such a sum."""
        turn = 2 * math.pi
        for attempt in range(1000):
            phases = [self.even(f"{name}.phase_{n}#{attempt}") * turn for n in range(3)]
            if self.shape == "even":
                sizes = [0.2 + 0.8 * self.even(f"{name}.{n}#{attempt}") for n in range(3)]
                whole = most * (0.3 + 0.6 * self.even(f"{name}#{attempt}"))
                sizes = [size * whole / 2 / sum(sizes) for size in sizes]
            else:
                sizes = [self.normal(f"{name}.{n}#{attempt}") * most / self.sigmas / math.sqrt(3) for n in range(3)]
            if peak(sizes, phases) <= most:
                break
        if self.nominal:
            sizes = [0.0] * 3
        return ([self.keep(f"{name}.{n}", size) for n, size in enumerate(sizes)],
                [self.keep(f"{name}.phase_{n}", phase) for n, phase in enumerate(phases)])
