"""Which load points each output gets.

An output is loaded up to the first point that is clearly beyond its rated current (HEADROOM), so that the value at
rated current is interpolated and a cliff just behind it is seen; and at least to M, for its output resistance;
but never by more than EXCESS_A beyond what it is rated for.
A bipolar output that M loads to twice its rating may have no gain left there: it gets the calibration reference's 1 kohm
besides, through the multiplexers.
The logic test under load goes no further than the rated current.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import replace

from sagbench.parts.model import FamilyLimits, Part, Role
from sagbench.plan.fixture import Fixture, LoadPoint

HEADROOM = 1.25  # a sound output holds a good deal more than it is rated for
EXCESS_A = 0.010  # kind to bus drivers: 24 mA outputs are read at 23 mA, not at 36
NEARLY = 1.10  # a point this much above the rated current still counts as at it
LIGHTEST = 1.5  # the weak load is a little more than a 4000-series output is rated for, by far not what it can
SHORTED_OUTPUT_A = 0.100  # what one output that is shorted inside may draw (IOS of the S and F families, data books)
LOW_V, HIGH_V = 0.3, 3.4  # levels at which nominal currents hold (wiring file)
SHORT_CIRCUIT = ("strong", "both", "heavy")
CHANNEL_A = 0.020  # the most for a channel that is marked as a bipolar part: HC outputs bear 25 mA (data books)
TWICE = 2.0  # so far beyond a rating a sound output may have no gain left (74L: base drive for some 4 to 8 mA)
EXACT = "exact"  # the point of the calibration reference
ALWAYS_A = 0.005  # every output that can is measured at least to the point beyond this


def rated(limits: FamilyLimits, up: bool) -> float:
    """The heaviest rated current in that direction, in amperes; 0 if there is none."""
    return max((abs(r.amperes) for r in (limits.vol if up else limits.voh)), default=0.0)


def loaded_points(fixture: Fixture) -> tuple[LoadPoint, ...]:
    """All points that load, light to heavy."""
    return tuple(p for p in fixture.points if p.up)


def bearable(fixture: Fixture) -> Fixture:
    """The fixture with those load points alone that any CMOS output bears."""
    return replace(fixture, points=tuple(p for p in fixture.points if p.nominal(True) <= CHANNEL_A))


def line_points(fixture: Fixture, limits: FamilyLimits, up: bool) -> tuple[str, ...]:
    """Names of the points of the load line in that direction, light to heavy; empty without a rating there."""
    current = rated(limits, up)
    if not current:
        return ()
    names = []
    for point in loaded_points(fixture):
        if point.nominal(up) > current + EXCESS_A:
            break
        exact = exact_point(fixture)
        if limits.technology == "ttl" and current * TWICE < point.nominal(up) and current <= exact.nominal(up):
            names.append(exact.name)
        names.append(point.name)
        if point.nominal(up) >= max(current * HEADROOM, ALWAYS_A):
            break
    return tuple(names)


def exact_point(fixture: Fixture) -> LoadPoint:
    """The load selector's calibration reference as a load: some 4 mA."""
    load = fixture.raw["load_selector"].index("L_CAL")
    ohms = fixture.resistor("calibration_reference").typ + fixture.driver.typ + 2 * fixture.raw["mux"]["ron_ohm"]["typ"]
    volts = fixture.raw["supply"]["nominal_v"]
    return LoadPoint(EXACT, 0, load, (volts - LOW_V) / ohms, HIGH_V / ohms)


def all_points(fixture: Fixture) -> tuple[LoadPoint, ...]:
    """The fixture's own points and that of the calibration reference, light to heavy."""
    return tuple(sorted((*fixture.points, exact_point(fixture)), key=lambda p: p.nominal(True)))


def short_circuit_points(part: Part, pin: int, up: bool) -> tuple[str, ...]:
    """Points down for the short-circuit current of a bipolar output; a channel saturates, and is not extrapolated.

    One output for a millisecond at a time; data books allow one at a time for a second.
    """
    return SHORT_CIRCUIT if not up and part.limits[pin].technology == "ttl" else ()


def logic_points(fixture: Fixture, part: Part) -> tuple[LoadPoint, ...]:
    """Points at which the logic test is played: every one that some output is rated for (trickle is no load)."""
    return tuple(
        p
        for p in loaded_points(fixture)
        if p.load != fixture.point("trickle").load
        and any(wants(fixture, part, pin.number, up, p) for pin in part.outputs for up in (True, False))
    )


def wants(fixture: Fixture, part: Part, pin: int, up: bool, point: LoadPoint) -> bool:
    """True if the output must keep its level at this point: it is rated for it, or nearly and there is none lighter."""
    if pin not in part.limits or (not up and part.pin(pin).role is Role.OPEN_COLLECTOR):
        return False
    current = rated(part.limits[pin], up)
    lightest = point.name == "weak" and point.nominal(up) <= current * LIGHTEST
    return bool(current) and (lightest or point.nominal(up) <= current * NEARLY)
