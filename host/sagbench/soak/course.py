"""The course of a soak: sweeps in time, faults that came and went, figures that moved.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import hypot

from sagbench.judge.character import Key, figures
from sagbench.record import Outcome, Quantity, SweepRecord, Verdict

WORSE = (Verdict.SOUND, Verdict.TIRED, Verdict.UNSURE, Verdict.INCOMPLETE, Verdict.FAILED)  # worst last


@dataclass(frozen=True)
class Sample:
    """One sweep of the course. Seconds are since the course began."""

    seconds: float
    record: SweepRecord

    @property
    def faults(self) -> frozenset[str]:
        """What was surely wrong: the quantity and the pin, without figures."""
        every = [*self.record.supply, *(f for pin in self.record.pins for f in pin.findings), *self.record.reasons]
        beyond = {f"{f.quantity} of pin {f.pin}" if f.pin else f.quantity for f in every if f.outcome is Outcome.BEYOND}
        return frozenset(beyond | ({self.record.partial} if self.record.partial else set()))


@dataclass(frozen=True)
class Intermittent:
    """A fault that is not in every sweep."""

    what: str
    times: int
    of: int
    first_s: float


@dataclass(frozen=True)
class Drift:
    """A figure from the first to the last sweep; `least` and `most` over all."""

    key: Key
    first: Quantity
    last: Quantity
    least: float
    most: float
    times: float  # greatest distance between two sweeps, in units of the uncertainty that both have by chance and scale


@dataclass
class Course:
    """Sweeps so far, oldest first."""

    samples: list[Sample] = field(default_factory=list)

    def add(self, seconds: float, record: SweepRecord) -> None:
        """One more sweep."""
        self.samples.append(Sample(seconds, record))

    @property
    def worst(self) -> Verdict:
        """The worst verdict of all sweeps; not finished if there are none."""
        return max((s.record.verdict for s in self.samples), key=WORSE.index, default=Verdict.INCOMPLETE)

    def intermittents(self) -> list[Intermittent]:
        """Faults that some sweeps have and others have not, the rarest last."""
        seen: dict[str, list[float]] = {}
        for sample in self.samples:
            for fault in sample.faults:
                seen.setdefault(fault, []).append(sample.seconds)
        found = [Intermittent(what, len(at), len(self.samples), at[0]) for what, at in seen.items() if len(at) < len(self.samples)]
        return sorted(found, key=lambda i: (-i.times, i.what))

    def line(self, key: Key) -> list[tuple[float, Quantity]]:
        """One figure over time; sweeps that have it not are left out."""
        return [(s.seconds, value) for s in self.samples for k, value in figures(s.record) if k == key]

    def _all(self) -> Iterator[tuple[Key, list[Quantity]]]:
        lines: dict[Key, list[Quantity]] = {}
        for sample in self.samples:
            for key, value in figures(sample.record):
                lines.setdefault(key, []).append(value)
        yield from lines.items()

    def drifts(self) -> list[Drift]:
        """Figures that moved by more than their uncertainties, most first.

        Both ends come from one fixture, so that what is common to both cancels and the test is a careful one: a figure
        listed has surely moved, one that is not may have moved by less.
        """
        found = []
        for key, values in self._all():
            least, most = min(values, key=lambda q: q.value), max(values, key=lambda q: q.value)
            both = hypot(least.u, most.u)
            if len(values) > 1 and most.value - least.value > both > 0:
                found.append(Drift(key, values[0], values[-1], least.value, most.value, (most.value - least.value) / both))
        return sorted(found, key=lambda d: (-d.times, d.key))


def span(seconds: float) -> str:
    """A time as one says it: 40 s, 12 min."""
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
