"""Levels between load points against transistors in ngspice: the host's curves through an output's load points.

Decks of the data books' diagrams (gates.inc), the fixture's nominal loads, gains from poor to good.  Where a gate of low gain
leaves its level just behind the rated current less is known, and more is said to be uncertain.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from functools import cache

import pytest

from sagbench.measure.line import Line, Point, at_rated
from sagbench.measure.uncertain import standard, uncertain, value

from spice import dc_sweep

GATES = {"74": "TTL00", "LS": "LS00", "S": "S00", "L": "L00", "H": "H00"}
PIN, CHANNEL = 27, 70                                        # ohms, typical: hardware/wiring.toml
LOADS = {"trickle": 100e3 + PIN + CHANNEL, "weak": 8200 + PIN + CHANNEL, "exact": 1000 + PIN + 2 * CHANNEL,
         "medium": 560 + PIN, "strong": 270 + PIN, "both": 1 / (1 / (560 + PIN) + 1 / (270 + PIN)),
         "heavy": 1 / (1 / (560 + PIN) + 1 / (270 + PIN) + 1 / (220 + PIN + 2 * CHANNEL))}
LOST_V = 0.8
Curve = tuple[tuple[float, float], ...]                      # amperes, volts


@cache
def curve(gate: str, beta: int, low: bool) -> Curve:
    """The output's own curve: as a sink or as a source."""
    end, step = (-0.045, -2e-5) if low else (0.045, 2e-5)
    rows = dc_sweep(f"X1 a b y vcc 0 {gate} bfo={beta}\nVA a 0 {5 if low else 0}\nVB b 0 5\nVC vcc 0 5\nIY y 0 0",
                    "IY", 0, end, step, ["v(y)"])
    return tuple((abs(amperes), volts) for amperes, volts in rows)


def at(found: Curve, amperes: float) -> float:
    (i1, v1), (i2, v2) = next((p, q) for p, q in zip(found, found[1:], strict=False) if p[0] <= amperes <= q[0])
    return v1 + (v2 - v1) * (amperes - i1) / (i2 - i1)


def loaded(found: Curve, name: str, source: float) -> Point:
    def more(p: tuple[float, float]) -> float:
        return abs(source - p[1]) / LOADS[name] - p[0]

    p, q = next((p, q) for p, q in zip(found, found[1:], strict=False) if more(p) >= 0 > more(q))
    share = more(p) / (more(p) - more(q))
    amperes, volts = (a + share * (b - a) for a, b in zip(p, q, strict=True))
    return Point(name, uncertain(volts, 4e-4 if source else 2e-3), uncertain(amperes, 1e-3 * amperes))


@pytest.mark.parametrize("beta", [25, 40, 80])
@pytest.mark.parametrize(("family", "points", "amperes"), [
    ("74", "trickle weak medium strong both", 16e-3), ("LS", "trickle weak medium strong", 4e-3),
    ("LS", "trickle weak medium strong", 8e-3), ("S", "trickle weak medium strong both", 20e-3),
    ("H", "trickle weak medium strong both", 20e-3), ("L", "trickle weak exact medium", 3.6e-3),
    ("L", "trickle weak exact medium", 2e-3)])
def test_a_low_level_between_two_points(family: str, points: str, amperes: float, beta: int) -> None:
    found = curve(GATES[family], beta, True)
    line = Line(1, True, tuple(loaded(found, name, 5.0) for name in points.split()), uncertain(found[0][1], 4e-4))
    told = at_rated(line, amperes)
    assert told is not None
    off = value(told.volts) - at(found, value(told.amperes))
    assert abs(off) <= 2 * standard(told.volts)
    assert abs(off) < (5e-3 if at(found, amperes * 1.5) < LOST_V else 30e-3)       # no gain left just behind it


@pytest.mark.parametrize(("family", "amperes"), [
    ("74", 1e-3), ("74", 3e-3), ("LS", 1e-3), ("LS", 3e-3), ("S", 1e-3), ("S", 3e-3), ("H", 0.5e-3), ("H", 2e-3), ("L", 0.2e-3),
    ("L", 2e-3)])
def test_a_high_level_between_two_points(family: str, amperes: float) -> None:
    found = curve(GATES[family], 40, False)
    line = Line(1, False, tuple(loaded(found, name, 0.0) for name in ("trickle", "weak", "medium")),
                uncertain(found[0][1], 2e-3), uncertain(5.0, 1e-3))
    told = at_rated(line, amperes, beyond=[loaded(found, name, 0.0) for name in ("strong", "both", "heavy")])
    assert told is not None
    assert abs(value(told.volts) - at(found, value(told.amperes))) <= 2 * standard(told.volts)
