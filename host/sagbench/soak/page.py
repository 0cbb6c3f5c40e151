"""A soak as one page: what came and went, and a plot of each figure that moved.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.judge.character import Key
from sagbench.log.history import in_words
from sagbench.record import Quantity
from sagbench.report import frame
from sagbench.report.figures import amount, figure, prefix_for
from sagbench.report.markup import Markup, el
from sagbench.soak.course import Course, Drift, span
from sagbench.soak.run import Ended

PLOTS = 12  # figures plotted, those that moved most
WIDTH, HEIGHT, LEFT, BOTTOM = 640.0, 160.0, 80.0, 24.0


def to_html(course: Course, ended: Ended) -> str:
    """The whole page; nothing fetched, no script.  The course has a sample at least."""
    first = course.first
    assert first is not None
    told = f"{len(course.samples)} sweeps in {span(course.samples[-1].seconds)}"
    drifts = course.drifts()
    facts = [("worst of all sweeps", course.worst.value), ("ended because", ended.value), ("begun", first.started[:16].replace("T", " ")),
             *((f"marked at {seconds:.0f} s", what or "a key") for seconds, what in course.marks)]  # fmt: skip
    return frame.whole(
        f"{first.part}: {told}", frame.header(first.part, told, facts), el("main", _faults(course), _moved(drifts), *(_plot(course, drift) for drift in drifts[:PLOTS]))
    )


def _faults(course: Course) -> Markup:
    found = course.intermittents()
    rows = [el("tr", el("td", i.what), el("td", f"{i.times} of {i.of}"), el("td", f"{i.first_s:.0f} s")) for i in found]
    told = frame.table("", ("fault", "in so many sweeps", "first at"), rows) if rows else el("p", "None.")
    return frame.section("Faults that came and went", told)


def _moved(drifts: list[Drift]) -> Markup:
    rows = [el("tr", el("td", in_words(d.key)), el("td", figure(d.first)), el("td", figure(d.last)),
               el("td", f"{_short(d.least, d.first)} to {_short(d.most, d.first)}")) for d in drifts]  # fmt: skip
    told = frame.table("", ("figure", "first", "last", "from, to"), rows) if rows else el("p", "None.")
    return frame.section("Figures that moved by more than their uncertainties", told)


def _short(value: float, like: Quantity) -> str:
    return amount(value, like.unit, prefix_for(like.value, like.unit))


def _plot(course: Course, drift: Drift) -> Markup:
    """Value over time with its uncertainty as a band; round figures at the axis."""
    points = course.line(drift.key)
    low, high = min(q.value - q.u for _, q in points), max(q.value + q.u for _, q in points)
    last = max(points[-1][0], 1e-9)

    def at(seconds: float, value: float) -> str:
        x = LEFT + seconds / last * (WIDTH - LEFT - 10)
        return f"{x:.1f},{6 + (high - value) / (high - low) * (HEIGHT - BOTTOM - 12):.1f}"

    lines: list[Markup] = []
    marks: list[Markup] = []
    for run in _runs(points, [sample.seconds for sample in course.samples]):
        band = " ".join([at(s, q.value + q.u) for s, q in run] + [at(s, q.value - q.u) for s, q in reversed(run)])
        marks.append(el("polygon", points=band, class_="band"))
        lines.append(el("polyline", points=" ".join(at(s, q.value) for s, q in run), class_="line"))
    for value in frame.round_values(low, high):
        y = at(0, value).split(",")[1]
        marks += [el("path", d=f"M{LEFT} {y}H{WIDTH - 10}", class_="axis", stroke_opacity=0.4),
                  el("text", _short(value, drift.first), x=LEFT - 6, y=y, text_anchor="end", dominant_baseline="middle")]  # fmt: skip
    for seconds, _ in course.marks:
        if seconds <= last:
            x = at(seconds, high).split(",")[0]
            marks.append(el("path", d=f"M{x} 6V{HEIGHT - BOTTOM - 6:.0f}", class_="mark"))
    ends = [el("text", "0 s", x=LEFT, y=HEIGHT - 6), el("text", f"{last:.0f} s", x=WIDTH - 10, y=HEIGHT - 6, text_anchor="end")]
    svg = el("svg", *marks, *lines, *ends,
             el("title", f"{in_words(drift.key)} over time"), viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}", role="img", class_="strip")  # fmt: skip
    return el("figure", el("figcaption", _title(drift.key)), svg)


def _runs(points: list[tuple[float, Quantity]], sweeps: list[float]) -> list[list[tuple[float, Quantity]]]:
    """The points in runs of sweeps that all have the figure: where one has it not, there is no line."""
    number = {seconds: n for n, seconds in enumerate(sweeps)}
    found: list[list[tuple[float, Quantity]]] = []
    for point in points:
        if not found or number[point[0]] != number[found[-1][-1][0]] + 1:
            found.append([])
        found[-1].append(point)
    return found


def _title(key: Key) -> str:
    return f"{in_words(key)}; band: uncertainty, k = 2"
