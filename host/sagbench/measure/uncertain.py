"""Numbers with uncertainty: the law of propagation of the GUM (JCGM 100:2008, 5.1.2 and 5.2.2), and nothing else.

A number is an estimate and, for each independent component it stands on, how much of its standard uncertainty
comes from there (sensitivity times u, signed).  Two numbers that share a component are correlated by that alone:
what they share cancels in a difference and adds up in a sum.

    >>> reference = uncertain(2.5, 0.007)
    >>> a, b = 0.4 * reference, 0.3 * reference
    >>> round((a - b).u, 6), round((a + b).u, 6)
    (0.0007, 0.0049)

First order, as the GUM has it: fit for components that are small against their values.
The tests hold it against a general-purpose package.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import count
from math import sqrt
from typing import TypeAlias

_fresh = count()


@dataclass(frozen=True, slots=True, eq=False)
class Uncertain:
    """An estimate and its components of uncertainty."""

    value: float
    parts: Mapping[int, float] = field(default_factory=dict)  # component -> signed standard uncertainty from it

    @property
    def u(self) -> float:
        """Combined standard uncertainty."""
        return sqrt(sum(part * part for part in self.parts.values()))

    def _with(self, value: float, mine: float, other: Number, theirs: float) -> Uncertain:
        """The result `value` of an operation with these two partial derivatives."""
        parts = {key: mine * part for key, part in self.parts.items()}
        if isinstance(other, Uncertain):
            for key, part in other.parts.items():
                parts[key] = parts.get(key, 0.0) + theirs * part
        return Uncertain(value, parts)

    def __add__(self, other: Number) -> Uncertain:
        return self._with(self.value + value(other), 1.0, other, 1.0)

    def __sub__(self, other: Number) -> Uncertain:
        return self._with(self.value - value(other), 1.0, other, -1.0)

    def __mul__(self, other: Number) -> Uncertain:
        return self._with(self.value * value(other), value(other), other, self.value)

    def __truediv__(self, other: Number) -> Uncertain:
        quotient = self.value / value(other)
        return self._with(quotient, 1 / value(other), other, -quotient / value(other))

    def __neg__(self) -> Uncertain:
        return self * -1.0

    __radd__ = __add__
    __rmul__ = __mul__

    def __rsub__(self, other: float) -> Uncertain:
        return -self + other

    def __rtruediv__(self, other: float) -> Uncertain:
        return exact(other) / self


Number: TypeAlias = Uncertain | float


def uncertain(estimate: float, u: float) -> Uncertain:
    """A new independent component: its estimate and standard uncertainty."""
    return Uncertain(estimate, {next(_fresh): u})


def exact(number: float) -> Uncertain:
    """A number without uncertainty."""
    return Uncertain(float(number))


def value(number: Number) -> float:
    """The best estimate."""
    return number.value if isinstance(number, Uncertain) else float(number)


def standard(number: Number) -> float:
    """The standard uncertainty."""
    return number.u if isinstance(number, Uncertain) else 0.0
