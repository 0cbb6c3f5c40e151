# SPDX-License-Identifier: MIT
"""Where the uncertainty of one figure comes from: contributions in plain words, and what would make them smaller.

Pure: a record's `Measured` and the designators of the fixture's description in, lines of text out.
"""
from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sagbench.record import Contribution, Measured, Quantity, SweepRecord
from sagbench.report import figures

WIDTH = 79
LEAST_SHARE = 0.005                      # smaller contributions are added up in one line
STAGES = {
    1: "stage 1, the board alone (`sagbench fixture calibrate`)",
    2: "stage 2, an external resistor (`sagbench fixture calibrate --resistor`)",
    3: "stage 3, a multimeter (`sagbench fixture calibrate --reference`)",
}


@dataclass(frozen=True)
class Source:
    """A component in plain words, its designator on the board ("" for none), and the stage that narrows it (0: none)."""

    words: str
    where: str = ""
    stage: int = 0


# Pattern of a component's name (measure/components.py) -> words with {0} for what is in brackets,
# role in the fixture description whose designator it is, calibration stage.
_KINDS: tuple[tuple[str, str, str, int], ...] = (
    (r"vref", "2.5 V reference", "2.5_V_reference", 3),
    (r"offset", "converter: offset", "", 1),
    (r"inl", "converter: non-linearity", "", 1),
    (r"noise", "converter: noise and quantisation", "", 0),
    (r"strong_drive\[(\d+)\].*", "strong resistor of position {0}", "strong_drive", 2),
    (r"medium_drive\[(\d+)\].*", "medium resistor of position {0}", "medium_drive", 2),
    (r"weak_load.*", "weak load", "weak_load", 1),
    (r"trickle_load.*", "trickle load", "trickle_load", 0),
    (r"heavy_load.*", "heavy load", "heavy_load", 1),
    (r"calibration_reference.*", "reference resistor", "calibration_reference", 2),
    (r"level_drive.*", "level drive's resistor", "level_drive", 1),
    (r"driver_high\[(\w+)\]", "controller pin of {0}, driving high", "", 2),
    (r"driver_low\[(\w+)\]", "controller pin of {0}, driving low", "", 2),
    (r"ron\[0\]", "load selector's channel", "load_selector", 1),
    (r"(?:ron|channel)\[(\d+)\]", "multiplexer channel of position {0}", "", 1),
    (r"channel_hump", "multiplexer channels: more at half the supply", "", 1),
    (r"channel_shape", "multiplexer channels: shape over their level", "", 0),
    (r"channel_near_rail", "multiplexer channels: shape near a rail", "", 0),
    (r"selector_shape", "load selector's channels: shape over their level", "", 0),
    (r"shunt", "shunt", "shunt", 2),
    (r"sense_gain_input", "supply-current amplifier: input resistor", "sense_gain_input", 2),
    (r"sense_gain_output", "supply-current amplifier: output resistor", "sense_gain_output", 2),
    (r"alpha", "supply-current amplifier: transistor", "sense_output", 2),
    (r"icc_gain", "supply-current amplifier: gain", "", 2),
    (r"v2v56", "controller's 2.56 V reference, not compared", "", 0),
    (r"v1v1", "controller's 1.1 V reference, not compared", "", 0),
    (r"leakage\[(\d+)\]", "leakage of the idle parts at position {0}", "", 0),
    (r"leakage_k", "leakage of the multiplexers", "", 0),
    (r"supply_switch(?:_base)?", "supply switch", "", 0),
    (r"ground_switch", "ground switch", "", 0),
    (r"register_output", "register's output", "", 0),
    (r"vbe", "supply switch: base-emitter voltage", "", 0),
)


def source(name: str, designators: Mapping[str, Any]) -> Source:
    """What a component is; names that are words already (a load line's bend) stand for themselves."""
    if name.startswith("calibration of "):
        inner = source(name.removeprefix("calibration of "), designators)
        return Source(f"{inner.words}: what its calibration left", inner.where)
    for pattern, words, role, stage in _KINDS:
        if found := re.fullmatch(pattern, name):
            inside = next(iter(found.groups()), "")
            return Source(words.format(inside), _designator(designators.get(role), inside), stage)
    return Source(name)


def _designator(entry: object, position: str) -> str:
    if isinstance(entry, Mapping):
        return str(entry.get(position, ""))
    return entry if isinstance(entry, str) else ""


def choose(record: SweepRecord, name: str, pin: int | None) -> list[Measured]:
    """Figures of that name (any case), of that pin or of all; chip first, then pins ascending."""
    everything = [*record.measured, *(m for p in record.pins for m in p.measured)]
    return [m for m in everything if m.name.lower() == name.lower() and pin in (None, m.pin)]


def names(record: SweepRecord) -> list[str]:
    """Names of all figures in a record, each once, in the order in which they stand."""
    return list(dict.fromkeys(m.name for m in (*record.measured, *(m for p in record.pins for m in p.measured))))


def title(record: SweepRecord, measured: Measured) -> str:
    """One line: what it is, of which pin, how much, and under which condition."""
    who = next((f" of pin {p.pin} ({p.name})" for p in record.pins if p.pin == measured.pin), "")
    at = "" if measured.at is None or measured.at.unit == measured.value.unit and not measured.at.value else (
        f" at {figures.short(measured.at) if measured.at.u else figures.amount(measured.at.value, measured.at.unit)}")
    state = f", {measured.state}" if measured.state else ""
    return f"{measured.name}{who}: {figures.figure(measured.value)} (k = 2){at}{state}"


def budgets(record: SweepRecord, found: Sequence[Measured], designators: Mapping[str, Any]) -> Iterator[str]:
    """The budgets of several figures, as lines; a figure told again under another state (the worst one) is named, its budget is above."""
    for index, measured in enumerate(found):
        if index:
            yield ""
        if any(measured.value == other.value and measured.name == other.name for other in found[:index]):
            yield from _wrapped(f"{title(record, measured)}: its budget is above", "", "  ")
        else:
            yield from explain(record, measured, designators)


def explain(record: SweepRecord, measured: Measured, designators: Mapping[str, Any]) -> Iterator[str]:
    """The budget of one figure, as lines."""
    yield from _wrapped(title(record, measured), "", "  ")
    yield from _wrapped(f"{measured.how or 'measured'}; {measured.method or 'no method noted'}")
    budget = measured.value.budget
    whole = sum(c.u ** 2 for c in budget)
    if not whole:
        yield "  It carries no budget: without uncertainty, or from a record of an older version."
        return
    prefix = figures.best_prefix(Quantity(max(abs(c.u) for c in budget), 0.0, measured.value.unit))
    unit = figures.unit_symbol(measured.value.unit, prefix)
    yield ""
    yield f"  {'from':<52} {'part':<6} {f'u, {unit}':>9} {'share':>6}"
    for words, where, u in _rows(budget, designators, whole):
        yield f"  {words:<52} {where:<6} {_small(u, prefix):>9} {100 * u * u / whole:>4.0f} %"
    together = Quantity(whole ** 0.5, 0.0, measured.value.unit)
    yield f"  {'together (k = 1)':<52} {'':<6} {_small(together.value, prefix).lstrip('+'):>9}  100 %"
    yield ""
    yield from _advice(budget, designators, whole)


def _wrapped(text: str, first: str = "  ", then: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, initial_indent=first, subsequent_indent=then, break_long_words=False)


def _rows(
    budget: Sequence[Contribution], designators: Mapping[str, Any], whole: float
) -> Iterator[tuple[str, str, float]]:
    rest = 0.0
    for part in budget:
        if part.u ** 2 < LEAST_SHARE * whole:
            rest += part.u ** 2
            continue
        of = source(part.name, designators)
        yield of.words, of.where, part.u
    if rest:
        yield "all others", "", rest ** 0.5


def _small(u: float, prefix: str) -> str:
    """Three significant digits and the sign."""
    return ("+" if u > 0 else "") + figures.plain_number(u / figures.unit_of(prefix), 3)


def _advice(budget: Sequence[Contribution], designators: Mapping[str, Any], whole: float) -> Iterator[str]:
    by_stage: dict[int, float] = {}
    for part in budget:
        stage = source(part.name, designators).stage
        by_stage[stage] = by_stage.get(stage, 0.0) + part.u ** 2 / whole
    useful = sorted((s for s in by_stage if s and by_stage[s] >= LEAST_SHARE), key=lambda s: -by_stage[s])
    for stage in useful:
        yield from _wrapped(f"Calibration would narrow {100 * by_stage[stage]:.0f} % of it (of u squared): {STAGES[stage]}.")
    left = by_stage.get(0, 0.0)
    if left >= LEAST_SHARE:
        yield f"  {100 * left:.0f} % of it no calibration takes away."
