"""Least squares with prior knowledge: Gauss and Newton's method, each unknown a standard normal deviation beforehand.

What is minimised is the sum of squared residuals over their standard uncertainties plus the sum of squares of the
unknowns, whose inverse curvature at the minimum is the covariance (JCGM 100:2008 H.3 for the case without priors;
a linear model with normal priors gives the same as Bayes' theorem).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from operator import mul

from sagbench.calibrate.linear import Matrix, cholesky, forward, solve
from sagbench.calibrate.parts import Parts

TURNS = 20
FACTOR = 2.0  # no resistance changes by more in one turn: what is far from a straight line is approached by halves
DONE = 1e-4  # of the sum of squares: a hundredth of a standard uncertainty


@dataclass(frozen=True)
class Observation:
    """One thing that was measured.

    predict: value of a named path -> what should have been read, in the unit of `read`.
    paths: the names it asks for.  u: standard uncertainty of the reading.
    """

    label: str
    read: float
    u: float
    paths: tuple[str, ...]
    predict: Callable[[Callable[[str], float]], float]


@dataclass(frozen=True)
class Fit:
    """The unknowns that explain the observations best."""

    parts: Parts
    x: list[float]
    lower: Matrix  # Cholesky factor of the inverse covariance of x
    residuals: tuple[float, ...]  # read - predicted, in units of each observation's u

    def value(self, path: str) -> float:
        """Best estimate of a path."""
        return self.parts.value(path, self.x)

    def covariance(self, paths: Sequence[str]) -> Matrix:
        """Covariance of some paths, full square."""
        rows = []
        for path in paths:
            dense = [0.0] * len(self.x)
            for i, share in self.parts.paths[path][1].items():
                dense[i] = share
            rows.append(forward(self.lower, dense))
        return [[sum(map(mul, one, other)) for other in rows] for one in rows]

    def variance(self, index: int) -> float:
        """Variance of an unknown's x, which was 1 beforehand."""
        unit = [0.0] * len(self.x)
        unit[index] = 1.0
        return sum(a * a for a in forward(self.lower, unit))

    def u(self, path: str) -> float:
        """Standard uncertainty of a path."""
        return sqrt(self.covariance([path])[0][0])

    @property
    def misfit(self) -> float:
        """Root mean square of the residuals: about 1 or less if the uncertainties are right."""
        return sqrt(sum(r * r for r in self.residuals) / max(len(self.residuals), 1))


def fit(parts: Parts, observations: Sequence[Observation]) -> Fit:
    """The most likely unknowns. Raises ValueError if nothing fits (a path of no resistance)."""
    x = [0.0] * len(parts.unknowns)
    for _ in range(TURNS):
        lower, gradient, residuals = _linearised(parts, observations, x)
        step = solve(lower, gradient)
        gain = sum(map(mul, step, gradient))  # by how much the sum of squares would fall
        share = _cautious(parts, observations, x, step)
        step = [share * s for s in step]
        x = [a + b for a, b in zip(x, step, strict=True)]
        if gain < DONE:
            break
    lower, _, residuals = _linearised(parts, observations, x)
    return Fit(parts, x, lower, tuple(residuals))


def _cautious(parts: Parts, observations: Sequence[Observation], x: list[float], step: list[float]) -> float:
    """How much of a step keeps every resistance within FACTOR of what it is."""
    share = 1.0
    for path in {path for seen in observations for path in seen.paths}:
        if path in UNBOUND:
            continue
        constant, inside = parts.paths[path]
        here = constant + sum(a * x[i] for i, a in inside.items())
        change = sum(a * step[i] for i, a in inside.items())
        if here > 0 and change:
            most = here * (FACTOR - 1) if change > 0 else here * (1 - 1 / FACTOR)
            share = min(share, most / abs(change))
    return share


UNBOUND = {"offset", "bow", "hump", "shape", "selector shape"}


def _linearised(
    parts: Parts, observations: Sequence[Observation], x: list[float]
) -> tuple[Matrix, list[float], list[float]]:
    """Curvature (its Cholesky factor), gradient and residuals at x."""
    size = len(x)
    curvature = [[0.0] * (i + 1) for i in range(size)]
    gradient = [-value for value in x]
    for i in range(size):
        curvature[i][i] = 1.0
    residuals = []
    for seen in observations:
        residual, slopes = _slopes(parts, seen, x)
        residuals.append(residual)
        row = sorted(slopes.items())
        for n, (i, a) in enumerate(row):
            gradient[i] += a * residual
            into = curvature[i]
            for j, b in row[: n + 1]:
                into[j] += a * b
    return cholesky(curvature), gradient, residuals


def _slopes(parts: Parts, seen: Observation, x: list[float]) -> tuple[float, dict[int, float]]:
    """Residual over u, and the derivatives of the prediction over u, by unknown."""
    values = {path: parts.value(path, x) for path in seen.paths}
    predicted = seen.predict(values.__getitem__)
    slopes: dict[int, float] = {}
    for path in seen.paths:
        here = values[path]
        small = max(abs(here) * 1e-5, 1e-7)
        values[path] = here + small
        slope = (seen.predict(values.__getitem__) - predicted) / small / seen.u
        values[path] = here
        for i, share in parts.paths[path][1].items():
            slopes[i] = slopes.get(i, 0.0) + slope * share
    return (seen.read - predicted) / seen.u, slopes


def factors(
    fit: Fit, sources: Mapping[str, str], outputs: Sequence[str], own: Callable[[str], str]
) -> dict[str, dict[str, float]]:
    """Where the uncertainty of each output comes from, as independent factors: output -> factor -> signed u.

    sources: paths that count as factors of their own, in this order, and their names; they are outputs too.
    own: name of the factor that an output adds.  Shares below `_SMALL` of an output's u go into its own factor.
    """
    order = [*sources, *outputs]
    lower = cholesky(_with_ridge(fit.covariance(order)))
    names = [*sources.values(), *map(own, outputs)]
    out: dict[str, dict[str, float]] = {}
    for n, path in enumerate(order):
        row = lower[n]
        whole = sqrt(sum(a * a for a in row))
        kept = {names[i]: a for i, a in enumerate(row[:-1]) if abs(a) > _SMALL * whole}
        rest = whole * whole - sum(a * a for a in kept.values())
        out[path] = {**kept, names[n]: sqrt(max(rest, 0.0))}
    return out


_SMALL = 0.05


def _with_ridge(matrix: Matrix) -> Matrix:
    """A little on the diagonal, so that outputs that are sums of others do no harm."""
    for i, row in enumerate(matrix):
        row[i] *= 1 + 1e-9
    return matrix
