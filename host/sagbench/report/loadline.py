# SPDX-License-Identifier: MIT
"""The load line of an output: volts against current, sinking on one drawing and sourcing on another.

What a data book promises is one corner, (IOL, VOL max) or (IOH, VOH min).  An
output's volts move one way only as its current grows, so the promise also bars
the whole field beyond the corner's voltage up to its current; that field is
hatched, and a good line passes it by.  All outputs of a chip are drawn to the
same scale, and each over the others in grey, so that the odd one shows.
"""
from __future__ import annotations

import math

from sagbench.record import Finding, LoadReading, PinRecord, SweepRecord
from sagbench.report import figures, view
from sagbench.report.markup import Markup, el, join
from sagbench.report.scale import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, Scale, rated_points, readings_of

LABEL_WIDTH, LINE = 108.0, 14.0


def load_line(record: SweepRecord, pin: PinRecord, scale: Scale) -> Markup:
    """The drawing of one output in one direction."""
    others = [_line(other, scale, "other") for other in record.pins
              if other is not pin and readings_of(other, scale.direction)]
    lines = _window(*others, _line(pin, scale, "own"))
    return el("svg", el("title", _words(pin, scale)), _pattern(pin, scale), _grid(scale), _barred(pin, scale), lines,
              *(_point(r, scale) for r in readings_of(pin, scale.direction)),
              _corners(pin, scale), class_="plot", viewBox=f"0 0 {WIDTH:g} {HEIGHT:g}", role="img")


def _window(*content: Markup) -> Markup:
    """Content in the same places, cut off at the edges of the scale."""
    width, height = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM
    return el("svg", *content, x=LEFT, y=TOP, width=width, height=height, aria_hidden="true",
              viewBox=f"{LEFT:g} {TOP:g} {width:g} {height:g}")


def _grid(scale: Scale) -> Markup:
    base, lines = HEIGHT - BOTTOM, []
    for i in range(round(scale.most_amperes / scale.steps[0]) + 1):
        x = scale.x(i * scale.steps[0])
        lines += [el("path", d=f"M{x:.1f} {TOP:g}V{base:g}", class_="grid"),
                  el("text", figures.plain_number(i * scale.steps[0] * 1000), x=x, y=base + 14, text_anchor="middle")]
    for i in range(round((scale.volts[1] - scale.volts[0]) / scale.steps[1]) + 1):
        level = scale.volts[0] + i * scale.steps[1]
        y = scale.y(level)
        lines += [el("path", d=f"M{LEFT:g} {y:.1f}H{WIDTH - RIGHT:g}", class_="grid"),
                  el("text", f"{level:.1f}", x=LEFT - 6, y=y, text_anchor="end", dominant_baseline="central")]
    middle, half = (LEFT + WIDTH - RIGHT) / 2, (TOP + base) / 2
    what = "mA sunk, output low" if scale.direction == "sink" else "mA sourced, output high"
    return el("g", *lines, el("path", d=f"M{LEFT:g} {TOP:g}V{base:g}H{WIDTH - RIGHT:g}", class_="axis"),
              el("text", what, x=middle, y=HEIGHT - 6, text_anchor="middle", class_="axis-name"),
              el("text", "V", x=10, y=half, text_anchor="middle", class_="axis-name", dominant_baseline="central"),
              class_="scale")


def _pattern_id(pin: PinRecord, scale: Scale) -> str:
    return f"hatch-{pin.pin}-{scale.direction}"


def _pattern(pin: PinRecord, scale: Scale) -> Markup:
    return el("defs", el("pattern", el("path", d="M0 0V6", class_="hatch"), id=_pattern_id(pin, scale), width=5, height=6,
                         patternUnits="userSpaceOnUse", patternTransform="rotate(45)"))


def promised_amperes(finding: Finding) -> float:
    """The data book's current of the corner; where a record does not have it, the current it was found at."""
    if finding.rated_at is not None:
        return finding.rated_at
    return finding.at.value if finding.at else 0.0


def promised_text(finding: Finding) -> str:
    """That current in words, without its sign."""
    if finding.rated_at is None:
        return view.current_text(finding)
    return figures.amount(abs(finding.rated_at), "A", "m" if abs(finding.rated_at) >= 0.95e-4 else "µ")


def _barred(pin: PinRecord, scale: Scale) -> Markup | None:
    """The field where no good output's line goes: a stair if several currents are rated."""
    rated = rated_points(pin, scale.direction)
    if not rated:
        return None
    edge = scale.y(scale.volts[1] if scale.direction == "sink" else scale.volts[0])
    d = f"M{LEFT:g} {edge:.1f}"
    for finding in rated:
        assert finding.at is not None and finding.limit is not None
        d += f"V{scale.y_inside(finding.limit):.1f}H{scale.x(promised_amperes(finding)):.1f}"
    d += f"V{edge:.1f}Z"
    return join(el("path", d=d, fill=f"url(#{_pattern_id(pin, scale)})"), el("path", d=d, class_="barred"))


def _line(pin: PinRecord, scale: Scale, class_: str) -> Markup:
    places = [(scale.x(r.amperes.value), scale.y(r.volts.value)) for r in readings_of(pin, scale.direction)]
    bare = pin.low if scale.direction == "sink" else pin.high
    if bare and math.isfinite(bare.value) and places:
        places.insert(0, (LEFT, scale.y(bare.value)))
    return el("polyline", points=" ".join(f"{x:.1f},{y:.1f}" for x, y in places), class_=class_)


def _point(reading: LoadReading, scale: Scale) -> Markup:
    """A measured point with a bar for each uncertainty (k = 2); a triangle at the edge if it is beyond it."""
    amperes, volts = reading.amperes, reading.volts
    x, y = scale.x(amperes.value), scale.y_inside(volts.value)
    told = f"{reading.point}: {figures.figure(volts, '')} at {figures.figure(view.magnitude(amperes), 'm')}"
    if not scale.holds(volts.value):
        down = 6 if volts.value > scale.volts[1] else -6
        return el("g", el("title", told), el("path", d=f"M{x:.1f} {y:.1f}l5 {down * 1.4:.1f}h-10Z", class_="off-scale"))
    bars = ""
    if math.isfinite(volts.u) and volts.u > 0:
        above, below = scale.y_inside(volts.value + volts.u), scale.y_inside(volts.value - volts.u)
        bars += f"M{x:.1f} {below:.1f}V{above:.1f}M{x - 3:.1f} {above:.1f}h6M{x - 3:.1f} {below:.1f}h6"
    if math.isfinite(amperes.u) and amperes.u > 0:
        before = scale.x(max(abs(amperes.value) - amperes.u, 0.0))
        after = scale.x(min(abs(amperes.value) + amperes.u, scale.most_amperes))
        bars += f"M{before:.1f} {y:.1f}H{after:.1f}"
    return el("g", el("title", told), el("path", d=bars, class_="bar") if bars else None,
              el("circle", cx=x, cy=y, r=2.6, class_="point"))


def _corners(pin: PinRecord, scale: Scale) -> Markup:
    """Each promised corner with its margin, and what is promised in words."""
    rated = rated_points(pin, scale.direction)
    drawn: list[Markup] = []
    for finding in rated:
        assert finding.at is not None and finding.limit is not None
        x, y = scale.x(promised_amperes(finding)), scale.y_inside(finding.limit)
        drawn += _margin(finding, scale)
        drawn.append(el("path", d=f"M{x:.1f} {y - 4.5:.1f}L{x + 4.5:.1f} {y:.1f}L{x:.1f} {y + 4.5:.1f}L{x - 4.5:.1f} {y:.1f}Z",
                        class_="corner"))
    return el("g", *drawn, _promise(rated, scale))


def _promise(rated: list[Finding], scale: Scale) -> Markup:
    """What is promised, in words: right of the barred field where there is room, else within it."""
    sign = "≤" if scale.direction == "sink" else "≥"
    words = [f"{sign} {figures.amount(f.limit, 'V', '')} at {promised_text(f)}"
             for f in rated if f.limit is not None and f.at]
    if not words:
        return join()
    edge = max(scale.x(promised_amperes(f)) for f in rated if f.at)
    x = edge + 9 if edge + 9 + LABEL_WIDTH < WIDTH else LEFT + 8
    # Sinking, the field hangs from the top; sourcing, it stands on the base.
    first = TOP + 13 if scale.direction == "sink" else HEIGHT - BOTTOM - 8 - LINE * (len(words) - 1)
    return join(*(el("text", line, x=x, y=first + LINE * i, class_="corner-name") for i, line in enumerate(words)))


def _margin(finding: Finding, scale: Scale) -> list[Markup]:
    """From the corner to what was found at the rated current."""
    if finding.value is None or finding.at is None or finding.limit is None or not math.isfinite(finding.value.value):
        return []
    x, y = scale.x(finding.at.value), scale.y_inside(finding.value.value)
    told = f"{finding.quantity} {figures.figure(finding.value, '')} at {view.current_text(finding)}"
    line = el("path", d=f"M{x:.1f} {scale.y_inside(finding.limit):.1f}V{y:.1f}", class_="margin")
    if not scale.holds(finding.value.value):
        return [line]
    return [line, el("g", el("title", told), el("circle", cx=x, cy=y, r=3.2, class_="rated"))]


def _words(pin: PinRecord, scale: Scale) -> str:
    way = "sinking" if scale.direction == "sink" else "sourcing"
    told = "; ".join(f"{figures.figure(r.volts, '')} at {figures.short(view.magnitude(r.amperes), 'm')}"
                     for r in readings_of(pin, scale.direction))
    return f"pin {pin.pin} ({pin.name}) {way}: {told or 'nothing measured'}"
