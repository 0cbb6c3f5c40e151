"""What a chip's silicon is like: a handful of figures, each the median over the pins that show it.

Pure views of a SweepRecord, the same keys as in the `[typical]` tables of the families.  Medians, so that one bad
gate does not make a chip look like another family.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import isfinite
from statistics import median

from sagbench.parts.definition import PLAIN
from sagbench.parts.model import Part, Role
from sagbench.parts.ratings import table
from sagbench.record import Contact, LoadReading, Outcome, PinRecord, Quantity, SweepRecord

LIGHT, HEAVIER = "weak", "medium"  # load points of about 0.5 mA and 8 mA; where an output is rated for much less than that,
LIGHTER, HARD = "exact", 1.5  # that of the reference resistor, some 4 mA: beyond HARD times its rating an output is in its knee
BUS = 1.2  # an output rated for so many times its family's current is a bus driver: other resistance, other IOS

OWN = "own"  # a part made like no family that has a table


@dataclass(frozen=True)
class Trait:
    """One figure of the chip: median over `count` pins, standard uncertainty; amperes, volts or ohms."""

    value: float
    u: float
    count: int


def traits(part: Part, record: SweepRecord) -> dict[str, Trait]:
    """All that the record shows; keys of the `[typical]` tables, in SI units, without those it does not show."""
    pins = [p for p in record.pins if p.pin in part.limits and p.pin not in _spoilt(record)]
    outputs = [p for p in pins if part.pin(p.pin).role.is_output and not _answers_wrong(p)]
    ordinary = [p for p in outputs if not is_bus(part, p.pin)]
    pulling = [p for p in outputs if part.pin(p.pin).role is not Role.OPEN_COLLECTOR and not part.is_pulled_up(p.pin)]
    found = {
        "iil_ma": _middle(_input_currents(part, pins)),
        "vt_v": _middle(_thresholds(part, pins)),
        "vol_light_v": _middle(x.volts for p in outputs if (x := load(p, "sink", LIGHT)) is not None),
        "rol_ohm": _middle(slope for p in ordinary if (slope := _slope(part, p))),
        "voh_drop_v": _middle(_drops(record, pulling)),
        "ios_ma": _middle(m.value for p in ordinary for m in p.measured if m.name == "IOS"),
    }
    return {key: trait for key, trait in found.items() if trait}


def made_like(part: Part) -> str:
    """The family whose typical figures are its own, by its file name; OWN if there is none."""
    return part.silicon or part.family or PLAIN


def is_bus(part: Part, pin: int) -> bool:
    """True if the output is rated for more than an ordinary one of the family that it is made like; one made like none counts as one."""
    if part.silicon == OWN:
        return True
    limits = part.limits[pin]
    usual: float = max(abs(entry["ma"]) for entry in table(part.silicon or limits.family or PLAIN)["output"]["vol"]) * 1e-3
    return max((r.amperes for r in limits.vol), default=0.0) > BUS * usual


def load(pin: PinRecord, direction: str, point: str) -> LoadReading | None:
    """The reading of that output at that load point, if there is one."""
    return next((r for r in pin.loads if r.direction == direction and r.point == point), None)


def _spoilt(record: SweepRecord) -> set[int]:
    return {c.pin for c in record.contacts if c.contact in (Contact.SHORTED, Contact.OPEN)}


def _answers_wrong(pin: PinRecord) -> bool:
    return any(f.quantity == "logic" and f.outcome is Outcome.BEYOND and not f.state for f in pin.findings)


def _middle(several: Iterable[Quantity]) -> Trait | None:
    known = [q for q in several if isfinite(q.value) and isfinite(q.u)]
    if not known:
        return None
    return Trait(median(q.value for q in known), median(q.u for q in known) / 2, len(known))


def measured(pin: PinRecord, name: str) -> Quantity | None:
    """The figure of that name at a pin, if it was measured."""
    return next((m.value for m in pin.measured if m.name == name), None)


def _input_currents(part: Part, pins: Iterable[PinRecord]) -> Iterator[Quantity]:
    """IIL, one unit load each, of the family that it is made like."""
    unit = 1.0
    if part.silicon not in ("", OWN):
        ours, theirs = (table(f)["input"]["iil_ma"]["min"] for f in (part.family or PLAIN, part.silicon))
        unit = ours / theirs
    for p in pins:
        which = part.pin(p.pin)
        if which.role is not Role.INPUT:
            continue
        value = measured(p, "IIL") or next((f.value for f in p.findings if f.quantity == "IIL"), None)
        if value is not None:
            loads = which.low_unit_loads * unit
            yield Quantity(value.value / loads, value.u / loads, "A")


def _thresholds(part: Part, pins: Iterable[PinRecord]) -> Iterator[Quantity]:
    for p in pins:
        if not part.pin(p.pin).schmitt and (value := measured(p, "VT+") or measured(p, "VT-")):
            yield value


def _slope(part: Part, pin: PinRecord) -> Quantity | None:
    """Output resistance from the light load to the rated current or less; a CMOS output's is its channel's, whatever its rating."""
    light, heavy = load(pin, "sink", LIGHT), load(pin, "sink", HEAVIER)
    rated = max((r.amperes for r in part.limits[pin.pin].vol), default=0.0)
    if heavy and part.limits[pin.pin].technology == "ttl" and heavy.amperes.value > HARD * rated:
        heavy = load(pin, "sink", LIGHTER)
    if light is None or heavy is None or heavy.amperes.value - light.amperes.value < 1e-3:
        return None
    run = heavy.amperes.value - light.amperes.value
    rise = heavy.volts.value - light.volts.value
    return Quantity(rise / run, (heavy.volts.u**2 + light.volts.u**2) ** 0.5 / run, "ohm")


def _drops(record: SweepRecord, pins: Iterable[PinRecord]) -> Iterator[Quantity]:
    if record.supply_volts is None:
        return
    for p in pins:
        if x := load(p, "source", LIGHT):
            # supply and level are read by the same converter: what they share cancels, what is left is small
            yield Quantity(record.supply_volts.value - x.volts.value, min(x.volts.u, 0.02), "V")
