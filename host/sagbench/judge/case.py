"""A finished record looked at for its faults: the facts that diagnoses are made of.

Views only: what each output does beside its sisters, what each input draws beside the other inputs, which findings
stand where.  Volts, amperes, ohms; currents of load lines as magnitudes.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import hypot, isfinite
from statistics import median

from sagbench.judge.limits import named
from sagbench.judge.traits import measured
from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Part, Role
from sagbench.parts.ratings import table
from sagbench.record import Contact, Finding, Outcome, PinContact, PinRecord, SweepRecord

Curve = Callable[[float], float]  # amperes -> volts
HIGH_SLOPE_OHM = 75.0  # of a bipolar high level beyond its knee (130 ohm behind a follower and the like, common practice)
LIGHT_A = 0.5e-3
LATE_V = 0.1  # what a resistance makes of a load must be so much to be missed
TWIN = 0.03  # currents that differ by less are the same
K = 2.0  # standard deviations that a sound specimen may be away from what is typical of its family


@dataclass(frozen=True)
class Shape:
    """How one output's line differs from what its like have: `excess` is volts worse at each current."""

    amperes: tuple[float, ...]
    volts: tuple[float, ...]
    excess: tuple[float, ...]
    bare: float  # excess without load; 0 if not known
    slack: tuple[float, ...]  # what sound ones may differ from their like at each current; nothing beside sisters
    bare_slack: float
    doubt: tuple[float, ...] = ()  # expanded uncertainty of the volts at each current
    beside_sisters: bool = False  # its like are the other outputs of this chip, not what is typical of the family

    @property
    def most(self) -> float:
        """The largest excess under load that its like cannot have."""
        return max((e - s for e, s in zip(self.excess, self.slack, strict=True)), default=0.0)

    @property
    def surely_bare(self) -> float:
        """The excess without load that its like cannot have."""
        return self.bare - self.bare_slack

    @property
    def ohm(self) -> float:
        """Resistance that fits the excess best (least squares through the origin)."""
        power = sum(i * i for i in self.amperes)
        return sum(e * i for e, i in zip(self.excess, self.amperes, strict=True)) / power if power else 0.0

    @property
    def ohm_u(self) -> float:
        """Expanded uncertainty of `ohm`: that of the volts, all the same way, and what its like may differ by."""
        power = sum(i * i for i in self.amperes)
        each = [max(d, s) for d, s in zip(self.doubt or self.slack, self.slack, strict=True)]
        return sum(d * i for d, i in zip(each, self.amperes, strict=True)) / power if power else 0.0

    @property
    def misfit(self) -> float:
        """How badly a mere resistance explains the excess: 0 perfectly, 1 not at all."""
        size = sum(e * e for e in self.excess)
        rest = sum((e - self.ohm * i) ** 2 for e, i in zip(self.excess, self.amperes, strict=True))
        return (rest / size) ** 0.5 if size > 0 else 1.0

    @property
    def growth(self) -> float:
        """Excess per ampere at the heaviest load over that at a quarter to three quarters of it: 1 for a resistance."""
        heaviest = self.amperes[-1] if self.amperes else 0.0
        lighter = [(e, i) for e, i in zip(self.excess, self.amperes, strict=True) if 0.25 * heaviest < i < 0.75 * heaviest]
        if not lighter or lighter[0][0] <= 0:
            return 1.0
        e, i = lighter[0]
        return (self.excess[-1] / heaviest) / (e / i)

    @property
    def late(self) -> bool:
        """True if a lighter load shows by far not what the resistance that fits best would make of it."""
        return any(self.ohm * i > LATE_V and e < 0.5 * self.ohm * i for e, i in zip(self.excess, self.amperes, strict=True))

    @property
    def cliff(self) -> float:
        """Slope between the two heaviest points over volts per ampere at the heaviest: about 1 for a resistance, more for a limit.

        The heaviest are those of the most volts: at a limit the current of a heavier load may read a little less.
        """
        if len(self.amperes) < 2:
            return 1.0
        (v1, i1), (v2, i2) = sorted(zip(self.volts, self.amperes, strict=True))[-2:]
        if v2 < 0.05 or i2 <= 0:
            return 1.0
        return (v2 - v1) / max(i2 - i1, 0.01 * i2) / (v2 / i2)


@dataclass
class Case:
    """One record with its part. `found`: findings that speak against a pin, by pin number."""

    part: Part
    record: SweepRecord
    found: dict[int, list[Finding]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for pin in self.record.pins:
            self.found[pin.pin] = [f for f in pin.findings if _speaks(f)]
        for f in self.record.reasons:
            if f.pin and f not in self.found.setdefault(f.pin, []):
                self.found[f.pin].append(f)

    # ------------------------------------------------------------------ what is where
    @cached_property
    def bipolar(self) -> bool:
        """True for TTL and its like."""
        return any(limits.technology == "ttl" for limits in self.part.limits.values())

    def name(self, pin: int) -> str:
        """ "pin 8 (3Y)"."""
        return named(pin, self.part.pin(pin).name)

    def pin(self, number: int) -> PinRecord:
        """The record of a pin."""
        return self.record.pins[number - 1]

    def contact(self, pin: int) -> PinContact | None:
        """The contact check of a pin."""
        return next((c for c in self.record.contacts if c.pin == pin), None)

    def bad_contact(self, pin: int) -> bool:
        """True if the pin is open or shorted."""
        c = self.contact(pin)
        return c is not None and c.contact in (Contact.OPEN, Contact.SHORTED)

    def has(self, pin: int, *quantities: str, outcome: Outcome | None = None, state: str | None = None) -> Finding | None:
        """The heaviest finding against a pin of one of these quantities."""
        some = [
            f for f in self.found.get(pin, ())
            if f.quantity in quantities and outcome in (None, f.outcome) and state in (None, f.state)
        ]
        return max(some, key=lambda f: f.weight, default=None)

    @cached_property
    def wrong(self) -> list[int]:
        """Outputs whose answers are wrong without load."""
        return [p.number for p in self.part.outputs if self.has(p.number, "logic", outcome=Outcome.BEYOND, state="")]

    def chip(self, state: str) -> Finding | None:
        """A reason that belongs to the whole chip, by its state: "cause", "wrong family"."""
        return next((f for f in self.record.reasons if f.state == state), None)

    # ------------------------------------------------------------------ load lines
    def shape(self, pin: int, low: bool) -> Shape | None:
        """The output's line beside its like, low (sinking) or high (sourcing); None if it was not loaded."""
        points = self.points(pin, low)
        doubt = self._doubts(pin, low)
        bare = self._bare(pin, low)
        beside = self._beside_sisters(pin, low)
        expected = beside or self.typical(low)
        if not points or expected is None:
            return None
        sign = 1.0 if low else -1.0
        slack = self._slack(low) if beside is None else _none
        excess = tuple(sign * (v - expected(i)) for i, v in points)
        first = 0.0 if bare is None else sign * (bare - expected(0.0))
        return Shape(tuple(i for i, _ in points), tuple(v for _, v in points), excess, first,
                     tuple(max(slack(i), doubt[i]) for i, _ in points), slack(0.0),
                     tuple(doubt[i] for i, _ in points), beside is not None)

    def points(self, pin: int, low: bool) -> list[tuple[float, float]]:
        """(amperes, volts) of its line, light to heavy, amperes as magnitudes."""
        way = "sink" if low else "source"
        some = [(abs(r.amperes.value), r.volts.value) for r in self.pin(pin).loads if r.direction == way]
        return sorted((i, v) for i, v in some if isfinite(i) and isfinite(v))

    def _doubts(self, pin: int, low: bool) -> dict[float, float]:
        """Current -> expanded uncertainty of the volts there; the heavy load goes through the multiplexers."""
        way = "sink" if low else "source"
        return {abs(r.amperes.value): r.volts.u for r in self.pin(pin).loads if r.direction == way}

    def _bare(self, pin: int, low: bool) -> float | None:
        q = self.pin(pin).low if low else self.pin(pin).high
        return None if q is None or not isfinite(q.value) else q.value

    def sisters(self, pin: int) -> list[int]:
        """Other outputs of the same kind that answer rightly and have contact."""
        which, limits = self.part.pin(pin), self.part.limits.get(pin)
        return [
            p.number for p in self.part.outputs
            if p.number != pin and p.role is which.role and limits is not None
            and self.part.limits[p.number].vol == limits.vol and self.part.limits[p.number].voh == limits.voh
            and not self.bad_contact(p.number) and not self.has(p.number, "logic", outcome=Outcome.BEYOND, state="")
        ]

    def _beside_sisters(self, pin: int, low: bool) -> Curve | None:
        """Volts that a sound output of this kind has at a current: the median of two sisters or more; None with fewer."""
        by_point: dict[str, list[tuple[float, float]]] = {}
        bare = []
        way = "sink" if low else "source"
        for sister in self.sisters(pin):
            if (b := self._bare(sister, low)) is not None:
                bare.append(b)
            for r in self.pin(sister).loads:
                if r.direction == way and isfinite(r.volts.value):
                    by_point.setdefault(r.point, []).append((abs(r.amperes.value), r.volts.value))
        points = sorted(
            (median(i for i, _ in some), median(v for _, v in some)) for some in by_point.values() if len(some) >= 2
        )
        if len(points) >= 2:
            return _through([(0.0, median(bare)), *points] if bare else points)
        return None

    def _slack(self, low: bool) -> Curve:
        """What sound specimens differ from `typical` at a current, K standard deviations of the family's table."""
        usual = table(self.part.family or PLAIN)["typical"]
        light, ohm = usual["vol_light_v" if low else "voh_drop_v"]["sd"], usual["rol_ohm"]["sd"]
        return lambda i: K * float(hypot(light if self.bipolar or i > 0 else 0.0, ohm * i))

    @property
    def usual_ohm(self) -> float:
        """Output resistance that is typical of the family; 0 if not known."""
        usual = table(self.part.family or PLAIN).get("typical")
        return float(usual["rol_ohm"]["value"]) if usual else 0.0

    def typical(self, low: bool) -> Curve | None:
        """The same from the family's `[typical]` table: coarse."""
        usual = table(self.part.family or PLAIN).get("typical")
        supply = self.record.supply_volts
        if not usual or (not low and supply is None):
            return None
        light = float(usual["vol_light_v" if low else "voh_drop_v"]["value"])
        slope = float(usual["rol_ohm"]["value"]) if low or not self.bipolar else HIGH_SLOPE_OHM

        def volts(i: float) -> float:
            away = max(0.0, light + slope * (i - LIGHT_A)) if self.bipolar or i > 0 else 0.0
            return away if low else (supply.value if supply else 0.0) - away

        return volts

    # ------------------------------------------------------------------ inputs
    def of_inputs(self, name: str) -> dict[int, float]:
        """A figure of every plain input that has it; IIL and IIH for one unit load."""
        out = {}
        for p in self.part.of_role(Role.INPUT):
            value = measured(self.pin(p.number), name)
            if value is None:
                value = next((f.value for f in self.pin(p.number).findings if f.quantity == name), None)
            if value is not None and isfinite(value.value):
                unit = {"IIL": p.low_unit_loads, "IIH": p.high_unit_loads}.get(name, 1.0)
                out[p.number] = value.value / unit
        return out

    def others(self, name: str, pin: int, *, like: bool = False) -> float | None:
        """The median of that figure over the other inputs; None with fewer than two. like: of those with the same unit loads."""
        loads = self.part.pin(pin).low_unit_loads
        some = [v for p, v in self.of_inputs(name).items() if p != pin and (not like or self.part.pin(p).low_unit_loads == loads)]
        return median(some) if len(some) >= 2 else None

    @cached_property
    def twins(self) -> list[int]:
        """Inputs beyond their limits by the very same current as another input, where outputs answer wrongly: two leaks
        are hardly that equal, two outputs of one chip are."""
        leaks = {p.number: abs(f.value.value) for p in self.part.of_role(Role.INPUT)
                 if (f := self.has(p.number, "IIH", "IIL", outcome=Outcome.BEYOND)) and f.value}
        return [p for p, i in leaks.items() if self.wrong and any(q != p and abs(i - other) < TWIN * i for q, other in leaks.items())]

    def share_beyond(self, *quantities: str) -> float:
        """Of the inputs, how many are beyond their limit in one of these quantities."""
        pins = self.part.of_role(Role.INPUT)
        bad = sum(1 for p in pins if self.has(p.number, *quantities, outcome=Outcome.BEYOND))
        return bad / len(pins) if pins else 0.0


def _speaks(f: Finding) -> bool:
    """True if a finding says something of the chip: what is undecided for want of resolution does not."""
    return f.outcome in (Outcome.BEYOND, Outcome.ODD) or f.outcome is Outcome.UNSURE and f.weight > 0


def _none(_: float) -> float:
    return 0.0


def _through(points: Sequence[tuple[float, float]]) -> Curve:
    """Straight lines through points of ascending current, prolonged at the heavy end, level at the light one."""
    xs = [i for i, _ in points]

    def at(i: float) -> float:
        if i <= xs[0]:
            return points[0][1]
        k = min(max(bisect_left(xs, i), 1), len(xs) - 1)
        (i1, v1), (i2, v2) = points[k - 1], points[k]
        return v1 + (v2 - v1) * (i - i1) / (i2 - i1) if i2 > i1 else v2

    return at


