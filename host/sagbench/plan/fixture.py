"""The fixture as the host sees it: what was derived from hardware/wiring.toml, read into plain types.

    >>> fixture = load_fixture("bench24")
    >>> fixture.positions, fixture.point("medium").lines
    (24, 1)

Ohms, volts, amperes.  A `Spread` is the span within which a builder's specimen falls.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import resources
from math import erf, exp, pi, sqrt
from typing import Any

from sagbench.errors import DeviceError

M_LINE = 1  # bits of the `lines` argument of the steps `pin` and `load`
S_LINE = 2


@dataclass(frozen=True)
class Spread:
    """A quantity of which only the span and the most likely value are known."""

    typ: float
    min: float
    max: float

    @classmethod
    def of(cls, entry: Mapping[str, float], scale: float = 1.0) -> Spread:
        """From `{typ, min, max}` or `{ohm, tolerance}`; without `typ` the middle of the span."""
        if "ohm" in entry:
            value, tolerance = entry["ohm"], entry["tolerance"]
            return cls(value * scale, value * (1 - tolerance) * scale, value * (1 + tolerance) * scale)
        low, high = entry.get("min", 0.0), entry["max"]
        return cls(entry.get("typ", (low + high) / 2) * scale, low * scale, high * scale)

    @property
    def middle(self) -> float:
        """The middle of the span: what a specimen is like on average (`Fixture.standard`)."""
        return (self.max + self.min) / 2


@dataclass(frozen=True)
class LoadPoint:
    """One way to load an output. Currents are nominal, in amperes, as magnitudes."""

    name: str
    lines: int
    load: int
    up: float
    down: float

    def nominal(self, up: bool) -> float:
        """Amperes in that direction (up: the output sinks)."""
        return self.up if up else self.down


@dataclass(frozen=True)
class Fixture:
    """What plan and measure need of the fixture. `raw` is the whole derived description."""

    name: str
    wiring_id: int
    positions: int  # how positions are numbered: 1 to this
    present: tuple[int, ...]  # those of them that this build has, ascending
    sizes: tuple[int, ...]
    supply_positions: tuple[int, ...]
    ground_positions: tuple[int, ...]
    points: tuple[LoadPoint, ...]
    raw: Mapping[str, Any]

    def point(self, name: str) -> LoadPoint:
        """The load point of that name."""
        return next(p for p in self.points if p.name == name)

    def resistor(self, role: str) -> Spread:
        """The resistor of that role, tolerance as span."""
        return self._resistors[role]

    @cached_property
    def _resistors(self) -> Mapping[str, Spread]:
        return {role: Spread.of(entry) for role, entry in self.raw["resistor"].items()}

    @cached_property
    def driver(self) -> Spread:
        """Output resistance of a controller pin."""
        return Spread.of(self.raw["driver_ohm"])

    def standard(self, spread: Spread) -> float:
        """Standard deviation of specimens over a span, in its unit.

        Normal about the middle with the ends at `span_sigmas` standard deviations, and cut there
        ([specimen] of the wiring file): for 2 sigma 0.880 of the uncut one.
        """
        k, cut = self._sigmas
        return (spread.max - spread.min) / 2 / k * cut

    @cached_property
    def _sigmas(self) -> tuple[float, float]:
        """Standard deviations to the ends of a span, and what the cut there leaves of one."""
        k = float(self.raw["specimen"]["span_sigmas"])
        density = exp(-k * k / 2) / sqrt(2 * pi)
        return k, sqrt(1 - 2 * k * density / erf(k / sqrt(2)))

    def leak_standard(self, most: float) -> float:
        """Standard deviation of a leakage of either direction of which only the maximum is known, in its unit."""
        return float(most / self.raw["specimen"]["leak_sigmas"])

    @cached_property
    def full_scale(self) -> int:
        """Codes of the converter: 1024 for ten bits."""
        return int(2 ** self.raw["adc"]["bits"])

    def line_ohm(self, lines: int) -> float:
        """Nominal resistance from a position to a driven level through these lines, driver included."""
        ohms = [
            self.resistor(role).typ + self.driver.typ
            for bit, role in ((M_LINE, "medium_drive"), (S_LINE, "strong_drive"))
            if lines & bit
        ]
        return 1 / sum(1 / ohm for ohm in ohms)


def _points(raw: Mapping[str, Any]) -> tuple[LoadPoint, ...]:
    bits = {"M": M_LINE, "S": S_LINE}
    return tuple(
        LoadPoint(
            p["name"],
            sum(bits[line] for line in p["lines"]),
            p["load"],
            p.get("nominal_ma", {}).get("up", 0.0) / 1000,
            p.get("nominal_ma", {}).get("down", 0.0) / 1000,
        )
        for p in raw["load_point"]
    )


@lru_cache(maxsize=4)
def load_fixture(name: str) -> Fixture:
    """The fixture of that name. Raises DeviceError if the host has no description of it."""
    path = resources.files("sagbench.fixtures") / f"{name}.json"
    if not path.is_file():
        raise DeviceError(
            f"This sagbench has no description of a fixture called {name}: "
            "host and firmware are of different versions; install matching ones."
        )
    raw = json.loads(path.read_text(encoding="utf-8"))
    return Fixture(
        raw["fixture"]["name"],
        raw["wiring_id"],
        raw["socket"]["positions"],
        tuple(raw["socket"]["present"]),
        tuple(raw["socket"]["sizes"]),
        tuple(raw["power"]["supply_positions"]),
        tuple(raw["power"]["ground_positions"]),
        _points(raw),
        raw,
    )


def fixture_of(wiring_id: int) -> Fixture:
    """The fixture whose firmware reports this wiring id. Raises DeviceError, with the way out, if none does."""
    folder = resources.files("sagbench.fixtures")
    names = sorted(p.name.removesuffix(".json") for p in folder.iterdir() if p.name.endswith(".json"))
    known = [load_fixture(name) for name in names]
    for fixture in known:
        if fixture.wiring_id == wiring_id:
            return fixture
    raise DeviceError(
        f"The firmware was made from wiring {wiring_id:08X}, which this sagbench does not know (it knows "
        f"{', '.join(f'{f.name} {f.wiring_id:08X}' for f in known)}): install host and firmware of the same release, or, for a "
        "board of your own, make the host's description from its wiring file (`make generate`)."
    )
