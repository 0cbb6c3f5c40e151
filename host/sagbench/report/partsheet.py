# SPDX-License-Identifier: MIT
"""One part on a page of text: pinout, function, limits with their sources, logic test, notes."""
from __future__ import annotations

import textwrap
import tomllib
from collections.abc import Iterable, Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.doubt.statements import Line
from sagbench.parts.amounts import amperes
from sagbench.parts.definition import Definition
from sagbench.parts.model import FamilyLimits, Limit, Part, Pin
from sagbench.report import functiontable, testlines
from sagbench.report.pinout import drawing

if TYPE_CHECKING:
    from sagbench.vectors.report import Report

COLUMNS = 79
_SOURCES = Path(__file__).parent.parent / "parts" / "sources.toml"


def sheet(part: Part, definition: Definition, said: tuple[Line, ...], test: Report, also: Iterable[str] = (),
          unfit: str = "") -> list[str]:
    """Lines of at most 79 characters.  `definition`: the logic of the part's family, `said` its
    statements; `also`: names of the function in its other families; `unfit`: why no fixture can take it."""
    lines = [f"{part.name}  {part.title}", f"{part.pin_count} pins; "
             + ("of the library" if part.origin == "library" else f"defined by {part.origin}")]
    lines += [*(textwrap.wrap(unfit, COLUMNS) if unfit else ()), ""]
    lines += ["  " + line for line in drawing(part)]
    lines += _function(definition, said, part)
    lines += _title("Limits") + list(limit_lines(part)) + _title("Supply current")
    lines += list(_wrapped(_supply(part)))
    if part.pulses:
        lines += _title("Pulse") + list(_wrapped(pulse_lines(part)))
    lines += _title("Logic test") + list(_wrapped(testlines.lines(definition, test)))
    if others := [name for name in also if name != part.name]:
        lines += _title("Made as well as") + textwrap.wrap(", ".join(others), COLUMNS)
    if part.notes:
        lines += _title("Notes") + list(_wrapped(part.notes))
    lines += _title("Sources") + list(_wrapped(f"{key}: {source(key)}" for key in sources(part, definition)))
    return [line.rstrip() for line in lines]


def _title(text: str) -> list[str]:
    return ["", text, "-" * len(text)]


def _wrapped(entries: Iterable[str]) -> Iterator[str]:
    for entry in entries:
        yield from textwrap.wrap(entry, COLUMNS, initial_indent="- ", subsequent_indent="  ", break_long_words=False,
                                 break_on_hyphens=False)


def _function(definition: Definition, said: tuple[Line, ...], part: Part) -> Iterator[str]:
    made = functiontable.tables(definition, said, tuple(pin.name for pin in part.pins))
    if not made or any(len(line) > COLUMNS for table in made for line in table.lines()):
        yield from _title("Function: the statements of its part file")
        for line in said:
            copies = f"   [{{}}: {' '.join(line.each)}]" if len(line.each) > 1 else ""
            yield from textwrap.wrap(f"{line.text}{copies}", COLUMNS, subsequent_indent="    ")
        return
    used = {cell for table in made for row in table.rows for cell in row}
    yield from _title("State table" if definition.registers else "Truth table")
    for index, table in enumerate(made):
        if index:
            yield ""
        yield from table.lines()
        if table.likewise:
            yield f"the same for {', '.join(table.likewise)}"
    if legend := [f"{sign} {word}" for sign, word in functiontable.LEGEND.items() if sign in used]:
        yield from textwrap.wrap("(" + "; ".join(legend) + ")", COLUMNS)


def limit_lines(part: Part) -> Iterator[str]:
    """Levels and currents, one block for pins with the same limits."""
    groups: dict[tuple[object, ...], list[Pin]] = {}
    for pin in part.pins:
        if limits := part.limits.get(pin.number):
            loads = (pin.low_unit_loads, pin.high_unit_loads, limits.iil, limits.iih) if pin.role.is_input else None
            rated = (limits.vol, limits.voh, limits.off_leakage) if pin.role.is_output else None
            groups.setdefault((loads, rated, pin.role.is_input, pin.role.is_output), []).append(pin)
    for pins in groups.values():
        yield from textwrap.wrap(", ".join(pin.name for pin in pins) + ":", COLUMNS)
        limits = part.limits[pins[0].number]
        if pins[0].role.is_input:
            yield from _inputs(limits, pins[0])
        if pins[0].role.is_output:
            yield from _outputs(limits)


def _inputs(limits: FamilyLimits, pin: Pin) -> Iterator[str]:
    yield from _figure("VIH", "", limits.vih, "V")
    yield from _figure("VIL", "", limits.vil, "V")
    yield from _figure("IIH", "", limits.iih, "A", pin.high_unit_loads)
    yield from _figure("IIL", "", limits.iil, "A", pin.low_unit_loads)


def _outputs(limits: FamilyLimits) -> Iterator[str]:
    for rated in (*limits.vol, *limits.voh):
        under = "VCC " if rated.relative_to_supply else ""
        also = tuple(f"{under}{_amount(other.limit.value, 'V')} at {_amount(other.amperes, 'A')} [{other.limit.source}]" for other in rated.also)
        yield from _figure(rated.quantity, f"at {_amount(rated.amperes, 'A')}", rated.limit, "V", under=under, also=also)
    if limits.off_leakage:
        yield from _figure("off", "", limits.off_leakage, "A")


def _figure(name: str, at: str, limit: Limit, unit: str, loads: float = 1.0, under: str = "", also: tuple[str, ...] = ()) -> Iterator[str]:
    """The bound that judges and its source; below it what other sources give."""
    word = "at most" if limit.kind == "max" else "at least"
    if unit == "A" and limit.kind == "min" and limit.value < 0:
        word = "no more than"                            # -0.4 mA: 0.4 mA out of the pin
    units = f"  ({loads:g} unit loads)" if loads != 1 else ""
    yield f"  {name:<4} {at:<12} {word:<12} {under}{_amount(limit.value * loads, unit):<10} [{limit.source}]{units}"
    others = also or tuple(f"{under}{_amount(other.value * loads, unit)} [{other.source}]" for other in limit.also)
    if others:
        yield from textwrap.wrap(f"also given: {', '.join(others)}", COLUMNS, initial_indent=" " * 20, subsequent_indent=" " * 22)


def _amount(value: float, unit: str) -> str:
    return amperes(value) if unit == "A" else f"{value:g} {unit}"


def _supply(part: Part) -> Iterator[str]:
    for state in part.supply_states:
        if state.limit is None:
            yield f"{state.name}: no limit known; measured and told"
            continue
        typical = "" if state.typical is None else f", typically {_amount(state.typical, 'A')}"
        others = ", ".join(f"{_amount(other.value, 'A')} [{other.source}]" for other in state.limit.also)
        also = f"; also given: {others}" if others else ""
        yield f"{state.name}: at most {_amount(state.limit.value, 'A')}{typical} [{state.limit.source}]{also}"


def pulse_lines(part: Part) -> Iterator[str]:
    """A monostable: its formula, and each way to trigger it."""
    first = part.pulses[0]
    least, most = (f"{ohm / 1e3:g}" for ohm in first.ohm)
    if first.factor is None:
        yield f"R {least} to {most} kohm; no formula for a capacitor to ground  [{first.source}]"
    else:
        yield f"width = {' to '.join(f'{f:g}' for f in dict.fromkeys(first.factor))} R C; R {least} to {most} kohm  [{first.source}]"
    for test in part.pulses:
        levels = " ".join(f"{part.pin(n).name}={int(level)}" for n, level in test.ready.items())
        edge = "falling" if test.ready[test.trigger] else "rising"
        yield f"{part.pin(test.output).name}: {part.pin(test.trigger).name} {edge} with {levels}; R at {part.pin(test.timing).name}"


def sources(part: Part, definition: Definition) -> list[str]:
    """Keys of all sources a part's figures are from, in order of appearance."""
    found = [*definition.sources]
    every: list[Limit | None] = []
    for limits in part.limits.values():
        rated = [point for judging in (*limits.vol, *limits.voh) for point in (judging, *judging.also)]
        every += [limits.vih, limits.vil, limits.iih, limits.iil, *(point.limit for point in rated), limits.off_leakage]
    every += [state.limit for state in part.supply_states]
    found += [test.source for test in part.pulses]
    found += [one.source for limit in every if limit for one in (limit, *limit.also)]
    return list(dict.fromkeys(found))


def source(key: str) -> str:
    """What a key stands for."""
    if key == "memory":
        return "recalled from the data books; check against a sheet before relying on it"
    return str(_documents().get(key, "as the part file names it"))


@cache
def _documents() -> dict[str, object]:
    documents: dict[str, object] = tomllib.loads(_SOURCES.read_text(encoding="utf-8")).get("source", {})
    return documents
