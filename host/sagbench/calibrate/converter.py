"""The converter's own curve: how far its code is off, code by code, from a ramp of the level drive.

The level drive is a pulse train of exact duty, filtered and buffered: its level is duty times the 5 V rail, which is
also the converter's reference, plus the buffer's offset.  So the codes seen against duty are the converter's transfer:
what is not a straight line of slope one is its gain error and non-linearity.  What the level drive itself bends comes
from the pin that drives it, whose resistance differs a little between high and low, in series with 10 kohm: a bow of
at most half a code at half the supply (`BOW`), which is left as an unknown.

Common practice: a converter's static test by a ramp finer than its codes, as in IEEE Std 1241.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

from sagbench.calibrate.linear import cholesky, solve
from sagbench.calibrate.plan import Shots
from sagbench.plan.fixture import Fixture
from sagbench.plan.recipe import Readings
from sagbench.wire import steps
from sagbench.wire.numbers import Reference, Source

STEP = 6  # codes from one level to the next
FIRST, LAST = 8, 1015  # the buffer does not reach its rails
SETTLE_US = 9000  # two RC stages of 1 ms: a step of 6 codes is then within 0.02
START_US = 20000
REPEATS = 32
KNOT = 32  # codes between the knots of the curve


@dataclass(frozen=True)
class Curve:
    """Corrections: to be taken off a code. `knots` are KNOT codes apart from code 0 on; `u`: what is left, codes."""

    knots: tuple[float, ...]
    u: float

    def at(self, code: float) -> float:
        """Correction at a code, by straight lines between the knots."""
        place = min(max(code / KNOT, 0.0), len(self.knots) - 1.000001)
        low, share = int(place), place % 1
        return self.knots[low] * (1 - share) + self.knots[low + 1] * share


def bow_sigma(fixture: Fixture) -> float:
    """Codes that the level drive's own bow may have at half the supply, one standard deviation."""
    resistor = fixture.raw["value"]["R316"]["ohm"]
    apart = sqrt(2) * fixture.standard(fixture.driver)
    return float(apart / resistor / 4 * fixture.full_scale)


def ramp(shots: Shots) -> None:
    """The passage: `ramp` readings of the level drive against AVcc, upwards."""
    shots.recipe.power_off()
    shots.recipe.reference(Reference.AVCC)
    for n, code in enumerate(range(FIRST, LAST, STEP)):
        shots.recipe.add(steps.level(code))
        shots.recipe.settle(SETTLE_US if n else START_US)
        shots.read(Source.VDAC, REPEATS, label=f"ramp {code}")
    shots.recipe.add(steps.level(0))


def curve(fixture: Fixture, readings: Readings) -> Curve:
    """The converter's curve. Its constant is zero on average: that is the offset's business.

    Raises ValueError if a reading of the ramp is missing.
    """
    points: list[tuple[float, float]] = []
    for reading in readings.where(lambda mark: mark.label.startswith("ramp ")):
        if reading.code is None:
            raise ValueError("a level of the ramp was not measured")
        points.append((reading.code, reading.code - float(reading.mark.label.removeprefix("ramp "))))
    middle = sum(off for _, off in points) / len(points)
    points = [(code, off - middle) for code, off in points]
    knots = _hats(points, fixture.full_scale // KNOT + 1)
    curve = Curve(tuple(knots), 0.0)
    scatter = sqrt(sum((off - curve.at(code)) ** 2 for code, off in points) / max(len(points) - len(knots), 1))
    noise = fixture.raw["adc"]["noise_lsb"] / sqrt(REPEATS)
    # Each knot rests on some KNOT / STEP readings; what scatters more than the noise belongs to single codes.
    own = max(scatter**2 - noise**2, 0.0)
    return Curve(curve.knots, sqrt(own + scatter**2 * STEP / KNOT + OF_A_CODE**2))


OF_A_CODE = 0.05  # codes: steps between neighbours that a mean over a dithered reading does not follow


def _hats(points: Sequence[tuple[float, float]], count: int) -> list[float]:
    """Least squares of straight lines between knots, with a slight pull towards straightness where points are few."""
    matrix = [[0.0] * count for _ in range(count)]
    right = [0.0] * count
    for code, off in points:
        low, share = int(code / KNOT), code / KNOT % 1
        for i, a in ((low, 1 - share), (low + 1, share)):
            right[i] += a * off
            for j, b in ((low, 1 - share), (low + 1, share)):
                matrix[i][j] += a * b
    for i in range(1, count - 1):
        for j, a in ((i - 1, 1.0), (i, -2.0), (i + 1, 1.0)):
            for k, b in ((i - 1, 1.0), (i, -2.0), (i + 1, 1.0)):
                matrix[j][k] += STIFF * a * b
    return solve(cholesky(matrix), right)


STIFF = 0.05
