# SPDX-License-Identifier: MIT
"""A sign for each outcome on the page.  Each has its own shape, so that it is told apart without colour."""
from __future__ import annotations

from sagbench.record import Outcome
from sagbench.report.markup import Markup, el, join

CLASSES = {
    Outcome.WITHIN: "within",
    Outcome.BEYOND: "beyond",
    Outcome.ODD: "odd",
    Outcome.UNSURE: "unsure",
    Outcome.NOT_MEASURED: "unmeasured",
}
_STROKE: dict[str, str | float] = {"fill": "none", "stroke": "#fff", "stroke_width": 2.2, "stroke_linecap": "round",
           "stroke_linejoin": "round"}


def _shape(outcome: Outcome) -> Markup:
    """The sign on a field of 20 by 20, in the colour of its surroundings."""
    if outcome is Outcome.WITHIN:                           # a disc with a tick
        return join(el("circle", cx=10, cy=10, r=8.5, fill="currentColor"), el("path", d="M6 10.4 8.9 13.2 14 7.2", **_STROKE))
    if outcome is Outcome.BEYOND:                           # a square with a cross
        return join(el("rect", x=1.8, y=1.8, width=16.4, height=16.4, rx=2, fill="currentColor"),
                    el("path", d="M6.4 6.4 13.6 13.6M13.6 6.4 6.4 13.6", **_STROKE))
    if outcome is Outcome.ODD:                              # a triangle with a stroke
        return join(el("path", d="M10 1.6 19 18 1 18Z", fill="currentColor", stroke="currentColor",
                       stroke_width=1, stroke_linejoin="round"), el("path", d="M10 7.4V11.8M10 15V15.1", **_STROKE))
    if outcome is Outcome.UNSURE:                           # a diamond with a bar across, half and half
        return join(el("path", d="M10 1 19 10 10 19 1 10Z", fill="currentColor"), el("path", d="M6.4 10H13.6", **_STROKE))
    return el("circle", cx=10, cy=10, r=8, fill="none", stroke="currentColor", stroke_width=1.8,
              stroke_dasharray="3.2 2.6")                   # an empty ring


def sign(outcome: Outcome, size: int = 16) -> Markup:
    """The sign inside running text.  The word beside it is what a screen reader reads."""
    return el("svg", _shape(outcome), class_=f"sign {CLASSES[outcome]}", viewBox="0 0 20 20", width=size, height=size,
              aria_hidden="true")


def sign_at(outcome: Outcome, x: float, y: float, size: float = 14) -> Markup:
    """The sign inside a drawing, centred at x, y."""
    scale = size / 20
    return el("g", _shape(outcome), class_=CLASSES[outcome],
              transform=f"translate({x - size / 2:.2f} {y - size / 2:.2f}) scale({scale:.3f})")


def worded(outcome: Outcome, word: str | None = None) -> Markup:
    """Sign and word."""
    return el("span", sign(outcome), " ", word or outcome.value, class_=f"word {CLASSES[outcome]}")
