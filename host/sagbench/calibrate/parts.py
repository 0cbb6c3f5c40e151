"""What a calibration does not know: every part of the fixture as far as currents pass through it.

An *unknown* is one independent deviation of a specimen: estimate, standard deviation, both from the wiring file's
spans ([specimen]).  A *path* is what a current passes through on its way, a sum of unknowns:

    strong_drive[6].high      R106 and the controller pin S6 when it drives high         (ohm; .low likewise)
    medium_drive[6].high      R206 and the controller pin M6
    channel[6]                the multiplexer channel between position 6 and node K, near a rail
    selector[1]               a channel of the load selector, near a rail
    hump                      how much more any channel has at half the supply, as a fraction
    shape, selector shape     where the curve of a channel over its level is, from parabola to textbook gate, as a fraction
    weak_load.high            R311 and the LD pin; also trickle_load, calibration_reference, heavy_load
    level_drive               R314
    external                  the resistor that the user has put into the socket

Beside these: `offset` (codes), `bow` (codes, see converter.py), `v1v1` and `v2v56` (internal references, as a fraction
of AVcc), `icc_gain` (ohm) and `icc_zero[...]` (fraction of AVcc).

Parts from one reel, pins of one controller and channels of one package have something in common: half of the variance
of each is taken to be common to its kind, so that many of them do not average to better than that.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import sqrt

from sagbench.measure.components import HUMP, SHAPE_SD, offset_span
from sagbench.plan.fixture import M_LINE, S_LINE, Fixture, Spread

HALF = sqrt(0.5)  # of the variance is common to a kind
ROLE = {M_LINE: "medium_drive", S_LINE: "strong_drive"}
LOADS = {1: "weak_load", 2: "trickle_load", 3: "calibration_reference", 5: "heavy_load"}
LEVEL = 4  # channel of the load selector that the level drive feeds


def line_path(position: int, line: int, high: bool) -> str:
    """Name of the path from a position through one line to a rail."""
    return f"{ROLE[line]}[{position}].{'high' if high else 'low'}"


def arm_path(selector: int, up: bool) -> str:
    """Name of the path from the load selector's channel to where it ends."""
    return "level_drive" if selector == LEVEL else f"{LOADS[selector]}.{'high' if up else 'low'}"


@dataclass(frozen=True)
class Unknown:
    """One independent deviation: estimate and standard deviation in its unit."""

    name: str
    mean: float
    sigma: float


@dataclass
class Parts:
    """All unknowns and paths of one fixture.

    unknowns: in the order of the fit's vector; each is mean + sigma * x with x standard normal beforehand.
    paths: name -> (constant, index of unknown -> how much of x goes in).
    """

    unknowns: list[Unknown] = field(default_factory=list)
    paths: dict[str, tuple[float, dict[int, float]]] = field(default_factory=dict)
    index: dict[str, int] = field(default_factory=dict)

    def add(self, name: str, mean: float, sigma: float) -> str:
        """A new unknown, which is a path of its own too; gives its name."""
        self.index[name] = len(self.unknowns)
        self.unknowns.append(Unknown(name, mean, sigma))
        self.paths[name] = (mean, {self.index[name]: sigma})
        return name

    def join(self, name: str, pieces: Iterable[str]) -> None:
        """A path that is the sum of others."""
        constant, shares = 0.0, dict[int, float]()
        for piece in pieces:
            mean, inside = self.paths[piece]
            constant += mean
            for i, share in inside.items():
                shares[i] = shares.get(i, 0.0) + share
        self.paths[name] = (constant, shares)

    def value(self, path: str, x: list[float]) -> float:
        """A path's value at a vector of unknowns."""
        constant, shares = self.paths[path]
        return constant + sum(share * x[i] for i, share in shares.items())

    def widen(self, factors: Mapping[str, float]) -> Parts:
        """The same with the standard deviation of these unknowns multiplied: for parts that may be wrong."""
        sigma = {self.index[name]: factor for name, factor in factors.items() if name in self.index}
        out = Parts(index=dict(self.index))
        out.unknowns = [Unknown(u.name, u.mean, u.sigma * sigma.get(i, 1.0)) for i, u in enumerate(self.unknowns)]
        out.paths = {
            name: (constant, {i: share * sigma.get(i, 1.0) for i, share in shares.items()})
            for name, (constant, shares) in self.paths.items()
        }
        return out


def parts_of(fixture: Fixture, external: tuple[float, float] | None = None) -> Parts:
    """Every unknown and path of a fixture; `external`: the user's resistor and its standard uncertainty, ohms."""
    parts = Parts()
    if external:
        parts.add("external", *external)
    offset = offset_span(fixture)
    parts.add("offset", offset.middle, fixture.standard(offset))
    _common(parts, "driver_high", fixture.driver, fixture)
    _common(parts, "driver_low", fixture.driver, fixture)
    for line, role in ROLE.items():
        _common(parts, role, fixture.resistor(role), fixture)
        for position in fixture.present:
            resistor = _one(parts, role, f"{role}[{position}]", fixture.resistor(role), fixture)
            for side in ("high", "low"):
                pin = _one(parts, f"driver_{side}", f"{'MS'[line - 1]}{position}.{side}", fixture.driver, fixture)
                parts.join(f"{role}[{position}].{side}", (resistor, pin))
    _channels(parts, fixture)
    _loads(parts, fixture)
    return parts


def _common(parts: Parts, kind: str, spread: Spread, fixture: Fixture) -> None:
    """What all of a kind have in common: a deviation from the middle of the span."""
    parts.add(f"common {kind}", 0.0, HALF * fixture.standard(spread))


def _one(parts: Parts, kind: str, name: str, spread: Spread, fixture: Fixture) -> str:
    """One of a kind: its own deviation and the common one."""
    parts.add(f"own {name}", spread.middle, HALF * fixture.standard(spread))
    parts.join(name, (f"own {name}", f"common {kind}"))
    return name


def _channels(parts: Parts, fixture: Fixture) -> None:
    """Multiplexers: one value a package, and each channel a little off it."""
    mux = fixture.raw["mux"]
    spread = Spread.of(mux["ron_ohm"])
    off = spread.middle * mux["ron_match"] / 2  # two channels differ by so much at most: each is within half of it of their middle
    apart = fixture.standard(Spread(0.0, -off, off))
    of_position = {position: fixture.raw["sense_mux"][position - 1] for position in fixture.present}
    for package in (*sorted(set(of_position.values())), "selector"):
        parts.add(f"package {package}", spread.middle, fixture.standard(spread))
    for position, package in of_position.items():
        parts.add(f"own channel[{position}]", 0.0, apart)
        parts.join(f"channel[{position}]", (f"package {package}", f"own channel[{position}]"))
    parts.add("hump", HUMP.middle, fixture.standard(HUMP))
    for whose in ("shape", "selector shape"):
        parts.add(whose, 0.0, SHAPE_SD * HUMP.middle)
    for selector in (*LOADS, LEVEL):
        parts.add(f"own selector[{selector}]", 0.0, apart)
        parts.join(f"selector[{selector}]", ("package selector", f"own selector[{selector}]"))


def _loads(parts: Parts, fixture: Fixture) -> None:
    """The load selector's arms, with the LD pin where it drives them."""
    for side in ("high", "low"):
        _one(parts, f"driver_{side}", f"LD.{side}", fixture.driver, fixture)
    for selector, role in LOADS.items():
        spread = fixture.resistor(role)
        parts.add(role, spread.middle, fixture.standard(spread))
        for side in ("high", "low"):
            parts.join(f"{role}.{side}", (role, f"LD.{side}"))
    spread = fixture.resistor("level_drive")
    parts.add("level_drive", spread.middle, fixture.standard(spread))
