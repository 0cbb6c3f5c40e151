"""A soak as one page: what came and went, and a plot of each figure that moved.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from math import floor, log10

from sagbench.judge.character import Key
from sagbench.log.history import in_words
from sagbench.record import Quantity
from sagbench.report.figures import amount, figure, prefix_for
from sagbench.report.markup import Markup, el, join, trusted
from sagbench.soak.course import Course, Drift, span
from sagbench.soak.run import Ended

POLICY = "default-src 'none'; style-src 'unsafe-inline'"
PLOTS = 12  # figures plotted, those that moved most
WIDTH, HEIGHT, LEFT, BOTTOM = 640.0, 160.0, 80.0, 24.0
STYLE = """
body { font: 14px/1.4 system-ui, sans-serif; margin: 1.5rem; color: #111; background: #fff; max-width: 60rem }
table { border-collapse: collapse } th, td { border-bottom: 1px solid #bbb; padding: .2rem .6rem; text-align: left }
figure { margin: 1rem 0; break-inside: avoid } svg { max-width: 100%; height: auto }
.band { fill: #ccd } .line { fill: none; stroke: #114; stroke-width: 1.5 } .axis { stroke: #888 } text { font-size: 11px; fill: #111 }
"""


def to_html(course: Course, ended: Ended) -> str:
    """The whole page; nothing fetched, no script.  The course has a sample at least."""
    first = course.samples[0].record
    title = f"{first.part}: {len(course.samples)} sweeps in {span(course.samples[-1].seconds)}"
    head = el("head", el("meta", charset="utf-8"), el("meta", http_equiv="Content-Security-Policy", content=POLICY),
              el("meta", name="viewport", content="width=device-width, initial-scale=1"), el("title", title), el("style", trusted(STYLE)))  # fmt: skip
    drifts = course.drifts()
    body = el("body", el("h1", title), el("p", f"Worst of all sweeps: {course.worst.value}. Ended because {ended.value}."),
              _faults(course), el("h2", "Figures that moved by more than their uncertainties"),
              _table(drifts) if drifts else el("p", "None."), *(_plot(course, drift) for drift in drifts[:PLOTS]))  # fmt: skip
    return "<!DOCTYPE html>\n" + el("html", head, body, lang="en") + "\n"


def _faults(course: Course) -> Markup:
    found = course.intermittents()
    rows = [el("tr", el("td", i.what), el("td", f"{i.times} of {i.of}"), el("td", f"{i.first_s:.0f} s")) for i in found]
    heads = el("tr", *(el("th", name, scope="col") for name in ("fault", "in so many sweeps", "first at")))
    return join(el("h2", "Faults that came and went"), el("table", el("thead", heads), el("tbody", *rows)) if rows else el("p", "None."))


def _table(drifts: list[Drift]) -> Markup:
    rows = [el("tr", el("td", in_words(d.key)), el("td", figure(d.first)), el("td", figure(d.last)),
               el("td", f"{_short(d.least, d.first)} to {_short(d.most, d.first)}")) for d in drifts]  # fmt: skip
    heads = el("tr", *(el("th", name, scope="col") for name in ("figure", "first", "last", "from, to")))
    return el("table", el("thead", heads), el("tbody", *rows))


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

    band = " ".join([at(s, q.value + q.u) for s, q in points] + [at(s, q.value - q.u) for s, q in reversed(points)])
    line = " ".join(at(s, q.value) for s, q in points)
    marks: list[Markup] = []
    for value in _round_values(low, high):
        y = at(0, value).split(",")[1]
        marks += [el("path", d=f"M{LEFT} {y}H{WIDTH - 10}", class_="axis", stroke_opacity=0.4),
                  el("text", _short(value, drift.first), x=LEFT - 6, y=y, text_anchor="end", dominant_baseline="middle")]  # fmt: skip
    ends = [el("text", "0 s", x=LEFT, y=HEIGHT - 6), el("text", f"{last:.0f} s", x=WIDTH - 10, y=HEIGHT - 6, text_anchor="end")]
    svg = el("svg", el("polygon", points=band, class_="band"), *marks, el("polyline", points=line, class_="line"), *ends,
             viewBox=f"0 0 {WIDTH:.0f} {HEIGHT:.0f}", role="img", aria_label=f"{in_words(drift.key)} over time")  # fmt: skip
    return el("figure", el("figcaption", _title(drift.key)), svg)


def _title(key: Key) -> str:
    return f"{in_words(key)}; band: uncertainty, k = 2"


def _round_values(low: float, high: float) -> list[float]:
    """Three to six round values between."""
    raw = (high - low) / 4
    step = 10.0 ** floor(log10(raw))
    step *= next(m for m in (1, 2, 5, 10) if m * step >= raw)
    first = floor(low / step) + 1
    return [n * step for n in range(first, first + 8) if n * step <= high]
