"""Numbers with uncertainty, numbers of the `uncertainties` package, propagated after the GUM (JCGM 100:2008, 5.1.2 and 5.2.2).

Two numbers that stand on the same component are correlated by that alone: what they share cancels in a difference and
adds up in a sum.  This module adds what the package leaves to its user: components have names, and `budget` says how
much of a number's uncertainty comes from each; and it works out at once what the package would put off (`_kinds`).

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
from operator import attrgetter, itemgetter
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
def _kinds() -> tuple[Any, Any]:
    """Our kinds of the package's number and of its variable: (number, component).

    The package builds a tree of each expression, of any function by its derivatives, and walks it when somebody asks; so what
    a hundred figures share is walked a hundred times.  Sums, products and quotients are worked out at once here.
    """
    core = _library()
    number: Any = core.AffineScalarFunc
    variable: Any = core.Variable
    combination = core.LinearCombination

    class Number(_Arithmetic, number):  # type: ignore[misc]
        """A number that hangs on components by these slopes, which are never changed."""

        __slots__ = ("slopes",)

        def __init__(self, estimate: float, slopes: dict[Any, float]) -> None:
            super().__init__(estimate, combination(slopes))
            self.slopes = slopes

    class Component(_Arithmetic, variable):  # type: ignore[misc]
        """A variable whose hash is the interpreter's own of its identity, as the package's is, but is not worked out in Python.

        Slopes are kept in dictionaries by component: a sweep looks some 100,000 of them up.
        """

        __slots__ = ("slopes", "u")  # the standard uncertainty, which never changes here
        __hash__ = object.__hash__

        def __init__(self, estimate: float, u: float, name: str) -> None:
            super().__init__(estimate, u, tag=name)
            self.slopes, self.u = self._linear_part.linear_combo, u

    return Number, Component


class _Arithmetic:
    """Sums, products and quotients by their derivatives (GUM, 5.1.3): the operators of both kinds."""

    __slots__ = ()
    nominal_value = property(attrgetter("_nominal_value"))
    _nominal_value: float
    slopes: dict[Any, float]

    def __add__(self, other: Any) -> Any:
        return _combined(self._nominal_value + value(other), 1.0, self, 1.0, other)

    def __sub__(self, other: Any) -> Any:
        return _combined(self._nominal_value - value(other), 1.0, self, -1.0, other)

    def __rsub__(self, other: Any) -> Any:
        return _combined(value(other) - self._nominal_value, -1.0, self, 1.0, other)

    def __mul__(self, other: Any) -> Any:
        b = value(other)
        return _combined(self._nominal_value * b, b, self, self._nominal_value, other)

    def __truediv__(self, other: Any) -> Any:
        b = value(other)
        ratio = self._nominal_value / b
        return _combined(ratio, 1.0 / b, self, -ratio / b, other)

    def __rtruediv__(self, other: Any) -> Any:
        ratio = value(other) / self._nominal_value
        return _combined(ratio, -ratio / self._nominal_value, self, 1.0 / self._nominal_value, other)

    def __neg__(self) -> Any:
        return _combined(-self._nominal_value, -1.0, self, 0.0, 0.0)

    __radd__, __rmul__ = __add__, __mul__


def _combined(estimate: float, slope: float, one: _Arithmetic, other_slope: float, other: Any) -> Any:
    """A number that moves by `slope` times what `one` does, and so with the other, which may be a plain number."""
    slopes = {component: slope * own for component, own in one.slopes.items()}
    if isinstance(other, _Arithmetic):
        for component, own in other.slopes.items():
            slopes[component] = slopes.get(component, 0.0) + other_slope * own
    elif not isinstance(other, (float, int)):
        return NotImplemented  # draws, for the Monte Carlo check, know what to do
    return _kinds()[0](estimate, slopes)


def uncertain(estimate: float, u: float, name: str = "") -> Uncertain:
    """A new independent component: estimate, standard uncertainty in the same unit, and its name in budgets."""
    if u == 0:
        return exact(estimate)
    return cast(Uncertain, _kinds()[1](float(estimate), float(u), name))


def exact(number: float) -> Uncertain:
    """A number without uncertainty."""
    return cast(Uncertain, _kinds()[0](float(number), {}))


def linear(constant: float, *terms: tuple[float, Any]) -> Uncertain:
    """constant + the sum of slope * number over the terms."""
    slopes: dict[Any, float] = {}
    for slope, number in terms:
        if not isinstance(number, _Arithmetic):  # draws, for the Monte Carlo check
            return sum((slope * number for slope, number in terms), exact(constant))
        constant += slope * number._nominal_value
        for component, own in number.slopes.items():
            slopes[component] = slopes.get(component, 0.0) + slope * own
    return cast(Uncertain, _kinds()[0](constant, slopes))


def value(number: Number) -> float:
    """The best estimate."""
    if type(number) is float:
        return number
    return float(number) if isinstance(number, (float, int)) else number.nominal_value


def standard(number: Number) -> float:
    """The standard uncertainty, in the number's unit."""
    if isinstance(number, _Arithmetic):
        return sqrt(sum([(slope * component.u) ** 2 for component, slope in number.slopes.items()]))
    return 0.0 if isinstance(number, (float, int)) else float(number.std_dev)


def budget(number: Number) -> tuple[Contribution, ...]:
    """Contributions by component name, largest first; their squares add up to the square of the standard uncertainty.

    Components of one name (the converter's noise in each of several readings) are added as independent ones, and
    have the sign of the largest.
    """
    largest: dict[str, float] = {}
    size: dict[str, float] = {}
    for component, slope in getattr(number, "slopes", {}).items():
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
