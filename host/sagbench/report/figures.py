# SPDX-License-Identifier: MIT
"""Numbers as a reader wants them: rounded to their uncertainty, with a unit prefix that keeps them short.

    >>> figure(Quantity(0.31234, 0.0138, "V"))
    '0.312 V ± 0.014 V'
    >>> figure(Quantity(0.00494, 0.00062, "A"))
    '4.9 mA ± 0.6 mA'

The uncertainty is quoted with two significant digits at most (JCGM 100:2008,
7.2.6), by the Particle Data Group's rule for which it is: 100..354 two digits,
355..949 one, 950..999 rounded up to 1000 and two; the value ends at the same place
(Review of Particle Physics, introduction, "Rounding").
An unknown value is the word "unknown", never a number.
"""
from __future__ import annotations

import math

from sagbench.record import Quantity

UNKNOWN = "unknown"
PLUS_MINUS = "±"
_PREFIXES = {"n": -9, "µ": -6, "m": -3, "": 0, "k": 3, "M": 6}
_SYMBOLS = {"ohm": "Ω"}
_SMALLEST = {"V": "m", "A": "µ", "s": "µ", "ohm": "m"}      # below that a prefix only confuses
_LARGEST = {"V": "", "A": "", "s": "", "ohm": "M"}


def decimals_for(u: float) -> int:
    """How many decimals show `u` > 0 by the rule above (negative: tens, hundreds)."""
    exponent = math.floor(math.log10(u))
    leading = round(u * 10.0 ** (2 - exponent))              # its first three digits
    if leading >= 950:
        return -exponent                                     # 0.096 becomes 0.10
    return 1 - exponent if leading < 355 else -exponent


def fixed(value: float, decimals: int) -> str:
    """`value` with so many decimals; never "-0.00"."""
    text = f"{round(value, decimals):.{max(decimals, 0)}f}"
    return text.lstrip("-") if float(text) == 0 else text


def prefix_for(size: float, unit: str) -> str:
    """The prefix that puts `size` between 1 and 1000, within what is usual for the unit (volts below 0.1 V: mV)."""
    if not math.isfinite(size) or size == 0:
        return ""
    if unit == "V":
        return "m" if abs(size) < 0.1 else ""
    lowest, highest = _PREFIXES[_SMALLEST.get(unit, "n")], _PREFIXES[_LARGEST.get(unit, "M")]
    # A figure that rounds up to 1000 at three digits takes the next prefix.
    exponent = math.floor(math.log10(abs(size) * 1.0005) / 3) * 3
    exponent = min(max(exponent, lowest), highest)
    return next(name for name, power in _PREFIXES.items() if power == exponent)


def unit_of(prefix: str) -> float:
    """What the prefix stands for: 0.001 for "m"."""
    return 10.0 ** _PREFIXES[prefix]


def unit_symbol(unit: str, prefix: str = "") -> str:
    """The unit as printed: "ohm" with "k" is "kΩ"."""
    return prefix + _SYMBOLS.get(unit, unit)


def scaled(quantity: Quantity, prefix: str) -> tuple[str, str]:
    """Value and uncertainty as two strings of digits, in the unit with this prefix; U "" if it is zero or unknown."""
    factor = 10.0 ** -_PREFIXES[prefix]
    value, u = quantity.value * factor, abs(quantity.u * factor)
    if not math.isfinite(value):
        return UNKNOWN, ""
    if not math.isfinite(u) or u == 0:
        return plain_number(value), ""
    decimals = decimals_for(u)
    return fixed(value, decimals), fixed(u, decimals)


def plain_number(value: float, significant: int = 4) -> str:
    """A number that has no uncertainty of its own: so many digits, no trailing zeros, no exponent."""
    if not math.isfinite(value):
        return UNKNOWN
    if value == 0:
        return "0"
    decimals = significant - 1 - math.floor(math.log10(abs(value)))
    text = fixed(value, decimals)
    return text.rstrip("0").rstrip(".") if "." in text else text


def figure(quantity: Quantity | None, prefix: str | None = None) -> str:
    """A measured value in full: "0.312 V ± 0.014 V"."""
    if quantity is None:
        return "not measured"
    chosen = best_prefix(quantity) if prefix is None else prefix
    value, u = scaled(quantity, chosen)
    if value == UNKNOWN:
        return UNKNOWN
    symbol = unit_symbol(quantity.unit, chosen)
    if u:
        return f"{value} {symbol} {PLUS_MINUS} {u} {symbol}"
    return f"{value} {symbol}" if quantity.u == 0 else f"{value} {symbol}, uncertainty unknown"


def short(quantity: Quantity, prefix: str | None = None) -> str:
    """A measured value without its uncertainty, rounded by it all the same: "0.312 V"."""
    chosen = best_prefix(quantity) if prefix is None else prefix
    value, _ = scaled(quantity, chosen)
    return value if value == UNKNOWN else f"{value} {unit_symbol(quantity.unit, chosen)}"


def amount(value: float, unit: str, prefix: str | None = None) -> str:
    """A number without uncertainty and its unit (limits, rated currents): "0.5 V", "-0.4 mA"."""
    if not math.isfinite(value):
        return UNKNOWN
    # Half a volt is "0.5 V" and not "500 mV": a data book's own way.
    chosen = prefix_for(value, unit) if prefix is None else prefix
    return f"{plain_number(value * 10.0 ** -_PREFIXES[chosen])} {unit_symbol(unit, chosen)}"


def share(probability: float) -> str:
    """A probability in words that need no exponent: "2.3 %", "0.0041 %", "< 0.0001 %"."""
    if not math.isfinite(probability):
        return UNKNOWN
    if probability < 1e-6:
        return "< 0.0001 %"
    if probability > 0.999999:
        return "> 99.9999 %"
    digits = 2 if probability < 0.5 else 2 + max(0, -math.floor(math.log10(1 - probability)) - 2)
    return f"{plain_number(100 * probability, digits)} %"


def signed(value: float, like: Quantity, prefix: str) -> str:
    """A difference (a margin) with its sign, rounded to the uncertainty of the quantity it belongs to: "+0.188"."""
    if not math.isfinite(value):
        return UNKNOWN
    factor = 10.0 ** -_PREFIXES[prefix]
    u = abs(like.u * factor)
    text = (fixed(value * factor, decimals_for(u)) if math.isfinite(u) and u > 0
            else plain_number(value * factor))
    return text if text.startswith("-") or float(text) == 0 else "+" + text


def best_prefix(quantity: Quantity) -> str:
    """The prefix of the larger of value and uncertainty, so that "0.1 mA ± 620 µA" cannot happen."""
    sizes = [abs(x) for x in (quantity.value, quantity.u) if math.isfinite(x)]
    return prefix_for(max(sizes), quantity.unit) if sizes else ""


def common_prefix(quantities: list[Quantity]) -> str:
    """One prefix for a column: that of its largest value."""
    sizes = [q.value for q in quantities if math.isfinite(q.value)]
    return prefix_for(max(sizes, key=abs), quantities[0].unit) if sizes else ""
