# SPDX-License-Identifier: MIT
"""The package seen from above as a drawing: notch, legs, names, and a sign with its word beside each output."""
from __future__ import annotations

from sagbench.record import SweepRecord
from sagbench.report import view
from sagbench.report.markup import Markup, el, join
from sagbench.report.package import sides
from sagbench.report.signs import CLASSES, sign_at

PITCH = 27.0
WIDTH = 500.0                            # "out of character" fits on both sides
BODY_LEFT, BODY_RIGHT = 195.0, 305.0
LEG = 13.0
TOP = 14.0


def dip(record: SweepRecord) -> Markup:
    """An `svg` element; its title says in words what it shows."""
    rows = sides(record)
    height = TOP + len(rows) * PITCH + 18
    drawn = [_body(record, len(rows))]
    for index, (left, right) in enumerate(rows):
        y = TOP + 8 + (index + 0.5) * PITCH
        drawn += [_pin(record, left, y, is_left=True), _pin(record, right, y, is_left=False)]
    return el("svg", el("title", _words(record)), *drawn, class_="dip", viewBox=f"0 0 {WIDTH:g} {height:g}", role="img")


def _body(record: SweepRecord, rows: int) -> Markup:
    bottom = TOP + 16 + rows * PITCH - 8
    middle = (BODY_LEFT + BODY_RIGHT) / 2
    outline = (f"M{BODY_LEFT:g} {TOP:g}H{middle - 11:g}A11 11 0 0 0 {middle + 11:g} {TOP:g}H{BODY_RIGHT:g}"
               f"V{bottom:g}H{BODY_LEFT:g}Z")
    centre = (TOP + bottom) / 2
    return join(
        el("path", d=outline, class_="body"),
        el("circle", cx=BODY_LEFT + 11, cy=TOP + 11, r=2.6, class_="dot"),
        el("text", record.part, x=middle, y=centre, class_="type", text_anchor="middle", dominant_baseline="central",
           transform=f"rotate(-90 {middle:g} {centre:g})"))


def _pin(record: SweepRecord, number: int, y: float, *, is_left: bool) -> Markup:
    pin = next((p for p in record.pins if p.pin == number), None)
    edge, out = (BODY_LEFT, -1.0) if is_left else (BODY_RIGHT, 1.0)
    anchor = "end" if is_left else "start"
    word, outcome = view.pin_word(record, pin) if pin else ("", None)
    leg_class = f"leg {CLASSES[outcome]}" if outcome else "leg"
    parts = [
        el("rect", x=edge - LEG if is_left else edge, y=y - 4, width=LEG, height=8, class_=leg_class),
        el("text", number, x=edge - out * 7, y=y, class_="number", text_anchor="start" if is_left else "end",
           dominant_baseline="central"),
        el("text", _cut(pin.name) if pin else "", x=edge + out * (LEG + 6), y=y, class_="name", text_anchor=anchor,
           dominant_baseline="central"),
    ]
    if outcome:
        parts += [sign_at(outcome, edge + out * (LEG + 62), y),
                  el("text", word, x=edge + out * (LEG + 73), y=y, class_=f"word {CLASSES[outcome]}", text_anchor=anchor,
                     dominant_baseline="central")]
    return join(*parts)


def _cut(name: str) -> str:
    return name if len(name) <= 6 else name[:5] + "…"


def _words(record: SweepRecord) -> str:
    said = [(pin, view.pin_word(record, pin)[0]) for pin in record.pins]
    told = "; ".join(f"pin {pin.pin} ({pin.name}) {word}" for pin, word in said if word)
    return f"{record.part} from above, {record.pin_count} pins" + (f": {told}" if told else "")
