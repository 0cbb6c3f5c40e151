"""What the safety rules rely on: switches, what keeps them off, selector, references, trip.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from hardware import tables
from hardware.places import Part, Places, fixture
from protocol import spec

Mistake = tuple[int, str]
SWITCHES = (("supply", "pnp", "P", "VBUS"), ("ground", "npn", "N", "GND"))


def _resistor(components: list[Part], one: str, other: str) -> bool:
    return any(p.kind == "resistor" and {p.pin("1"), p.pin("2")} == {one, other} for p in components)


def _switches(raw: dict[str, Any], components: list[Part], places: Places) -> Iterator[Mistake]:
    registers = [p for p in components if p.kind == "hc595"]
    for name, kind, letter, rail in SWITCHES:
        wanted = set(raw["power"][f"{name}_positions"])
        line = places.key("power", f"{name}_positions")
        found = {}
        for part in components:
            if part.kind == kind and part.role == f"{name} switch":
                k = int(part.pin("C").removeprefix("Z")) if part.pin("C").startswith("Z") else 0
                found[k] = part
                if part.pin("E") != rail:
                    yield part.line, f"{part.ref}.E is on {part.pin('E')}; a {name} switch has it on {rail}"
                if not _resistor(components, part.pin("B"), rail):
                    yield part.line, f"{part.ref} has no resistor from base to {rail} that keeps it off; put one there"
                if not _resistor(components, part.pin("B"), f"{letter}{k}"):
                    yield part.line, f"{part.ref} has no resistor from base to {letter}{k}; put one there"
        if set(found) != wanted:
            yield line, (f"{name} switches are at positions {sorted(found)}, [power] says {sorted(wanted)}; "
                         "make them agree")
        outputs = {net: reg for reg in registers for net in reg.raw["outputs"]
                   if net[0] == letter and net[1:].isdigit()}
        if {int(net[1:]) for net in outputs} != wanted:
            yield line, (f"register outputs {letter}.. are for positions {sorted(int(n[1:]) for n in outputs)}, [power] "
                         f"says {sorted(wanted)}; make them agree")
        for reg in {p.ref: p for p in outputs.values()}.values():
            if reg.pin("OE") != "OE_N":
                yield reg.line, f"{reg.ref}.OE is on {reg.pin('OE')}; a register of switches hangs on the dead-man's OE_N"


def _seating(raw: dict[str, Any], places: Places) -> Iterator[Mistake]:
    top = raw["socket"]["positions"]
    for size in raw["socket"]["sizes"]:
        seats = {p if p <= size // 2 else top - size + p for p in range(1, size + 1)}
        if gone := sorted(seats - set(fixture(raw).positions)):
            yield places.key("socket", "sizes"), (f"a chip of {size} pins needs position {gone[0]}, which is left out; "
                                                  "drop the size or keep the position")
        for name in ("supply", "ground"):
            if not seats & set(raw["power"][f"{name}_positions"]):
                yield places.key("socket", "sizes"), f"a chip of {size} pins reaches no {name} position; add one or drop the size"


def _off_at_reset(raw: dict[str, Any], components: list[Part], places: Places) -> Iterator[Mistake]:
    supply = raw["supply"]["net"]
    for part in components:
        inhibit = part.pin("INH")
        if part.kind == "hc4051" and inhibit != "GND" and not _resistor(components, inhibit, supply):
            yield part.line, f"{part.ref}.INH has no pull-up to {supply}; without it the channel is on at reset"
    if not _resistor(components, "OE_N", supply):
        yield places.entry("controller.wires"), f"OE_N has no pull-up to {supply}; without it the switches are not off at reset"


def _load_points(raw: dict[str, Any], components: list[Part], places: Places) -> Iterator[Mistake]:
    selectors = [p for p in components if p.role == "load selector"]
    if len(selectors) != 1:
        yield places.entry("load_point"), f"there are {len(selectors)} parts of role \"load selector\"; there must be one"
        return
    last = 0.0
    for index, point in enumerate(raw["load_point"]):
        line = places.entry("load_point", index)
        if not 0 <= point["load"] <= 7 or not set(point["lines"]) <= {"M", "S"}:
            yield line, f"load point {point['name']}: lines are M and S, load is 0 to 7; correct it"
            continue
        net = selectors[0].raw["channels"][point["load"]]
        if net != "NC" and not _resistor(components, "LD", net):
            yield line, f"load point {point['name']}: channel {point['load']} ({net}) is no load to LD; choose another"
        if point["name"] != "open":
            up = point.get("nominal_ma", {}).get("up", 0.0)
            if up <= last:
                yield line, f"load point {point['name']}: {up} mA is not more than the one before; sort them light to heavy"
            last = up


def _converter(raw: dict[str, Any], places: Places) -> Iterator[Mistake]:
    names = [reference["name"] for reference in raw["adc"]["reference"]]
    wire = [value.name for value in spec.load().enums["reference"]]
    if names != wire:
        yield places.entry("adc.reference"), f"references are {names}, the wire has {wire}; same names, same order"
    channels = raw["adc"]["channels"]
    order = [value.name.upper() for value in spec.load().enums["source"]]
    if sorted(channels, key=lambda n: channels[n]) != order or sorted(channels.values()) != list(range(len(order))):
        yield places.key("adc", "channels"), f"channels are {channels}, the wire numbers {order} from 0; make them agree"


def _trip(raw: dict[str, Any], places: Places) -> Iterator[Mistake]:
    whole = fixture(raw)
    trips = 1000 * tables.trip_ratio(whole) * raw["supply"]["nominal_v"] / tables.icc_gain(whole)
    if abs(trips / raw["interlock"]["trip_ma"] - 1) > 0.02:
        yield places.key("interlock", "trip_ma"), (f"trip_ma is {raw['interlock']['trip_ma']}, the parts trip at {trips:.1f} mA; "
                                                   "make them agree")


def safety(raw: dict[str, Any], components: list[Part], places: Places) -> list[Mistake]:
    """Mistakes that would take a safety rule its ground."""
    return [*_switches(raw, components, places), *_seating(raw, places), *_off_at_reset(raw, components, places),
            *_load_points(raw, components, places), *_converter(raw, places), *_trip(raw, places)]
