"""The course of a soak: sweeps in time, faults that came and went, figures that moved.

A soak may last for hours, some 50 sweeps a minute: of each sweep only its verdict, its faults and its figures are kept,
of the whole records the first and the last.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from math import hypot, inf, log, pi, sqrt

from sagbench.judge.character import Key, figures, place
from sagbench.record import Outcome, Quantity, SweepRecord, Verdict

ENOUGH = 10  # sweeps from which on differences from sweep to sweep tell what is chance: a jump among fewer would pass for it
WORSE = (Verdict.SOUND, Verdict.TIRED, Verdict.UNSURE, Verdict.INCOMPLETE, Verdict.FAILED)  # worst last


@dataclass(frozen=True)
class Sample:
    """One sweep of the course. Seconds are since the course began."""

    seconds: float
    verdict: Verdict
    faults: frozenset[str]  # what was surely wrong: the quantity and the pin, without figures
    why: str  # what weighs most, "" if nothing is wrong


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
class _Line:
    """One figure over time: seconds, value and U of each sweep that has it."""

    unit: str
    numbers: array[float] = field(default_factory=lambda: array("d"))
    least: Quantity | None = None
    most: Quantity | None = None
    hops: float = 0.0  # distances from sweep to sweep, added up

    def add(self, seconds: float, value: Quantity) -> None:
        self.hops += abs(value.value - self.numbers[-2]) if self.numbers else 0.0
        self.numbers.extend((seconds, value.value, value.u))
        self.least = value if self.least is None or value.value < self.least.value else self.least
        self.most = value if self.most is None or value.value > self.most.value else self.most

    @property
    def chance(self) -> float:
        """By how much (one standard deviation) it is another from sweep to sweep: the mean difference of two draws of a normal
        distribution is 2 / sqrt(pi) of its own."""
        return self.hops / max(len(self.numbers) // 3 - 1, 1) * sqrt(pi) / 2

    def points(self) -> list[tuple[float, Quantity]]:
        n = self.numbers
        return [(n[i], Quantity(n[i + 1], n[i + 2], self.unit)) for i in range(0, len(n), 3)]


@dataclass
class Course:
    """Sweeps so far, oldest first."""

    samples: list[Sample] = field(default_factory=list)
    marks: list[tuple[float, str]] = field(default_factory=list)  # moments that the user marked: seconds, what was done
    first: SweepRecord | None = None
    last: SweepRecord | None = None
    _lines: dict[Key, _Line] = field(default_factory=dict)
    _seen: dict[str, tuple[int, float]] = field(default_factory=dict)  # fault -> in how many sweeps, seconds of the first

    def add(self, seconds: float, record: SweepRecord) -> None:
        """One more sweep."""
        self.first, self.last = self.first or record, record
        sample = Sample(seconds, record.verdict, faults(record), record.reasons[0].sentence if record.reasons else record.partial and record.advice)
        self.samples.append(sample)
        for fault in sample.faults:
            times, at = self._seen.get(fault, (0, seconds))
            self._seen[fault] = times + 1, at
        for key, value in figures(record):
            self._lines.setdefault(place(key), _Line(value.unit)).add(seconds, value)

    def mark(self, seconds: float, what: str) -> None:
        """Something was done to the chip then."""
        self.marks.append((seconds, what))

    @property
    def worst(self) -> Verdict:
        """The worst verdict of all sweeps; not finished if there are none."""
        return max((s.verdict for s in self.samples), key=WORSE.index, default=Verdict.INCOMPLETE)

    def intermittents(self) -> list[Intermittent]:
        """Faults that some sweeps have and others have not, the rarest last."""
        count = len(self.samples)
        found = [Intermittent(what, times, count, at) for what, (times, at) in self._seen.items() if times < count]
        return sorted(found, key=lambda i: (-i.times, i.what))

    def line(self, key: Key) -> list[tuple[float, Quantity]]:
        """One figure over time; sweeps that have it not are left out."""
        return self._lines[key].points() if key in self._lines else []

    def drifts(self, least: float = 1.0) -> list[Drift]:
        """Figures that moved by more than `least` times their uncertainties, and farther than chance takes so many, most first.

        Both ends come from one fixture, so that what is common to both cancels and the test is a careful one: a figure
        listed has surely moved, one that is not may have moved by less.
        """
        return sorted(self._moved(self._lines.items(), least), key=lambda d: (-d.times, d.key))

    def _moved(self, lines: Iterable[tuple[Key, _Line]], least: float) -> Iterable[Drift]:
        for key, line in lines:
            count = len(line.numbers) // 3
            if line.least is None or line.most is None or count < 2:
                continue
            both, way = hypot(line.least.u, line.most.u), line.most.value - line.least.value
            # Of N draws the farthest lies some sqrt(2 ln N) standard deviations from the middle, at either side. Were U (k = 2) all chance:
            farthest = sqrt(log(count * len(self._lines)))
            by_u, by_hops = farthest * both, farthest * 2 * sqrt(2) * line.chance if count >= ENOUGH else inf
            if both > 0 and way > least * both and (not least or way > min(by_u, by_hops)):
                n, unit = line.numbers, line.unit
                times = way / both
                yield Drift(key, Quantity(n[1], n[2], unit), Quantity(n[-2], n[-1], unit), line.least.value, line.most.value, times)


def faults(record: SweepRecord) -> frozenset[str]:
    """What is surely wrong with a chip: the quantity and the pin, without figures."""
    every = [*record.supply, *(f for pin in record.pins for f in pin.findings), *record.reasons]
    beyond = {f"{f.quantity} of pin {f.pin}" if f.pin else f.quantity for f in every if f.outcome is Outcome.BEYOND}
    return frozenset(beyond | ({record.partial} if record.partial else set()))


def span(seconds: float) -> str:
    """A time as one says it: 40 s, 12 min."""
    return f"{seconds:.0f} s" if seconds < 120 else f"{seconds / 60:.0f} min"
