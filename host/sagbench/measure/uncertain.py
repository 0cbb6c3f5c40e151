"""Numbers with uncertainty, propagated by the `uncertainties` package after the GUM (JCGM 100:2008, 5.1.2 and 5.2.2).

Two numbers that stand on the same component are correlated by that alone: what they share cancels in a difference and
adds up in a sum.  This module adds what the package leaves to its user: components have names, and `budget` says how
much of a number's uncertainty comes from each.

    >>> reference = uncertain(2.5, 0.007, "vref")
    >>> a, b = 0.4 * reference, 0.3 * reference
    >>> round(standard(a - b), 6), round(standard(a + b), 6)
    (0.0007, 0.0049)
    >>> budget(a - b)
    (Contribution(name='vref', u=0.0007),)

First order, as the GUM has it; `tests/host/measure/test_measure_monte_carlo.py` holds the model's expressions against
draws (JCGM 101:2008), and another GUM package referees the arithmetic.

The package is imported at the first number, not with this module, so that the link to the fixture does not wait for it;
and without numpy, which it takes along where it is installed (0.17 s) and needs for none of this.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import sys
from collections.abc import Iterable
from functools import cache
from importlib import import_module
from math import hypot, sqrt
from operator import itemgetter
from typing import Any, Protocol, TypeAlias, cast

from sagbench.record import Contribution


class Uncertain(Protocol):
    """An estimate with its components of uncertainty: `uncertainties.core.AffineScalarFunc`, as far as it is used."""

    @property
    def nominal_value(self) -> float:
        """Best estimate."""

    @property
    def std_dev(self) -> float:
        """Combined standard uncertainty."""

    def __add__(self, other: Number, /) -> Uncertain: ...
    def __sub__(self, other: Number, /) -> Uncertain: ...
    def __mul__(self, other: Number, /) -> Uncertain: ...
    def __truediv__(self, other: Number, /) -> Uncertain: ...
    def __radd__(self, other: float, /) -> Uncertain: ...
    def __rsub__(self, other: float, /) -> Uncertain: ...
    def __rmul__(self, other: float, /) -> Uncertain: ...
    def __rtruediv__(self, other: float, /) -> Uncertain: ...
    def __neg__(self) -> Uncertain: ...


Number: TypeAlias = Uncertain | float


@cache
def _library() -> Any:
    without = "numpy" not in sys.modules
    if without:
        sys.modules["numpy"] = cast(Any, None)  # an import of it fails, as if it were not installed
    try:
        return import_module("uncertainties.core")  # it has no type hints of its own
    finally:
        if without:
            del sys.modules["numpy"]


@cache
def _kinds() -> tuple[Any, Any, Any]:
    """The package's number, its linear combination, and our kind of its variable: (number, combination, component)."""
    core = _library()
    variable: Any = core.Variable

    class Component(variable):  # type: ignore[misc]
        """A variable whose hash is the interpreter's own of its identity, as the package's is, but is not worked out in Python.

        Slopes are kept in dictionaries by component: a sweep looks some 100,000 of them up.
        """

        __slots__ = ("u",)  # the standard uncertainty, which never changes here
        __hash__ = object.__hash__

        def __init__(self, estimate: float, u: float, name: str) -> None:
            super().__init__(estimate, u, tag=name)
            self.u = u

    return core.AffineScalarFunc, core.LinearCombination, Component


def uncertain(estimate: float, u: float, name: str = "") -> Uncertain:
    """A new independent component: estimate, standard uncertainty in the same unit, and its name in budgets."""
    if u == 0:
        return exact(estimate)
    return cast(Uncertain, _kinds()[2](float(estimate), float(u), name))


def exact(number: float) -> Uncertain:
    """A number without uncertainty."""
    kind, combination, _ = _kinds()
    return cast(Uncertain, kind(float(number), combination({})))


def linear(constant: float, *terms: tuple[float, Uncertain]) -> Uncertain:
    """constant + the sum of slope * number over the terms, as one number of the package: it holds linear combinations itself.

    Of components alone the combination is the package's expanded one, else it is expanded when somebody asks for it.
    """
    kind, combination, component = _kinds()
    slopes: dict[Any, float] = {}
    parts: list[tuple[float, Any]] = []
    for slope, number in terms:
        if not isinstance(number, kind):  # draws, for the Monte Carlo check
            return sum((slope * number for slope, number in terms), exact(constant))
        constant += slope * number.nominal_value
        if type(number) is component:
            slopes[number] = slopes.get(number, 0.0) + slope
        else:
            parts.append((slope, cast(Any, number)._linear_part))
    if parts and slopes:
        parts.append((1.0, combination(slopes)))
    return cast(Uncertain, kind(constant, combination(parts or slopes)))


def less(a: Uncertain, b: Uncertain) -> Uncertain:
    """a - b."""
    return linear(0.0, (1.0, a), (-1.0, b))


def negative(a: Uncertain) -> Uncertain:
    """-a."""
    return linear(0.0, (-1.0, a))


def value(number: Number) -> float:
    """The best estimate."""
    if type(number) is float:
        return number
    return float(number) if isinstance(number, (float, int)) else number.nominal_value


def standard(number: Number) -> float:
    """The standard uncertainty, in the number's unit."""
    if isinstance(number, (float, int)):
        return 0.0
    slopes = getattr(number, "derivatives", None)
    if slopes is None:
        return float(number.std_dev)
    return sqrt(sum([(slope * component.u) ** 2 for component, slope in slopes.items()]))


def settled(number: Uncertain) -> Uncertain:
    """The same number with its slopes worked out at once: for what many others are made of (references, channels).

    The package keeps a number as a tree of what it was made from, and would walk all of it again for each of them.
    """
    _ = getattr(number, "derivatives", None)
    return number


def budget(number: Number) -> tuple[Contribution, ...]:
    """Contributions by component name, largest first; their squares add up to the square of the standard uncertainty.

    Components of one name (the converter's noise in each of several readings) are added as independent ones, and
    have the sign of the largest.
    """
    largest: dict[str, float] = {}
    size: dict[str, float] = {}
    for component, slope in getattr(number, "derivatives", {}).items():
        u = slope * component.u
        if u == 0:
            continue
        name = component.tag or "unnamed"
        if name not in size:
            largest[name], size[name] = u, abs(u)
            continue
        size[name] = hypot(size[name], u)
        if abs(u) > abs(largest[name]):
            largest[name] = u
    ordered = sorted(size.items(), key=itemgetter(1), reverse=True)
    return tuple([Contribution(name, u if largest[name] > 0 else -u) for name, u in ordered])


def root_sum(parts: Iterable[Contribution]) -> float:
    """Standard uncertainty that these contributions make together."""
    return sqrt(sum(part.u**2 for part in parts))
