"""What all of this room share: weights of findings, and words for pins, volts and amperes.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable

from sagbench.judge.rule import DEFAULT, margin
from sagbench.parts.model import Limit, Part
from sagbench.record import Outcome, Quantity

outcome = DEFAULT.outcome  # a sweep is judged by the default rule; `rejudge` holds its record against another

WORST_FIRST = (Outcome.BEYOND, Outcome.ODD, Outcome.UNSURE, Outcome.NOT_MEASURED, Outcome.WITHIN)


LEAST_SUPPLY_V = {74: 4.75, 54: 4.5}  # of bipolar parts by grade (TTL data books, recommended operating conditions)


def least_supply(part: Part) -> float:
    """Volts down to which a bipolar part's VOH is specified."""
    return LEAST_SUPPLY_V.get(part.grade, LEAST_SUPPLY_V[74])


FINE = 0.5  # U of so much of a limit is no test of it: most sound chips would be undecided (test uncertainty ratio of 2)


def resolvable(value: Quantity, limit: float) -> bool:
    """False where UNSURE says nothing of the chip, for the limit of this current is finer than the fixture: U is as large
    as the limit itself, or more than half of it while the figure is inside."""
    return value.u < abs(limit) * (FINE if abs(value.value) <= abs(limit) else 1.0)


def worst(outcomes: Iterable[Outcome]) -> Outcome:
    """The one that counts most; NOT_MEASURED if there is none."""
    return min(outcomes, key=WORST_FIRST.index, default=Outcome.NOT_MEASURED)


BEYOND_WEIGHT = {"ICC": 80.0, "VOL": 76.0, "VOH": 76.0, "IIH": 65.0, "IIL": 65.0,
                 "VT+": 64.0, "VT-": 64.0, "VH": 64.0, "IOZ": 62.0, "IOS": 58.0, "VIK": 55.0}
UNSURE_WEIGHT = {"ICC": 15.0, "VOL": 15.0, "VOH": 15.0, "IOS": 8.0, "VIK": 8.0}


def weight(quantity: str, what: Outcome, value: Quantity, limit: float, kind: str = "max") -> float:
    """How much one comparison matters among the reasons; 0 if it is within, or says nothing for want of resolution."""
    if what is Outcome.BEYOND:
        far = {
            "ICC": abs(value.value / limit) if limit else 9.0,
            "VOL": 9 * abs(margin(value, limit, kind)),
            "VOH": 9 * abs(margin(value, limit, kind)),
        }.get(quantity, 0.0)
        return BEYOND_WEIGHT.get(quantity, 60.0) + min(9.0, far)
    if what is Outcome.UNSURE and resolvable(value, limit):
        return UNSURE_WEIGHT.get(quantity, 12.0)
    return 0.0


def between_makers(amperes: Quantity, limit: Limit, loads: float = 1.0) -> str:
    """Words for a current that keeps `limit`, the loosest that any data book gives, and surely misses another's; else empty.

    Both are in amperes for one of `loads` unit loads.  Which of them holds depends on whose chip it is.
    """
    bounds = [(other, other.value * loads) for other in limit.also]
    missed = [o for o, bound in bounds if outcome(amperes, bound, limit.kind) is Outcome.BEYOND and resolvable(amperes, bound)]
    if not missed:
        return ""
    strictest = min(missed, key=lambda other: abs(other.value))
    return (
        f"that is beyond the limit of {in_amperes(abs(strictest.value * loads))} in one data book ({strictest.source}) and within the "
        f"{in_amperes(abs(limit.value * loads))} of another ({limit.source}): too much for one maker's, sound for the other's"
    )


def named(number: int, name: str) -> str:
    """ "pin 6 (2Y)": how sentences call a pin."""
    return f"pin {number} ({name})"


def pin_name(part: Part, pin: int) -> str:
    """The same for a pin of a part."""
    return named(pin, part.pin(pin).name)


def in_volts(volts: float) -> str:
    """ "0.78 V" for sentences; findings carry the exact figures."""
    return f"{volts:.2f} V"


def in_amperes(amperes: float) -> str:
    """ "16 mA", "0.43 mA", "12 µA"."""
    size = abs(amperes)
    if size < 0.5e-4:
        return f"{amperes * 1e6:.2g} µA" if size < 1e-5 else f"{amperes * 1e6:.0f} µA"
    if size < 0.995e-3:
        return f"{amperes * 1e3:.2f} mA"
    text = f"{amperes * 1e3:.1f}"
    return f"{text.removesuffix('.0')} mA"


def in_times(ratio: float) -> str:
    """ "2.6 times", "38 times", "28,000 times": no more digits than the figure deserves."""
    return f"{ratio:.1f} times" if ratio < 9.95 else f"{float(f'{ratio:.2g}'):,.0f} times"


def under_load(load: str) -> str:
    """ "under the strong load", "under both loads": the load point both is two lines at once."""
    return "under both loads" if load == "both" else f"under the {load} load"


def listed(words: Iterable[str]) -> str:
    """ "a, b and c"."""
    items = list(words)
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}" if items else ""
