"""A chip beside the user's own sound specimens of the same part: what is within its limits but unlike all of them.

Robust: the median of each figure and the median absolute deviation from it (MAD), so that one odd specimen among
those kept does not hide the next.  A figure is out of character if its modified z-score is beyond FAR; Iglewicz and
Hoaglin (How to Detect and Handle Outliers, ASQC 1993; from memory) label from 3.5 on, we ask for more because one
chip has dozens of figures.  What the figures' own uncertainty explains is no character: U is added in.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import hypot, isfinite
from statistics import median

from sagbench.judge.limits import in_amperes, in_volts, named
from sagbench.judge.verdict import conclude, told_elsewhere
from sagbench.record import Finding, Outcome, Quantity, SweepRecord, Verdict

FEWEST = 5  # specimens that a figure must have: fewer have no spread worth the name
FAR = 6.0  # so many robust standard deviations from the median
TO_SIGMA = 1.4826  # MAD of a normal distribution to its standard deviation
LEAST_SHARE = 0.04  # specimens of one lot may be closer than lots are to each other: at least so much of the median
WORSE_IS_MORE = {"VOL", "ROL", "ROH", "IOZ", "IOZH", "IOZL", "IIH"}
WORSE_IS_LESS = {"VOH"}
STATE = "own specimens"
WEIGHT = 31.0

Key = tuple[str, int, str]  # quantity, pin (0: the chip), the state or current it holds for


@dataclass(frozen=True)
class Norm:
    """One figure over several specimens: unit of the figure."""

    middle: float  # median
    spread: float  # robust standard deviation, MAD times 1.4826
    count: int


def figures(record: SweepRecord) -> Iterator[tuple[Key, Quantity]]:
    """All figures of a record that can be compared between specimens."""
    for f in record.supply:
        if f.value is not None:
            yield ("ICC", 0, f.state), f.value
    for pin in record.pins:
        seen = set()
        for m in pin.measured:
            seen.add(m.name)
            yield (m.name, pin.pin, _at(m.at)), m.value
        for f in pin.findings:
            if f.value is not None and not f.state and f.quantity not in seen:
                yield (f.quantity, pin.pin, "" if f.rated_at is None else f"{f.rated_at:.2g} A"), f.value


def _at(at: Quantity | None) -> str:
    return "" if at is None else f"{at.value:.2g} {at.unit}"


# What these hold for is where the fixture happened to find them, not what was asked for: it is another one each time.
FOUND = frozenset({"VT", "VT+", "VT-", "VH", "ROL", "ROH", "IIH", "VIK"})


def place(key: Key) -> Key:
    """The key by which a figure is known again in another measurement."""
    return (key[0], key[1], "") if key[0] in FOUND else key


def usable(record: SweepRecord, part: str) -> bool:
    """True if an earlier record tells what a sound specimen of this part is like."""
    return record.part == part and record.verdict is Verdict.SOUND


def norms(records: Iterable[SweepRecord]) -> dict[Key, Norm]:
    """Median and spread of every figure that FEWEST or more of these records have. Records must be of one part."""
    values: dict[Key, list[float]] = {}
    for record in records:
        for key, value in figures(record):
            if isfinite(value.value):
                values.setdefault(place(key), []).append(value.value)
    return {key: norm_of(several) for key, several in values.items() if len(several) >= FEWEST}


def norm_of(values: Sequence[float]) -> Norm:
    """Median and robust spread of one figure's values, in its unit."""
    middle = median(values)
    return Norm(middle, TO_SIGMA * median(abs(v - middle) for v in values), len(values))


def compare(record: SweepRecord, known: Mapping[Key, Norm]) -> SweepRecord:
    """The record with a finding ODD for each figure unlike `known`, and verdict and reasons anew."""
    odd: dict[int, list[Finding]] = {}
    for key, value in figures(record):
        norm = known.get(place(key))
        if norm and (finding := _finding(record, key, value, norm)):
            odd.setdefault(key[1], []).append(finding)
    if not odd:
        return record
    others = [*told_elsewhere(record), *odd.pop(0, [])]
    pins = tuple(replace(pin, findings=(*pin.findings, *odd.get(pin.pin, ()))) for pin in record.pins)
    changed = replace(record, pins=pins)
    if record.verdict is Verdict.INCOMPLETE:
        return changed
    return conclude(changed, others)


def far(key: Key, value: Quantity, norm: Norm) -> float:
    """Robust standard deviations from the median, the better side of a level or a resistance not counted."""
    scale = hypot(max(norm.spread, LEAST_SHARE * abs(norm.middle)), value.u / 2)
    away = (value.value - norm.middle) / scale if scale else 0.0
    if key[0] in WORSE_IS_MORE:
        return max(away, 0.0)
    return max(-away, 0.0) if key[0] in WORSE_IS_LESS else abs(away)


def _finding(record: SweepRecord, key: Key, value: Quantity, norm: Norm) -> Finding | None:
    if far(key, value, norm) <= FAR:
        return None
    name, number, at = key
    pin = next((named(p.pin, p.name) for p in record.pins if p.pin == number), "")
    where = f"{pin}: {name}" if pin else f"its supply current with {at}"
    return Finding(
        name,
        Outcome.ODD,
        f"{where} is {_words(value, value.value)}; the {norm.count} sound specimens of your own have "
        f"{_words(value, norm.middle)}, give or take {_words(value, norm.spread)}",
        number or None,
        value,
        state=STATE,
        typical=norm.middle,
        weight=WEIGHT,
    )


def _words(like: Quantity, number: float) -> str:
    if like.unit == "A":
        return in_amperes(number)
    return in_volts(number) if like.unit == "V" else f"{number:.3g} {like.unit}"
