"""Numbers that are draws: what the measurement model is fed with for a Monte Carlo evaluation after JCGM 101:2008.

A `Draws` answers to the same names as the host's uncertain numbers, so that the model's own expressions run on it.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import numpy as np

RNG_SEED, COUNT = 20_260, 20_000


class Draws:
    """COUNT values that a quantity may have."""

    def __init__(self, values: np.ndarray) -> None:
        self.values = values

    @property
    def nominal_value(self) -> float:
        return float(np.mean(self.values))

    @property
    def std_dev(self) -> float:
        return float(np.std(self.values))

    def __add__(self, other):
        return Draws(self.values + _plain(other))

    def __sub__(self, other):
        return Draws(self.values - _plain(other))

    def __mul__(self, other):
        return Draws(self.values * _plain(other))

    def __truediv__(self, other):
        return Draws(self.values / _plain(other))

    def __rsub__(self, other):
        return Draws(_plain(other) - self.values)

    def __rtruediv__(self, other):
        return Draws(_plain(other) / self.values)

    def __neg__(self):
        return Draws(-self.values)

    __radd__, __rmul__ = __add__, __mul__


def _plain(number):
    return number.values if isinstance(number, Draws) else getattr(number, "nominal_value", number)


class Maker:
    """Draws each component where the GUM's evaluation takes estimate and standard uncertainty: what is spread over a
    span from a normal distribution cut at two standard deviations, the rest (noise, leakage) from a whole one."""

    WHOLE = ("noise", "leakage")

    def __init__(self, count: int = COUNT) -> None:
        self.rng, self.count = np.random.default_rng(RNG_SEED), count

    def __call__(self, estimate: float, u: float, name: str) -> Draws:
        if name.startswith(self.WHOLE):
            return Draws(self.rng.normal(estimate, u, self.count))
        unit = self.rng.normal(0.0, 1.0, 2 * self.count)
        unit = unit[np.abs(unit) <= 2][: self.count]
        return Draws(estimate + u / 0.8796 * unit)
