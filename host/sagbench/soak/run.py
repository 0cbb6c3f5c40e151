"""The loop of a soak, and when it ends.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum

from sagbench.record import SweepRecord, Verdict
from sagbench.soak.course import Course

REST_S = 0.25  # at most so long before a key that ends it is heard


class Ended(Enum):
    """Why a soak is over."""

    TIME = "its time is over"
    FAULT = "a fault came up"
    DRIFT = "a figure has moved farther than allowed"
    USER = "the user ended it"
    TROUBLE = "the fixture or the link to it failed"


@dataclass(frozen=True)
class Bounds:
    """When to stop: seconds in all, at the first verdict that is not the first one's, at a share of any figure's first value."""

    seconds: float
    at_fault: bool = False
    drift: float | None = None  # 0.1: 10 %


def soak(
    measure: Callable[[], SweepRecord],
    now: Callable[[], float],
    rest: Callable[[float], None],
    bounds: Bounds,
    every: float,
    told: Callable[[Course], None],
    stop: Callable[[], bool] = lambda: False,
    course: Course | None = None,
) -> tuple[Course, Ended]:
    """Measure until a bound is reached; at least once, unless the user ends it before.  KeyboardInterrupt, or `stop`, ends it and keeps what there is.

    measure: one sweep; now: seconds of any clock; rest: wait so many seconds; every: from the beginning of one sweep to that of
    the next, or as long as a sweep takes.  told is called after each; stop is asked then and REST_S apart in between.
    course: where to, if somebody looks on.  Raises what `measure` raises.
    """
    begun = now()
    course = Course() if course is None else course
    try:
        while True:
            start = now()
            record = measure()
            cut_off = record.partial.startswith("interrupted")
            if cut_off and record.verdict is Verdict.INCOMPLETE:  # the user's doing, and none of the chip's: it is not counted
                return course, Ended.USER
            course.add(start - begun, record)
            told(course)
            if stop() or cut_off:
                return course, Ended.USER
            if bounds.at_fault and _turned(course):
                return course, Ended.FAULT
            if bounds.drift is not None and any(abs(d.most - d.least) > bounds.drift * abs(d.first.value) for d in course.drifts()):
                return course, Ended.DRIFT
            if now() + max(0.0, start + every - now()) - begun >= bounds.seconds:
                return course, Ended.TIME
            while (left := start + every - now()) > 0:
                rest(min(left, REST_S))
                if stop():
                    return course, Ended.USER
    except KeyboardInterrupt:
        return course, Ended.USER


def _turned(course: Course) -> bool:
    """True if the last sweep is worse than the first."""
    first, last = course.samples[0], course.samples[-1]
    return last.verdict is Verdict.FAILED and (first.verdict is not Verdict.FAILED or last.faults > first.faults)
