"""A box of chips as one page: how many of what and why, how its figures spread, which chips are unlike the others, all of them in a table.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import isfinite
from statistics import median

from sagbench.judge.character import FAR, WORSE_IS_LESS, norm_of
from sagbench.log import history
from sagbench.log.database import Log
from sagbench.log.entry import Entry
from sagbench.log.export import table_of
from sagbench.lot.summary import Summary, by_chip
from sagbench.record import Quantity, Verdict
from sagbench.report import frame
from sagbench.report.figures import amount, figure, prefix_for
from sagbench.report.markup import Markup, el, join
from sagbench.report.signs import sign_at, worded
from sagbench.report.view import NO_SERIAL, VERDICT_OUTCOME

WIDTH, LEFT, RIGHT, ROW = 720.0, 150.0, 32.0, 58.0
SIGN = 11.0  # width of a chip's sign
NAMED = 8  # outlying chips of a figure that have their number beside them
DRIFTS = 4  # figures of a chip that has changed, those that moved most
SPREADS = ("VOL", "VOH", "ICC", "ROL", "ROH", "VT", "VT+", "VT-", "IIL", "IIH", "IOZ")  # in this order, those that there are


def to_html(log: Log, box: Summary) -> str:
    """The whole page; nothing fetched, no script."""
    parts = sorted({entry.part for entry in box.entries})
    facts = [("begun", box.lot.begun[:16].replace("T", " ")), ("ended", (box.lot.ended or "not yet")[:16].replace("T", " ")),
             ("chips", ", ".join(parts)), ("fixture", _several("without a number" if entry.fixture == NO_SERIAL else str(entry.fixture) for entry in box.entries)),
             ("calibration", _several(entry.calibration for entry in box.entries)), ("sagbench", _several(entry.sagbench for entry in box.entries)),
             ("definitions", _several(entry.library for entry in box.entries))]  # fmt: skip
    return frame.whole(
        f"Lot {box.lot.id}: {box.lot.name}", frame.header(f"Lot {box.lot.id}", box.lot.name, facts),
        el("main", _counts(box), _causes(box), *(_spreads(log, part, [e for e in box.entries if e.part == part]) for part in parts),
           _odd(box, "Unlike the rest of this box", box.odd), _odd(box, "Unlike your earlier sound ones", box.unlike), _drifted(box),
           frame.section("Every chip", table_of(box.entries))),
        el("footer", "Each result is in the log (sagbench log show NUMBER). Uncertainties are expanded, k = 2. Not measured is never a pass."))  # fmt: skip


def _several(values: Iterable[str]) -> str:
    return ", ".join(dict.fromkeys(value for value in values if value))


def _counts(box: Summary) -> Markup:
    """Each verdict with its word and its number."""
    items = [el("p", worded(VERDICT_OUTCOME[Verdict(word)], f"{count} {word}"), class_="count") for word, count in box.verdicts.items()]
    return el("section", *(items or [el("p", "No chip yet.")]), el("p", box.wrongly, class_="count") if box.wrongly else None, class_="counts")


def _causes(box: Summary) -> Markup | None:
    if not box.causes:
        return None
    rows = [el("tr", el("td", f"{len(cause.chips)} x"), el("td", cause.told())) for cause in box.causes]
    return frame.section("Why", frame.table("", ("chips", "what is likely wrong"), rows))


# ------------------------------------------------------------------ spread
def _spreads(log: Log, part: str, entries: Sequence[Entry]) -> Markup | None:
    """One strip a quantity: each chip at its own worst pin or state."""
    worst: dict[str, list[tuple[Entry, Quantity]]] = {}
    for entry in entries:
        for name, value in _worst_of(history.values(log, entry.id).items()).items():
            worst.setdefault(name, []).append((entry, value))
    strips = [_strip(name, found) for name in SPREADS if len(found := worst.get(name, [])) > 1]
    if not strips:
        return None
    key = el("p", "Each sign is a chip at its worst pin or state; the upright stroke is the middle of the box. Numbers are entries. "
             "A tick: sound; a cross: not sound; a triangle: about to go; a diamond: cannot tell; an empty ring: not finished.", class_="key")  # fmt: skip
    return frame.section(f"{part}: how the figures of the box spread", key, *strips)


def _worst_of(values: Iterable[tuple[tuple[str, int, str], tuple[float, float, str]]]) -> dict[str, Quantity]:
    """Quantity -> its worst value over pins and states: the lowest high level, else the largest, whatever its sign."""
    found: dict[str, Quantity] = {}
    for (name, _, _), (value, u, unit) in values:
        before = found.get(name)
        if isfinite(value) and (before is None or (value < before.value if name in WORSE_IS_LESS else abs(value) > abs(before.value))):
            found[name] = Quantity(value, u, unit)
    return found


def _strip(name: str, found: Sequence[tuple[Entry, Quantity]]) -> Markup:
    """Chips along one axis, those close together above each other; one far off stands at the edge with its value."""
    values = sorted(found, key=lambda one: one[1].value)
    low, middle, high = _reach([value for _, value in values])
    prefix, unit = prefix_for(middle, values[0][1].unit), values[0][1].unit

    def x(value: float) -> float:
        return LEFT + (min(max(value, low), high) - low) / (high - low) * (WIDTH - LEFT - RIGHT)

    places = [x(value.value) for _, value in values]
    levels = _stacked(places)
    base = ROW - 20
    top = min(0.0, base - SIGN * (max(levels) + 1) - 14)
    far = sorted(range(len(values)), key=lambda n: -abs(values[n][1].value - middle))[:NAMED]
    marks: list[Markup] = []
    for n, ((entry, value), place, level) in enumerate(zip(values, places, levels, strict=True)):
        y = base - SIGN * (level + 0.5)
        marks.append(sign_at(VERDICT_OUTCOME[Verdict(entry.verdict)], place, y, SIGN))
        if n in far and all(lower <= level for other, lower in zip(places, levels, strict=True) if abs(other - place) < 2 * SIGN):
            beyond = "" if low <= value.value <= high else f": {amount(value.value, unit, prefix_for(value.value, unit))}"
            marks.append(el("text", f"{entry.id}{beyond}", x=place, y=y - SIGN * 0.8, text_anchor=_anchor(place)))
    ticks = [join(el("path", d=f"M{x(v):.1f} {base}v4", class_="axis"), el("text", amount(v, unit, prefix), x=x(v), y=base + 15, text_anchor="middle"))
             for v in frame.round_values(low, high)]  # fmt: skip
    worse = "lowest of each chip" if name in WORSE_IS_LESS else "largest of each chip"
    ends = [amount(value.value, unit, prefix_for(value.value, unit)) for _, value in (values[0], values[-1])]
    return el("svg", el("title", f"{name} of {len(values)} chips, {worse}: from {ends[0]} to {ends[1]}"),
              el("text", name, x=0, y=base - 8, class_="name"), el("text", worse, x=0, y=base + 6),
              el("path", d=f"M{LEFT} {base}H{WIDTH - RIGHT}", class_="axis"), *ticks,
              el("path", d=f"M{x(middle):.1f} {base + 3}V{top + 6:.1f}", class_="middle"), *marks,
              viewBox=f"0 {top:.0f} {WIDTH:.0f} {ROW - top:.0f}", role="img", class_="strip")  # fmt: skip


def _reach(values: Sequence[Quantity]) -> tuple[float, float, float]:
    """Lowest, middle and highest value of an axis: wide enough that what is within the uncertainty lies close together, and no
    wider than shows the spread of the many; one far off does not flatten the others."""
    norm = norm_of([q.value for q in values])
    wide = max(norm.spread, median(q.u for q in values), 1e-12)
    low, high = min(q.value for q in values), max(q.value for q in values)
    return max(low - wide, norm.middle - FAR * wide), norm.middle, min(high + wide, norm.middle + FAR * wide)


def _anchor(place: float) -> str:
    """Where a text begins that is to stay inside."""
    return "end" if place > WIDTH - RIGHT - 30 else "middle"


def _stacked(places: Sequence[float]) -> list[int]:
    """For places in rising order: how high each stands, so that no two signs cover each other."""
    free: list[float] = []  # right edge of the last sign on each level
    found = []
    for place in places:
        level = next((n for n, edge in enumerate(free) if place - edge >= SIGN), len(free))
        free[level:level + 1] = [place]
        found.append(level)
    return found


# ------------------------------------------------------------------ odd ones, drift
def _odd(box: Summary, title: str, odd: Sequence[history.Odd]) -> Markup | None:
    """A row a chip, with the figure that is farthest off, and how many more there are; sound chips first."""
    if not odd:
        return None
    rows = [el("tr", el("td", str(entry.id), class_="num"), el("td", worded(VERDICT_OUTCOME[Verdict(entry.verdict)], entry.verdict), class_="is-verdict"),
               el("td", history.in_words(o.key)), el("td", figure(o.value), class_="num"),
               el("td", amount(o.norm.middle, o.value.unit, prefix_for(o.norm.middle, o.value.unit)), class_="num"), el("td", str(o.norm.count), class_="num"),
               el("td", str(len(rest) or ""), class_="num"))
            for entry, (o, *rest) in by_chip(odd, box.entries)]  # fmt: skip
    return frame.section(title, frame.table("", ("entry", "verdict", "farthest off", "found", "the others' middle", "of so many", "figures more"), rows, numeric=(0, 3, 4, 5, 6)),
                         el("p", f"sagbench log outliers --lot {box.lot.id} lists all figures.", class_="key"))  # fmt: skip


def _drifted(box: Summary) -> Markup | None:
    if not box.drifted:
        return None
    rows = [el("tr", el("td", f"{chip.before.id} ({chip.before.made[:10]})"), el("td", f"{chip.now.id} ({chip.now.made[:10]})"),
               el("td", history.in_words(change.key)), el("td", figure(change.before), class_="num"), el("td", figure(change.after), class_="num"))
            for chip in box.drifted for change in chip.changes[:DRIFTS]]  # fmt: skip
    told = [f"Entry {chip.now.id}: {len(chip.changes) - DRIFTS} more figures (sagbench log drift {chip.now.id})." for chip in box.drifted if len(chip.changes) > DRIFTS]
    return frame.section("Chips measured before, and what has changed",
                         frame.table("", ("entry", "entry now", "figure", "then", "now"), rows, numeric=(3, 4)), *(el("p", line, class_="key") for line in told))  # fmt: skip


