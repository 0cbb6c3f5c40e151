"""A pass under construction: steps for the device, and for each reading they give a mark that says what it is.

    >>> recipe = Recipe()
    >>> recipe.read(Source.VREF, 16)
    >>> [mark.what for mark in recipe.marks]
    ['vref']

After the pass `pair` joins the marks with the sums that came back.
The builder follows what the device will do (converter reference, load selector), so that a mark is complete.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from sagbench.plan.fixture import LoadPoint
from sagbench.plan.seat import mask, of_mask
from sagbench.wire import steps
from sagbench.wire.layout import Step as WireStep
from sagbench.wire.numbers import LineLevel, Reference, Source


CONVERSION_US = 104  # 13 clocks of 125 kHz, ATmega2560 data sheet


@dataclass(frozen=True)
class Mark:
    """What one reading is."""

    what: str  # "position", "icc", "vref", "vdac", "verify"; no codes: "lines", "length", "count"
    position: int = 0
    repeats: int = 1
    reference: Reference = Reference.AVCC
    selector: int = 0  # channel of the load selector
    up: bool = False  # the selector or the load pulls to 5 V
    lines: int = 0  # lines of the position that load it
    point: str = ""  # name of the load point
    step: int = -1  # index in the part's sequence
    label: str = ""
    under: int = 0  # "also" readings: the position that is loaded meanwhile


@dataclass(frozen=True)
class Reading:
    """A mark and what came back: the sum of its conversions, or None if it was not measured."""

    mark: Mark
    total: int | None

    @property
    def code(self) -> float | None:
        """Mean code."""
        return None if self.total is None else self.total / self.mark.repeats


class Recipe:
    """Steps and marks of one pass, in order."""

    def __init__(self) -> None:
        self.steps: list[WireStep] = []
        self.marks: list[Mark] = []
        self._reference = Reference.AVCC
        self._known = False  # the device's reference is not known at the start of a pass
        self._selector = 0
        self._open_known = False  # what the last pass left tied to K is not known
        self._up = False
        self._lines = (-1, -1)  # M and S that drive; unknown at the start
        self.at_least_us = 0  # by conversions and waits alone

    def add(self, step: WireStep, *marks: Mark) -> None:
        """Any step, with the marks of its readings."""
        if step.readings != len(marks):
            raise ValueError(f"a step gives {step.readings} readings, {len(marks)} marks given")
        self.steps.append(step)
        self.marks.extend(m if m.reference == self._reference else replace(m, reference=self._reference) for m in marks)
        converts = step.name in ("read", "scan", "load", "load_scan")
        self.at_least_us += sum(m.repeats for m in marks) * CONVERSION_US if converts else step.arguments.get("us", 0)

    def reference(self, reference: Reference) -> None:
        """Change the converter's reference; costs some 20 ms if it does change."""
        if not self._known or reference != self._reference:
            self.steps.append(steps.reference(reference))
        self._reference, self._known = reference, True

    def read(self, source: Source, repeats: int, *, label: str = "") -> None:
        """One reading of a converter channel other than node K."""
        self.add(steps.read(source, repeats), Mark(source.name.lower(), 0, repeats, self._reference, label=label))

    def sense(self, position: int, selector: int = 0, ld: LineLevel = LineLevel.OFF) -> None:
        """Tie K to a position and the load selector to K."""
        self._selector, self._up = selector, ld == LineLevel.HIGH
        self._open_known = True
        self.add(steps.sense(position, selector, ld))

    def selector_open(self) -> None:
        """K carries no load, whatever it is tied to; costs nothing if that is so already."""
        if self._selector != 0 or not self._open_known:
            self.sense(0)

    def read_position(
        self,
        position: int,
        repeats: int,
        *,
        step: int = -1,
        label: str = "",
        selector: int = 0,
        ld: LineLevel = LineLevel.OFF,
    ) -> None:
        """Tie K to a position and read it."""
        self.sense(position, selector, ld)
        self.add(
            steps.read(Source.K, repeats),
            Mark("position", position, repeats, self._reference, selector, self._up, step=step, label=label),
        )

    def scan(self, positions: Iterable[int], repeats: int = 1, *, step: int = -1, label: str = "") -> None:
        """One reading a position, ascending, load selector as it is. Nothing happens for no positions."""
        bits = mask(positions)
        if bits:
            self.add(
                steps.scan(bits, repeats),
                *(
                    Mark("position", p, repeats, self._reference, self._selector, self._up, step=step, label=label)
                    for p in of_mask(bits)
                ),
            )

    def load(
        self,
        position: int,
        point: LoadPoint,
        up: bool,
        *,
        also: int = 0,
        repeats: int = 1,
        settle_us: int = 20,
        step: int = -1,
        label: str = "",
    ) -> None:
        """One output at one load point."""
        reference, name = self._reference, point.name
        marks = [Mark("position", position, repeats, reference, point.load, up, point.lines, name, step, label)]
        if also:
            marks.append(Mark("position", also, repeats, reference, 0, up, 0, name, step, label, position))
        self.add(steps.load(position, point.lines, point.load, int(up), also, repeats, settle_us), *marks)

    def load_scan(
        self,
        ups: Mapping[int, bool],
        point: LoadPoint,
        *,
        repeats: int = 1,
        settle_us: int = 20,
        step: int = -1,
        label: str = "",
    ) -> None:
        """Outputs at these positions loaded one after the other at one point, up or down as `ups` says."""
        if ups:
            reference, selector, lines, name = self._reference, point.load, point.lines, point.name
            marks = (
                Mark("position", p, repeats, reference, selector, ups[p], lines, name, step, label) for p in sorted(ups)
            )
            high = mask(p for p, up in ups.items() if up)
            self.add(steps.load_scan(mask(ups), high, point.lines, point.load, repeats, settle_us), *marks)

    def drive(self, m_on: int, s_on: int, high: int) -> None:
        """Drive these lines; sends only new levels if the same lines drive already."""
        if (m_on, s_on) == self._lines:
            self.add(steps.levels(high & (m_on | s_on)))
        else:
            self.add(steps.drive(m_on, high & m_on, s_on, high & s_on))
            self._lines = (m_on, s_on)

    def pin(self, position: int, lines: int, high: bool = False) -> None:
        """One position's lines. Put them back before the next `drive`, which does not see this."""
        self.add(steps.pin(position, lines, int(high)))

    def pulse(self, position: int, count: int) -> None:
        """A driven position to its other level and back, so many times."""
        self.add(steps.pulse(position, count))

    def lines_gone(self) -> None:
        """The device has switched lines off by itself (power, verify, idle): the next drive is sent whole."""
        self._lines = (-1, -1)

    def settle(self, us: int) -> None:
        """Wait."""
        while us > 0:
            self.add(steps.settle(min(us, 65535)))
            us -= 65535

    def verify(self, position: int) -> None:
        """See whether a position may be driven by S."""
        self._reference, self._known = Reference.AVCC, False
        self.add(steps.verify(position), Mark("verify", position, label="low"), Mark("verify", position, label="high"))
        self.lines_gone()

    def power_on(self, supplies: Sequence[int], ground: int, limit: int, *, label: str = "power on") -> None:
        """Close the switches; the reading is ICC, 16 conversions, against avcc or, with ground 0, the reference that is set."""
        if ground:
            self._reference, self._known = Reference.AVCC, False
        elif not self._known:
            self.reference(Reference.AVCC)
        second = supplies[1] if len(supplies) > 1 else 0
        self.add(steps.power_on(supplies[0], second, ground, limit), Mark("icc", repeats=16, label=label))
        self.lines_gone()

    def power_off(self) -> None:
        """Everything off, socket discharged."""
        self.add(steps.power_off())
        self.lines_gone()

    def idle(self) -> None:
        """All lines off; power stays."""
        self.add(steps.idle())
        self.lines_gone()

    def finish(self) -> Sequence[WireStep]:
        """The steps, `end` among them."""
        return [*self.steps, steps.end()]


@dataclass(frozen=True)
class Readings:
    """All readings of a pass, in order."""

    all: tuple[Reading, ...]

    def where(self, test: Callable[[Mark], bool]) -> tuple[Reading, ...]:
        """Those whose mark passes the test."""
        return tuple(r for r in self.all if test(r.mark))

    def labelled(self, label: str) -> tuple[Reading, ...]:
        """Those with this label."""
        return self._by_label.get(label, ())

    @cached_property
    def _by_label(self) -> dict[str, tuple[Reading, ...]]:
        found: dict[str, list[Reading]] = {}
        for reading in self.all:
            found.setdefault(reading.mark.label, []).append(reading)
        return {label: tuple(readings) for label, readings in found.items()}

    def __add__(self, other: Readings) -> Readings:
        return Readings(self.all + other.all)


def pair(marks: Sequence[Mark], sums: Sequence[int | None]) -> Readings:
    """Join marks and sums; readings that never came (the pass ended early) are None."""
    padded = list(sums) + [None] * (len(marks) - len(sums))
    return Readings(tuple(Reading(m, s) for m, s in zip(marks, padded, strict=False)))
