"""Figures of an output beyond its load line: short-circuit current, the load at which it leaves its level, leakage.

Currents of lines are magnitudes; figures are positive into the pin, volts against the chip's ground pin.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from math import sqrt

from sagbench.measure.bend import LEAST_STEP_A, STEEPER
from sagbench.measure.inputs import Figure
from sagbench.measure.line import Line, Point
from sagbench.measure.model import Model
from sagbench.measure.uncertain import Uncertain, exact, standard, uncertain, value
from sagbench.plan.recipe import Reading
from sagbench.record import Quantity

STRAIGHT_SD = 0.04  # of what is extrapolated: how straight a pull-up's line is once its follower is saturated
KNEE_SD = 0.25  # of what two stretches of a line with a knee differ by: the heaviest may have the knee in it
STACK_V = 0.85  # at least between supply and output beside the resistor: a junction and a saturated transistor,
STACKED_V = 1.65  # and at most: two junctions and one,
SINGLE_STACKED_V = 1.25  # or one junction and one transistor where no Darlington pulls up,
SINGLE = ("74", "L", "93L")  # as the makers' schematics of these families have it
APART_A = 0.2e-3  # and two points must differ by so much
OFF_V = 2.0  # an off output that the trickle load lifts so high, or leaves so low below the rail, is read through it


def short_circuit(points: Sequence[Point], supply: float | None = None, family: str = "") -> Figure | None:
    """IOS, negative: the pull-up's line prolonged to 0 V, from those two neighbours that leave the least doubt.

    Straight, for the follower is saturated there and its collector resistor does the rest.  Where it is not saturated yet
    the line is flatter and would promise too much: if stretches surely disagree the heaviest counts, with a
    doubt.  supply: volts of the chip; then a follower that is not saturated at the heaviest point either is known by it, and
    IOS lies between what the line promises and what the largest collector resistor gives that leaves it unsaturated there.
    A line that has its knee among the points and ends as a saturated one does is believed, with as large a doubt.
    None if there are no two points, or no slope between them.
    """
    line = sorted(points, key=lambda p: value(p.amperes))
    found = []
    for a, b in pairwise(line):
        if value(a.volts) - value(b.volts) > 0.05 and value(b.amperes) - value(a.amperes) > APART_A:
            more = b.volts * (b.amperes - a.amperes) / (a.volts - b.volts)
            doubt = uncertain(0.0, STRAIGHT_SD * abs(value(more)), "straightness of the pull-up")
            found.append(-(b.amperes + more + doubt))
    if not found:
        return None
    surest, heaviest = min(found, key=standard), found[-1]
    apart = abs(value(surest) - value(heaviest))
    if apart > 2 * standard(surest - heaviest):  # the lighter points do not lie on the saturated follower's line yet
        surest = heaviest + uncertain(0.0, apart * KNEE_SD, "knee of the pull-up")
    if supply is None:
        return Figure(surest, Quantity(0.0, 0.0, "V"), "extrapolated")
    ends, straight = _ends_saturated(line, supply, family), _straight(line)
    if not (ends and straight):
        last, most = line[-1], -value(surest)
        ohms = (supply - value(last.volts) - STACK_V) / value(last.amperes)
        if ohms > 0 and (least := (supply - STACK_V) / ohms) < most:
            less = 0.0 if ends else (most - least) / 2
            surest = surest + uncertain(less, (most - least) / sqrt(12), "knee of the pull-up")
    return Figure(surest, Quantity(0.0, 0.0, "V"), "extrapolated")


def _ends_saturated(line: Sequence[Point], supply: float, family: str) -> bool:
    """Does the follower's collector resistor carry the line at its heaviest points?

    Then, prolonged to no current, it ends where one junction and a saturated transistor, or two junctions and one at
    most, are below the supply.
    """
    a, b = line[-2:]
    most = SINGLE_STACKED_V if family in SINGLE else STACKED_V
    return supply - (value(b.volts) + _ohms(a, b) * value(b.amperes)) < most


def _straight(line: Sequence[Point]) -> bool:
    return len(line) < 3 or _ohms(*line[-2:]) < STEEPER * _ohms(line[-3], line[-2])


def _ohms(a: Point, b: Point) -> float:
    return (value(a.volts) - value(b.volts)) / max(value(b.amperes) - value(a.amperes), LEAST_STEP_A)


def leaves_level(line: Line, volts: float, beyond: Sequence[Point] = ()) -> Figure | None:
    """The current at which an output reaches this level (VIL of what it drives when low, VIH when high).

    `how` is "interpolated" between load points, or "not reached" with the heaviest point's current.
    """
    sign = 1 if line.up else -1
    points = sorted([*line.points, *beyond], key=lambda p: value(p.amperes))
    if not points:
        return None
    at = Quantity(volts, 0.0, "V")
    lost = next((i for i, p in enumerate(points) if sign * (value(p.volts) - volts) > 0), None)
    if lost is None:
        return Figure(sign * points[-1].amperes, at, "not reached")
    if lost == 0:
        return Figure(sign * points[0].amperes, at, "lost under the lightest load")
    a, b = points[lost - 1], points[lost]
    amperes = a.amperes + (volts - a.volts) / (b.volts - a.volts) * (b.amperes - a.amperes)
    bend = (value(b.amperes) - value(a.amperes)) / 4  # anywhere between them: a cliff has no other shape known
    steep = value(b.volts) - value(a.volts)
    share = min(1.0, abs(steep) / 0.3)
    return Figure(sign * (amperes + uncertain(0.0, bend * share * share, "bend of the load line")), at, "interpolated")


def off_leakage(
    model: Model, finely: Reading | None, coarsely: Reading | None, ground: Uncertain | None
) -> Figure | None:
    """Leakage of an output that is off: through the trickle load if that holds it, else through the weak one."""
    base = exact(0.0) if ground is None else ground
    for reading in (finely, coarsely):
        if reading is None or reading.total is None:
            continue
        at_pin, amperes = model.point(reading)
        volts = at_pin - base
        away = value(model.rail) - value(volts) if reading.mark.up else value(volts)
        if reading is finely and away > value(model.rail) - OFF_V:
            continue
        return Figure(amperes + model.leakage(reading.mark.position), Model.quantity(volts, "V"), "measured there")
    return None
