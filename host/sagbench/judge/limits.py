"""One figure against one limit.

Decision rule: guard band w = U (k = 2), the rule that ILAC-G8:09/2019 section 4.2.2 calls "guard band w = U"
(from memory): WITHIN only if the limit is met by more than U, BEYOND only if it is missed by more than U.

    >>> outcome(Quantity(0.22, 0.01, "V"), 0.40)
    <Outcome.WITHIN: 'within'>

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable

from sagbench.parts.model import Part
from sagbench.record import Outcome, Quantity

WORST_FIRST = (Outcome.BEYOND, Outcome.ODD, Outcome.UNSURE, Outcome.NOT_MEASURED, Outcome.WITHIN)


def margin(value: Quantity, limit: float, kind: str = "max") -> float:
    """How far inside the limit the value is; negative outside."""
    return limit - value.value if kind == "max" else value.value - limit


def outcome(value: Quantity, limit: float, kind: str = "max") -> Outcome:
    """WITHIN, BEYOND, or UNSURE if the limit lies inside the uncertainty."""
    inside = margin(value, limit, kind)
    if inside >= value.u:
        return Outcome.WITHIN
    return Outcome.BEYOND if inside < -value.u else Outcome.UNSURE


def resolvable(value: Quantity, limit: float) -> bool:
    """False if the fixture's uncertainty is as large as the limit itself: then UNSURE says nothing of the chip."""
    return value.u < abs(limit)


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """The one that counts most; NOT_MEASURED if there is none."""
    return min(outcomes, key=WORST_FIRST.index, default=Outcome.NOT_MEASURED)


def pin_name(part: Part, pin: int) -> str:
    """ "pin 6 (2Y)": how sentences call a pin."""
    return f"pin {pin} ({part.pin(pin).name})"


def in_volts(volts: float) -> str:
    """ "0.78 V" for sentences; findings carry the exact figures."""
    return f"{volts:.2f} V"


def in_amperes(amperes: float) -> str:
    """ "16 mA", "0.43 mA", "12 uA"."""
    size = abs(amperes)
    if size < 0.5e-4:
        return f"{amperes * 1e6:.2g} uA" if size < 1e-5 else f"{amperes * 1e6:.0f} uA"
    if size < 0.995e-3:
        return f"{amperes * 1e3:.2f} mA"
    text = f"{amperes * 1e3:.1f}"
    return f"{text.removesuffix('.0')} mA"


def listed(words: Iterable[str]) -> str:
    """ "a, b and c"."""
    items = list(words)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""
