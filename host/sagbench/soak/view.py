"""A soak under way as a picture of 80 x 24 in plain characters: verdict, what came and went, and one figure over time.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from sagbench.log.history import in_words
from sagbench.lot.loud import letters
from sagbench.lot.view import LETTERS
from sagbench.record import Quantity
from sagbench.report.figures import amount, prefix_for, short
from sagbench.report.safe import clipped
from sagbench.soak.course import Course, Drift, span

CAME_AND_WENT = 3  # lines
PLOT = 7  # lines
LABEL = 11  # columns of the plot's axis


@dataclass
class Standing:
    """What stands on the screen. `chosen`: which of the figures that moved is plotted."""

    title: str
    seconds: float  # the whole length asked for
    said: str = ""
    chosen: int = 0


def picture(course: Course, standing: Standing, width: int, height: int, small: bool = False) -> list[str]:
    """Lines for a screen of that size."""
    count = len(course.samples)
    head = [standing.title, f"no sweep is done yet of {span(standing.seconds)}"]
    if not count:
        lines = [*head, "", *([] if small else letters("wait", width))]
        return _fitted(lines, standing.said, width, height)
    last = course.samples[-1]
    head[1] = f"{count} sweep{'s' * (count > 1)} in {span(last.seconds)} of {span(standing.seconds)}; worst so far: {course.worst.value}"
    big = [f"now: {last.verdict.value.upper()}"] if small else letters(last.verdict.value, width)
    lines = [*head, *([] if small else [""]), *big, *([""] * (0 if small else LETTERS - len(big))), last.why, ""]
    came = [f"came and went: {i.what}, in {i.times} of {i.of} sweeps, first at {i.first_s:.0f} s" for i in course.intermittents()]
    lines += came[:CAME_AND_WENT] or ["nothing came and went"]
    drifts = course.drifts()
    if not drifts:
        lines.append("no figure has moved by more than its uncertainty")
    if shown := drifts or course.drifts(0.0)[:1]:
        which = standing.chosen % len(shown)
        told = f"{which + 1} of {len(drifts)} figures that moved: " if drifts else "moved most: "
        lines += plot(course, shown[which], width, max(min(PLOT, height - len(lines) - 2), 3), told)
    return _fitted(lines, standing.said, width, height)


def _fitted(lines: list[str], said: str, width: int, height: int) -> list[str]:
    shown = lines[: height - 1]
    return [clipped(line, width) for line in [*shown, *[""] * (height - 1 - len(shown)), said]]


def plot(course: Course, drift: Drift, width: int, height: int, head: str = "") -> list[str]:
    """A figure over time: * the value, | a moment that was marked; the axis says the highest and the lowest."""
    points = [(s, q.value) for s, q in course.line(drift.key) if isfinite(q.value)]
    columns = width - LABEL - 1
    last = max(points[-1][0], 1e-9)
    rows = [[" "] * columns for _ in range(height)]

    def column(seconds: float) -> int:
        return min(int(seconds / last * (columns - 1)), columns - 1)

    for seconds, _ in course.marks:
        if seconds <= last:
            for row in rows:
                row[column(seconds)] = "|"
    for seconds, value in points:
        rows[round((drift.most - value) / (drift.most - drift.least) * (height - 1))][column(seconds)] = "*"
    at = {0: _short(drift.most, drift.first), height - 1: _short(drift.least, drift.first)}
    caption = f"{head}{in_words(drift.key)}: {short(drift.first)} -> {short(drift.last)}"
    return [caption, *(f"{at.get(n, ''):>{LABEL}} {''.join(row)}".rstrip() for n, row in enumerate(rows))]


def _short(value: float, like: Quantity) -> str:
    return amount(value, like.unit, prefix_for(like.value, like.unit))
