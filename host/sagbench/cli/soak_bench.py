"""What `sagbench soak` does: the loop of sagbench.soak at a real fixture, with a face, the log and a page.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import sys
import textwrap
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from sagbench.cli import live, output, sweep as one_sweep
from sagbench.cli.fixture_calibration import options_for
from sagbench.cli.typed import Typed
from sagbench.device import Device
from sagbench.errors import EXIT_INTERRUPTED, SagbenchError
from sagbench.log.database import open_log
from sagbench.log.history import in_words
from sagbench.parts.model import Part
from sagbench.record import SweepRecord
from sagbench.report.figures import amount, best_prefix, figure
from sagbench.report.safe import visible
from sagbench.soak.course import Course, Drift, span
from sagbench.soak.page import to_html
from sagbench.soak.run import Bounds, Ended, soak
from sagbench.soak.view import Standing, picture
from sagbench.sweep import sweep

MOVED_SHOWN = 12


class Face(Protocol):
    """What shows the course and hears that it is to end."""

    def told(self, course: Course) -> None:
        """A sweep more."""

    def stop(self) -> bool:
        """True if the user has ended it."""


@dataclass
class Quiet:
    """Shows nothing; Ctrl-C ends it."""

    def told(self, course: Course) -> None:
        """Nothing."""

    def stop(self) -> bool:
        """Never."""
        return False


@dataclass
class Lines:
    """A line a sweep; what is typed marks the moment, `end` ends it."""

    course: Course
    typed: Typed | None  # None: nobody types
    begun: float = field(default_factory=time.monotonic)

    def told(self, course: Course) -> None:
        """Seconds, verdict, what is wrong."""
        sample = course.samples[-1]
        output.write("-", visible(f"{sample.seconds:8.1f} s  {sample.verdict.value:<16} {sample.why}"[:79].rstrip()) + "\n")

    def stop(self) -> bool:
        """Takes what was typed meanwhile."""
        while self.typed is not None:
            came, line = self.typed.take()
            if not came:
                return False
            if line is None:
                self.typed = None
            elif line == "end":
                return True
            else:
                self.course.mark(time.monotonic() - self.begun, line)
        return False


@dataclass
class FullScreen:
    """State and keys of the full screen; `sagbench.cli.live` draws it."""

    course: Course
    standing: Standing
    small: bool
    ended: bool = False
    begun: float = field(default_factory=time.monotonic)

    KEYS = {"m": live.Key("mark this moment", "What was done: tapped, cold spray"),
            "up": live.Key("figure before"), "down": live.Key("next figure"), "q": live.Key("end")}

    def told(self, course: Course) -> None:
        """The screen looks by itself."""

    def stop(self) -> bool:
        """True after q."""
        return self.ended

    def pressed(self, key: str, text: str) -> None:
        """A key, with what was typed after it."""
        if key == "m":
            at = time.monotonic() - self.begun
            self.course.mark(at, text)
            self.standing.said = f"Marked at {at:.0f} s: {text or 'a key'}."
        elif key in ("up", "down"):
            self.standing.chosen = max(self.standing.chosen + (1 if key == "down" else -1), 0)
        else:
            self.ended, self.standing.said = True, "It ends after this sweep."

    def picture(self, width: int, height: int) -> list[str]:
        """Lines for a screen of that size."""
        return picture(self.course, self.standing, width, height, self.small)


def measure_soak(arguments: argparse.Namespace, part: Part, full: bool) -> int:
    """The exit code is that of the worst verdict.  Raises what the fixture raises, after what there is has been told and kept."""
    course, bounds = Course(), Bounds(arguments.length, arguments.until_fault, arguments.until_drift)
    ended: Ended | None = None
    with Device.connect(arguments.port) as device:
        how = options_for(device.info, without=arguments.no_calibration)
        keep = _Keeper(part) if arguments.log else None

        def measure() -> SweepRecord:
            return one_sweep.judged(sweep(device, part, marking=arguments.part, options=how), [], arguments.guard)

        def go(face: Face) -> None:
            nonlocal ended

            def told(course: Course) -> None:
                if keep:
                    keep.changed(course)
                face.told(course)

            ended = soak(measure, time.monotonic, time.sleep, bounds, arguments.every, told, face.stop, course)[1]

        try:
            _with_face(arguments, course, part, full, go)
        except KeyboardInterrupt:
            device.halt()
            ended = Ended.USER
        finally:
            if course.samples:
                _deliver(arguments, course, ended or Ended.TROUBLE, keep)
    if not course.samples:
        print("sagbench: interrupted before the first sweep was done.", file=sys.stderr)
        return EXIT_INTERRUPTED
    return output.EXIT_OF[course.worst]


def _with_face(arguments: argparse.Namespace, course: Course, part: Part, full: bool, go: Callable[[Face], None]) -> None:
    if not full:
        go(Quiet() if arguments.quiet else Lines(course, Typed(sys.stdin) if sys.stdin.isatty() else None))
        return
    face = FullScreen(course, Standing(f"{part.name}  {part.title}", arguments.length), arguments.small)
    live.show(live.Work(lambda: go(face)), face.picture, face.KEYS, face.pressed)


class _Keeper:
    """Puts into the log the first sweep, each whose verdict is another than the one before it, and the last."""

    def __init__(self, part: Part) -> None:
        self._definition = one_sweep.definition(part)
        self._kept = 0  # samples that there were when the last one was kept

    def changed(self, course: Course) -> None:
        """After each sweep."""
        if len(course.samples) < 2 or course.samples[-1].verdict is not course.samples[-2].verdict:
            self._add(course)

    def last(self, course: Course) -> None:
        """At the end."""
        if self._kept < len(course.samples):
            self._add(course)

    def _add(self, course: Course) -> None:
        assert course.last is not None
        with open_log() as log:
            log.add(course.last, library=self._definition)
        self._kept = len(course.samples)


def _deliver(arguments: argparse.Namespace, course: Course, ended: Ended, keep: _Keeper | None) -> None:
    """Summary, page and log, whatever became of the others."""
    try:
        if arguments.html != output.STDOUT:
            _summary(course, ended.value)
        if arguments.html:
            output.write(arguments.html, to_html(course, ended))
    finally:
        if keep:
            try:
                keep.last(course)
            except SagbenchError as error:
                print(f"sagbench: not kept in the log. {visible(str(error))}", file=sys.stderr)


def _moved(drift: Drift) -> str:
    """A figure that moved: from where to where, and between what where it was farther away in the meantime."""
    unit, prefix = drift.first.unit, best_prefix(drift.first)
    ends = sorted((drift.first.value, drift.last.value))
    beyond = max(ends[0] - drift.least, drift.most - ends[1]) > drift.first.u
    between = f", between {amount(drift.least, unit, prefix)} and {amount(drift.most, unit, prefix)}" if beyond else ""
    return f"moved: {in_words(drift.key)}: {figure(drift.first)} -> {figure(drift.last)}{between}"


def _summary(course: Course, ended: str) -> None:
    count, drifts = len(course.samples), course.drifts()
    print(f"{count} sweep{'s' * (count > 1)} in {span(course.samples[-1].seconds)}; ended because {ended}. Worst: {course.worst.value}.")
    for seconds, what in course.marks:
        print(visible(f"  marked at {seconds:.0f} s: {what or 'a key'}"))
    for fault in course.intermittents():
        print(visible(f"  came and went: {fault.what}, in {fault.times} of {fault.of} sweeps, first at {fault.first_s:.0f} s"))
    for drift in drifts[:MOVED_SHOWN]:
        for line in textwrap.wrap(_moved(drift), 78, initial_indent="  ", subsequent_indent="      "):
            print(line)
    if len(drifts) > MOVED_SHOWN:
        print(f"  and {len(drifts) - MOVED_SHOWN} more; --html FILE has them all")
    if not course.intermittents() and not drifts:
        print("  nothing came and went, no figure has moved by more than its uncertainty")
