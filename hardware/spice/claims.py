"""The table of claims, and what comes of running them.

    for outcome in run(load_claims()):
        outcome.claim.name, outcome.worst, outcome.claim.limit, outcome.held

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import itertools
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from hardware.spice.bench import Bench, wiring
from hardware.spice.corner import ENDS, QUANTITIES, Corner
from hardware.spice.measures import MEASURES
from hardware.wiring import Fixture

TABLE = Path(__file__).with_name("table")


def table() -> str:
    """Corners and claims: the files of hardware/spice/table one after the other."""
    return "\n".join(path.read_text() for path in sorted(TABLE.glob("*.toml")))


class ClaimError(ValueError):
    """The table of claims says something that cannot be; the text says what, where and what to do."""


@dataclass(frozen=True)
class Claim:
    """One claim: a measure, its arguments (each a tuple of values), the specimens, the limit and where it is from.

    open: of a claim that is known not to be held, why not and what mends it; else "".
    """

    name: str
    measure: str
    arguments: Mapping[str, tuple[Any, ...]]
    corners: tuple[Corner, ...]
    limit: float
    at_most: bool
    unit: str
    source: str
    quick: bool
    open: str


@dataclass(frozen=True)
class Outcome:
    """What came of a claim: the worst figure, and the specimen and arguments that gave it."""

    claim: Claim
    worst: float
    where: str

    @property
    def held(self) -> bool:
        return self.worst <= self.claim.limit if self.claim.at_most else self.worst >= self.claim.limit

    @property
    def as_known(self) -> bool:
        """Held, or known not to be; a claim that is called open and is held is not as known either."""
        return self.held != bool(self.claim.open)

    @property
    def margin_percent(self) -> float:
        """How far the figure is on the good side of the limit, of the limit."""
        distance = self.claim.limit - self.worst if self.claim.at_most else self.worst - self.claim.limit
        return 100 * distance / abs(self.claim.limit)


def _limit(entry: Mapping[str, Any], fixture: Fixture) -> tuple[float, bool]:
    found = [key for key in ("at_most", "at_least") if key in entry]
    if len(found) != 1:
        raise ClaimError(f"claim {entry['name']}: give at_most or at_least, one of them")
    value: Any = entry[found[0]]
    if isinstance(value, str):
        place: Any = fixture
        for key in value.split("."):
            if key not in place:
                raise ClaimError(f"claim {entry['name']}: hardware/wiring.toml has no {value}; correct the limit")
            place = place[key]
        value = place
    return float(value), found[0] == "at_most"


def _corner(name: str, raw: Mapping[str, Any], fixture: Fixture) -> Corner:
    if name == "typical":
        return Corner()
    if name not in raw:
        raise ClaimError(f"there is no [corner.{name}]; write one, or name one of {', '.join(['typical', *raw])}")
    known = {*QUANTITIES, *(part["ref"] for part in fixture["part"])}
    for quantity, end in raw[name].items():
        if quantity not in known or end not in ENDS:
            raise ClaimError(f"[corner.{name}]: {quantity} = {end!r} is none of the quantities and designators, at {', '.join(ENDS)}")
    return Corner(name, raw[name])


def load_claims(text: str | None = None) -> list[Claim]:
    """All claims of the table, in order.  Raises ClaimError."""
    raw, fixture = tomllib.loads(table() if text is None else text), wiring()
    claims: list[Claim] = []
    for entry in raw["claim"]:
        if missing := {"name", "measure", "corners", "unit", "source"} - set(entry):
            raise ClaimError(f"claim {entry.get('name', len(claims) + 1)} has no {', '.join(sorted(missing))}; write it")
        if entry["measure"] not in MEASURES:
            raise ClaimError(f"claim {entry['name']}: there is no measure {entry['measure']}; one of {', '.join(sorted(MEASURES))}")
        limit, at_most = _limit(entry, fixture)
        arguments = {key: tuple(value) if isinstance(value, list) else (value,) for key, value in entry.get("with", {}).items()}
        claims.append(Claim(entry["name"], entry["measure"], arguments,
                            tuple(_corner(name, raw.get("corner", {}), fixture) for name in entry["corners"]),
                            limit, at_most, entry["unit"], entry["source"], bool(entry.get("quick", False)), entry.get("open", "")))
    names = [claim.name for claim in claims]
    if twice := {name for name in names if names.count(name) > 1}:
        raise ClaimError(f"claims are named twice: {', '.join(sorted(twice))}; give each its own name")
    return claims


def settle(claim: Claim) -> Outcome:
    """Measure a claim at all its specimens and arguments.  Raises SpiceError."""
    found = []
    for corner in claim.corners:
        for values in itertools.product(*claim.arguments.values()):
            arguments = dict(zip(claim.arguments, values, strict=True))
            varied = [str(value) for key, value in arguments.items() if len(claim.arguments[key]) > 1]
            found.append((MEASURES[claim.measure](Bench(corner), **arguments), ", ".join([corner.name, *varied])))
    worst, where = (max if claim.at_most else min)(found, key=lambda one: one[0])
    return Outcome(claim, worst, where)


def run(claims: Iterable[Claim]) -> Iterator[Outcome]:
    """Outcomes of claims, one after the other.  Raises SpiceError."""
    yield from map(settle, claims)
