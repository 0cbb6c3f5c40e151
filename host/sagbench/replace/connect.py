# SPDX-License-Identifier: MIT
"""The arithmetic of one line: what an output can sink and give, against all that hangs on it.

    IOL of the output >= sum of the IIL of the inputs, at a VOL that all of them read as low; the same high

A figure counts at the worst side of its data book; unit loads are already in the currents of a pin.  Open collectors have the
two well-known bounds of their pull-up (common practice; in the data books beside the open-collector gates):

    R >= (VCC most - VOL) / (IOL - sum of IIL),     R <= (VCC least - VIH) / (sum of leakage + sum of IIH)

Volts and amperes; currents here are magnitudes.
"""
from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import log, sqrt

from sagbench.parts import ratings
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import FamilyLimits, Limit, Part, Pin, Rated, Role

# The supply in the worst case: the span that the tables of CMOS and of the later TTL families are given for.
# Standard TTL keeps to 4.75 to 5.25 V, which lies inside.
LEAST, MOST = 4.5, 5.5
OWN_LEAKAGE = "its own leakage"
_E12 = (10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82)
MEMORY = "memory"                        # the source of a figure that is recalled from data books, none at hand
_EXACT = 1e-9                            # a sum that just fits must not fail by rounding


@dataclass(frozen=True)
class Load:
    """One thing on a line, `count` times: a pin of a part, a resistor or a current, to a supply or to ground."""

    text: str                            # as somebody wrote it
    count: int = 1
    part: Part | None = None
    pin: Pin | None = None
    ohms: float = 0.0
    amperes: float = 0.0                 # an LED, a relay: what flows while the output is at the other end
    up: bool = True                      # towards a supply, else to ground
    volts: float | None = None           # of that supply, if it is not the chip's own
    own: bool = False                    # a pin of the very chip that is to be replaced

    @property
    def limits(self) -> FamilyLimits | None:
        return self.part.limits[self.pin.number] if self.part and self.pin else None


@dataclass(frozen=True)
class Term:
    """One summand: `count` times so many amperes."""

    count: int
    amperes: float
    who: str
    source: str = ""


@dataclass(frozen=True)
class Balance:
    """One state of one line: what is asked of the output, and what it is good for."""

    state: str                           # "low", "high"
    terms: tuple[Term, ...]
    able: float                          # amperes
    volts: float                         # VOL or VOH that it keeps at them
    source: str
    threshold: float | None = None       # strictest VIL or VIH on the line; None: nothing that reads levels
    reader: str = ""                     # whose that is
    threshold_source: str = ""
    ohms: float = 0.0                    # of the pull-up that makes the high level; 0: the output does
    supply: float = LEAST                # what it pulls to

    @property
    def recalled(self) -> tuple[str, ...]:
        """Which of its figures are from memory: "IOL" of the output, "IIL of 74S20", "VIL of 74S20"."""
        able, each, level = ("IOL", "IIL", "VIL") if self.state == "low" else ("IOH", "IIH", "VIH")
        found = [able] if self.source == MEMORY else []
        found += [OWN_LEAKAGE if term.who == OWN_LEAKAGE else f"leakage of {term.who}" if term.who.endswith(" off") else f"{each} of {term.who}"
                  for term in self.terms if term.source == MEMORY]
        return tuple(dict.fromkeys([*found, *([f"{level} of {self.reader}"] if self.threshold_source == MEMORY else [])]))

    @property
    def need(self) -> float:
        return sum(term.count * term.amperes for term in self.terms)

    @property
    def share(self) -> float:
        """Of what it is good for; a pull-up gives whatever is asked, at a price in volts."""
        return self.need / self.able if self.able else float("inf") if self.need else 0.0

    @property
    def strong(self) -> bool:
        return bool(self.ohms) or self.need <= self.able * (1 + _EXACT)

    @property
    def margin(self) -> float | None:
        """Volts between level and threshold: the noise margin; None if nothing reads the level."""
        if self.threshold is None:
            return None
        return self.threshold - self.volts if self.state == "low" else self.volts - self.threshold

    @property
    def level(self) -> bool:
        return self.margin is None or self.margin >= -_EXACT


@dataclass(frozen=True)
class PullUp:
    """Between what resistances a pull-up has to be; none is possible if `least` > `most`."""

    least: float
    most: float

    @property
    def usual(self) -> float | None:
        """The value of the series E12 (IEC 60063) that lies nearest to the middle; None if none lies between."""
        if not 0 < self.least <= self.most < float("inf"):
            return None
        inside = [value * 10.0 ** decade for decade in range(-1, 7) for value in _E12 if self.least <= value * 10.0 ** decade <= self.most]
        return min(inside, key=lambda ohms: abs(log(ohms / sqrt(self.least * self.most))), default=None)


def balances(role: Role, limits: FamilyLimits, loads: Sequence[Load]) -> tuple[Balance, ...]:
    """The line low, then high.  No high balance if the output cannot make a high level and nothing pulls the line up."""
    high = _pulled(limits, loads) if role is Role.OPEN_COLLECTOR else _driven_high(limits, loads)
    return (_low(limits, loads), *([high] if high else []))


def _low(limits: FamilyLimits, loads: Sequence[Load]) -> Balance:
    return _best([_at(point, "low", tuple(_low_terms(loads, point.limit.value)), loads) for point in limits.vol])


def _at(point: Rated, state: str, terms: tuple[Term, ...], loads: Sequence[Load]) -> Balance:
    """The balance at one of the currents an output is rated at."""
    return Balance(state, terms, abs(point.amperes), volts(point), point.limit.source, *_threshold(loads, state))


def _best(made: Sequence[Balance]) -> Balance:
    """Of the points an output is rated at, light current first: the strongest that is read rightly, for its current is what counts
    against the loads; else the first that suffices."""
    strong = [balance for balance in made if balance.strong]
    return next((balance for balance in reversed(strong) if balance.level), strong[0] if strong else made[-1])


def _driven_high(limits: FamilyLimits, loads: Sequence[Load]) -> Balance:
    alone = _best([_at(point, "high", tuple(_high_terms(loads, volts(point))), loads) for point in limits.voh])
    helped = _pulled(limits, loads)
    return helped if helped and not alone.level and helped.level else alone


def _pulled(limits: FamilyLimits, loads: Sequence[Load]) -> Balance | None:
    """The line high by its pull-ups; None if there is none.  Several count as one to the lowest supply."""
    ups = [load for load in loads if load.ohms and load.up]
    if not ups:
        return None
    ohms = 1 / sum(load.count / load.ohms for load in ups)
    supply = min(LEAST if load.volts is None else load.volts for load in ups)
    leak = _own_leakage(limits)
    terms = (*([Term(1, leak.value, OWN_LEAKAGE, leak.source)] if leak else []), *_high_terms(loads, supply))
    threshold, reader, source = _threshold(loads, "high")
    sagged = supply - ohms * sum(term.count * term.amperes for term in terms)
    return Balance("high", terms, 0.0, sagged, "", threshold, reader, source, ohms, supply)


def _own_leakage(limits: FamilyLimits) -> Limit | None:
    """What the output takes itself from a line that is pulled up.  Above its own high level a bipolar totem pole is off as an open
    collector is, and is taken to leak as one of its family."""
    if limits.off_leakage and not limits.voh:
        return limits.off_leakage
    return None if limits.technology == "cmos" else ratings.limits(limits.family or PLAIN, limits.grade, Role.OPEN_COLLECTOR).off_leakage


def pull_up(limits: FamilyLimits, loads: Sequence[Load], least: float = LEAST, most: float = MOST) -> PullUp:
    """The bounds of a pull-up for an open collector on this line, with the supply between `least` and `most` volts."""
    point = limits.vol[-1]
    spare = point.amperes - sum(term.count * term.amperes for term in _low_terms(loads, point.limit.value))
    leak = _own_leakage(limits)
    drop = (leak.value if leak else 0.0) + sum(term.count * term.amperes for term in _high_terms(loads, most))
    threshold = _threshold(loads, "high")[0] or limits.vih.value
    lowest = (most - point.limit.value) / spare if spare > 0 else float("inf")
    return PullUp(lowest, (least - threshold) / drop if drop else float("inf"))


def _low_terms(loads: Sequence[Load], low: float) -> Iterator[Term]:
    """What flows into the output while it is at `low` volts."""
    for load in loads:
        if load.limits and load.pin and load.part:
            if load.pin.role is Role.INPUT:
                yield Term(load.count, abs(load.limits.iil.value) * load.pin.low_unit_loads, load.part.name, load.limits.iil.source)
            elif load.limits.off_leakage and load.limits.voh:          # an open collector that is off takes nothing from a low line
                yield Term(load.count, load.limits.off_leakage.value, f"{load.part.name} off", load.limits.off_leakage.source)
        elif load.ohms and load.up:
            yield Term(load.count, ((MOST if load.volts is None else load.volts) - low) / load.ohms, load.text)
        elif load.amperes and load.up:
            yield Term(load.count, load.amperes, load.text)


def _high_terms(loads: Sequence[Load], high: float) -> Iterator[Term]:
    """What flows out of the line while it is at `high` volts."""
    for load in loads:
        if load.limits and load.pin and load.part:
            leak = load.limits.off_leakage
            if load.pin.role is Role.INPUT:
                yield Term(load.count, load.limits.iih.value * load.pin.high_unit_loads, load.part.name, load.limits.iih.source)
            elif leak:
                yield Term(load.count, leak.value, f"{load.part.name} off", leak.source)
        elif load.ohms and not load.up:
            yield Term(load.count, high / load.ohms, load.text)
        elif load.amperes and not load.up:
            yield Term(load.count, load.amperes, load.text)


def _threshold(loads: Sequence[Load], state: str) -> tuple[float | None, str, str]:
    """The strictest VIL or VIH of the inputs on a line, whose it is, and its source."""
    limits = [(load.limits.vil if state == "low" else load.limits.vih, load.part.name)
              for load in loads if load.limits and load.part and load.pin and load.pin.role.is_input]
    if not limits:
        return None, "", ""
    strictest = (min if state == "low" else max)(limits, key=lambda pair: pair[0].value)
    return strictest[0].value, strictest[1], strictest[0].source


def volts(point: Rated) -> float:
    """A rated level with the supply at its least."""
    return round(point.limit.value + (LEAST if point.relative_to_supply else 0.0), 6)


def fan_out(driver: FamilyLimits, driven: FamilyLimits, low_loads: float = 1.0, high_loads: float = 1.0) -> int:
    """How many inputs (of so many unit loads) an output drives, low and high, by the limits alone.

    Counted at the strongest current at which the level is still read rightly; 0 if there is none.
    """
    low = max((p.amperes for p in driver.vol if p.limit.value <= driven.vil.value + _EXACT), default=0.0)
    high = max((-p.amperes for p in driver.voh if volts(p) >= driven.vih.value - _EXACT), default=0.0)
    return min(_times(low, driven.iil, low_loads), _times(high, driven.iih, high_loads))


def _times(able: float, each: Limit, loads: float) -> int:
    current = abs(each.value) * loads
    return int(able / current + _EXACT) if current else 10**9
