# SPDX-License-Identifier: MIT
"""Tables of the DC figures, before it is known whether on a terminal or on a page.

One table for inputs and one for outputs, a row a pin, a column a figure; a column that no pin has is left out.
Cells hold value and uncertainty (k = 2) in the unit that stands in the head.
"""
from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from sagbench.judge.limits import WORST_FIRST
from sagbench.record import Finding, Measured, Outcome, PinRecord, Quantity, SweepRecord
from sagbench.report import figures

Column = tuple[str, tuple[str, ...]]     # head, names of the figure
INPUTS: tuple[Column, ...] = (
    ("IIL", ("IIL",)), ("IIH", ("IIH",)), ("rising", ("VT+",)), ("falling", ("VT-",)), ("clamp", ("VIK",)))
OUTPUTS: tuple[Column, ...] = (
    ("shorted", ("IOS",)), ("R low", ("ROL",)), ("R high", ("ROH",)), ("low up to", ("IOL at VIL",)),
    ("high up to", ("IOH at VIH",)), ("off, high", ("IOZH",)), ("off, low", ("IOZL",)), ("pulse", ("TW",)))
SHOWN_AS = {"VT+": "rising", "VT-": "falling", "VIK": "clamp", "IOS": "shorted", "IOZ": "off", "VH": "hysteresis", "TW": "pulse"}
WORDS = {
    "IIL": "IIL: current of a low input, at 0.4 V", "IIH": "IIH: of a high one",
    "rising": "rising, falling: volts at which an input switches", "clamp": "clamp: its diode at the data book's current",
    "shorted": "shorted: current of a high output to ground, extrapolated",
    "R low": "R low, R high: output resistance", "low up to": "low up to, high up to: load at which it leaves its level",
    "off, high": "off: leakage when off, pulled high or low",
    "pulse": "pulse: width at the fixture's own resistor and capacitance, coarse; from a third to three times the data book's formula passes"}


@dataclass(frozen=True)
class Row:
    """One pin: a cell a column, and the worst outcome among the findings on its figures (None: none was judged)."""

    pin: PinRecord
    cells: tuple[str, ...]
    outcome: Outcome | None


@dataclass(frozen=True)
class Panel:
    """One table."""

    title: str
    heads: tuple[str, ...]               # with the unit: "IIL, mA"
    rows: tuple[Row, ...]
    notes: tuple[str, ...]               # what the columns are, and their limits


def panels(record: SweepRecord) -> list[Panel]:
    """The tables that have something to show."""
    made = (_panel(record, "Inputs", INPUTS, ("IIL", "IIH", "VT+", "VT-", "VH", "VIK")),
            _panel(record, "Outputs: further figures", OUTPUTS, ("IOS", "IOZ", "TW")))
    return [panel for panel in made if panel]


def _panel(record: SweepRecord, title: str, columns: Sequence[Column], judged: tuple[str, ...]) -> Panel | None:
    used: list[tuple[str, str, Callable[[PinRecord], Quantity | None]]] = []
    for head, names in columns:
        get = _getter(names)
        some = [q for pin in record.pins if (q := get(pin)) is not None]
        if some:
            used.append((head, figures.common_prefix(some), get))
    pins = [pin for pin in record.pins if any(get(pin) is not None for _, _, get in used)]
    if not pins:
        return None
    rows = tuple(Row(pin, tuple(_cell(get(pin), prefix) for _, prefix, get in used), _outcome(pin, judged)) for pin in pins)
    units = {head: next(q.unit for pin in pins if (q := get(pin))) for head, _, get in used}
    heads = tuple(f"{head}, {figures.unit_symbol(units[head], prefix)}" for head, prefix, _ in used)
    notes = ("; ".join(WORDS[head] for head, _, _ in used if head in WORDS) + ".", *_limits(record, judged))
    return Panel(title, heads, rows, notes)


def _getter(names: tuple[str, ...]) -> Callable[[PinRecord], Quantity | None]:
    def get(pin: PinRecord) -> Quantity | None:
        return next((m.value for m in pin.measured if m.name in names), None)
    return get


def _cell(quantity: Quantity | None, prefix: str) -> str:
    if quantity is None:
        return ""
    value, u = figures.scaled(quantity, prefix)
    return f"{value} {figures.PLUS_MINUS} {u}" if u else value


def _outcome(pin: PinRecord, judged: tuple[str, ...]) -> Outcome | None:
    some = [f.outcome for f in pin.findings if f.quantity in judged]
    return min(some, key=WORST_FIRST.index) if some else None


def _limits(record: SweepRecord, judged: tuple[str, ...]) -> list[str]:
    """One sentence with the limits these figures are held against: those of most pins, and in brackets which pins have others."""
    told: dict[str, dict[str, list[str]]] = {}  # quantity -> all bounds of a pin -> pins
    for pin in record.pins:
        own: dict[str, list[str]] = {}
        for f in pin.findings:
            if f.quantity in judged and f.limit is not None and f.value is not None and not f.state:
                own.setdefault(f.quantity, []).append(_bound(f))
        for quantity, bounds in own.items():
            told.setdefault(quantity, {}).setdefault(" and ".join(sorted(set(bounds), reverse=True)), []).append(str(pin.pin))
    parts = []
    for quantity, pins_of in told.items():
        most = max(pins_of, key=lambda bounds: len(pins_of[bounds]))
        parts.append(f"{SHOWN_AS.get(quantity, quantity)} {most}" + "".join(
            f" (pin {', '.join(pins)}: {bounds})" for bounds, pins in pins_of.items() if bounds != most))
    return ["Limits: " + "; ".join(parts) + "."] if parts else []


def _bound(f: Finding) -> str:
    assert f.limit is not None and f.value is not None
    return f"{'≤' if f.limit_kind == 'max' else '≥'} {figures.amount(f.limit, f.value.unit)}"


def whole(record: SweepRecord) -> list[tuple[str, str]]:
    """Name and value of the figures of the whole chip."""
    names = {"NML": "noise margin, low", "NMH": "noise margin, high"}
    return [(names[m.name], f"{figures.figure(m.value)}{_where(m)}") for m in record.measured if m.name in names]


def _where(m: Measured) -> str:
    return f" ({m.state})" if m.state else ""


def families(record: SweepRecord, least: float = 0.01) -> list[tuple[str, tuple[str, ...]]]:
    """Headline and evidence of each family that is likely enough to be told."""
    from sagbench.judge.fingerprint import name_of
    told = [g for i, g in enumerate(record.families) if not i or g.probability >= least]
    return [(f"{name_of(g.family)}: {figures.share(g.probability)}", g.evidence) for g in told]


def diagnoses(record: SweepRecord) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """Headline, what speaks for it and what against it, of each diagnosis."""
    return [(f"{d.kind}, {figures.share(d.probability)}: {d.sentence}", d.speaks_for, d.speaks_against)
            for d in record.diagnoses]
