"""Can a current exceed a rating while the firmware keeps its rules?

Worst case: highest supply, lowest resistances, everything shorted to the other
rail.  The rules (wiring.toml, [interlock]): M lines may all be on, as far as the
budgets allow, each counted with its short current; S lines stay on only where
verified, each counted with verified_pin_ma; one position at a time is under load.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from hardware import tables
from hardware.places import Part, Places, fixture
from hardware.wiring import Fixture

Mistake = tuple[int, str]


def _house_ma(whole: Fixture) -> dict[str, float]:
    """Port pin -> milliamperes of the controller's other outputs through resistors of the fixture (lamp, pull-ups)."""
    out = {}
    for net, pin in tables.wires(whole).items():
        if net[0] in "SM" and net[1:].isdigit() or net == "LD" or net in whole["adc"]["channels"]:
            continue
        ohms = [tables.least_ohm(p) for p in whole["part"] if p["kind"] == "resistor" and net in p["pins"].values()]
        out[pin] = sum(1000 * whole["supply"]["max_v"] / ohm for ohm in ohms)
    return out


def _pins(whole: Fixture, components: list[Part]) -> Iterator[Mistake]:
    """Told at the resistor, once for all that one entry brings."""
    limit, test = whole["controller"]["pin_limit_ma"], whole["controller"]["pin_test_ma"]
    shorts = {f"{letter}{k}": tables.short_ma(whole, letter, k) for k in tables.positions(whole) for letter in "MS"}
    channels = tables.by_role(whole, "load selector")["channels"]
    loads = {net: tables.load_short_ma(whole, channel) for channel, net in enumerate(channels)}
    over: dict[int, list[tuple[float, str]]] = {}
    for part in (p for p in components if p.kind == "resistor"):
        nets = set(part.raw["pins"].values())
        for net in nets & shorts.keys():
            over.setdefault(part.line, []).append((shorts[net], f"line {net}, through {part.ref},"))
        for net in nets & loads.keys() if "LD" in nets else ():
            over.setdefault(part.line, []).append((loads[net], f"LD, through {part.ref},"))
    for line, found in over.items():
        worst, way = max(found, key=lambda each: each[0])
        if worst > test:
            others = sum(short > test for short, _ in found) - 1
            yield line, (f"{way} can carry {worst:.1f} mA into a short{f', and so can {others} more' if others else ''}; a port pin is "
                         f"specified to {test} mA (and must never exceed {limit}): raise the resistor")


def _multiplexers(whole: Fixture, places: Places) -> Iterator[Mistake]:
    limit = whole["kind"]["hc4051"]["switch_limit_ma"]
    for index, point in enumerate(whole["load_point"]):
        through = tables.load_short_ma(whole, point["load"])
        if through > limit:
            yield places.entry("load_point", index), (f"load point {point['name']}: {through:.1f} mA through a multiplexer "
                                                      f"into a short, its limit is {limit} mA; raise the load resistor")
    # Both lines of a position on while the selector ties K to ground or to a reference.
    volts, ron = whole["supply"]["max_v"], 2 * whole["kind"]["hc4051"]["ron_ohm"]["min"]
    worst = max(volts / tables.short_ma(whole, "S", k) * 1000 for k in tables.positions(whole)), max(
        volts / tables.short_ma(whole, "M", k) * 1000 for k in tables.positions(whole))
    both = 1000 * volts / (1 / (1 / worst[0] + 1 / worst[1]) + ron)
    if both > limit:
        yield places.entry("kind.hc4051"), (f"both lines of a position into K tied to ground are {both:.1f} mA through a "
                                            f"multiplexer, its limit is {limit} mA; raise the drive resistors")


def _groups(whole: Fixture, places: Places) -> Iterator[Mistake]:
    wires, verified = tables.wires(whole), whole["interlock"]["verified_pin_ma"]
    house = _house_ma(whole)
    heaviest = max(tables.load_short_ma(whole, point["load"]) for point in whole["load_point"])
    total = 0.0
    worst_load = heaviest + max(sum(tables.short_ma(whole, letter, k) for letter in "MS") for k in tables.positions(whole))
    for index, group in enumerate(whole["port_group"]):
        line = places.entry("port_group", index)
        inside = {letter: [k for k in tables.positions(whole) if wires[f"{letter}{k}"] in group["ports"]] for letter in "MS"}
        still = sum(ma for pin, ma in house.items() if pin in group["ports"])
        medium = sum(tables.short_ma(whole, "M", k) for k in inside["M"]) + still
        if medium > group["limit_ma"]:
            yield line, (f"group {group['name']}: all its M lines into shorts are {medium:.0f} mA, its limit is "
                         f"{group['limit_ma']} mA; spread the lines over other groups")
        load = max((sum(tables.short_ma(whole, letter, k) for letter in "MS" if k in inside[letter])
                    for k in tables.positions(whole)), default=0.0)
        load += heaviest if wires["LD"] in group["ports"] else 0.0
        loaded = verified * len(inside["S"]) + load + still
        if loaded > group["limit_ma"]:
            yield line, (f"group {group['name']}: all S lines verified and one position under the heaviest load are "
                         f"{loaded:.0f} mA, its limit is {group['limit_ma']} mA; spread the lines over other groups")
        total += verified * len(inside["S"]) + still
    control = whole["controller"]
    if total + worst_load > control["total_budget_ma"]:
        yield places.key("controller", "total_budget_ma"), (
            f"all S lines verified and one position under the heaviest load are {total + worst_load:.0f} mA, the total "
            f"budget is {control['total_budget_ma']} mA; lower verified_pin_ma or raise resistors")
    if control["total_budget_ma"] > control["total_limit_ma"]:
        yield places.key("controller", "total_budget_ma"), (f"the total budget is above the data sheet's limit of "
                                                            f"{control['total_limit_ma']} mA; lower it")


def _nominal(whole: Fixture, places: Places) -> Iterator[Mistake]:
    """The currents said with a load point are those of its resistors, typical ones, to 0.3 V and 3.4 V."""
    driver, rail = whole["controller"]["driver_ohm"]["typ"], whole["supply"]["nominal_v"]
    channels, ron = tables.by_role(whole, "load selector")["channels"], whole["kind"]["hc4051"]["ron_ohm"]["typ"]
    for index, point in enumerate(whole["load_point"]):
        ohms = [tables.resistor_at(whole, f"{line}{whole.positions[0]}")["ohm"] + driver for line in point["lines"]]
        if channels[point["load"]] != "NC":
            ohms.append(tables.resistor_at(whole, channels[point["load"]])["ohm"] + driver + 2 * ron)
        for way, volts in (("up", rail - 0.3), ("down", 3.4)):
            said, made = point.get("nominal_ma", {}).get(way, 0.0), sum(1000 * volts / ohm for ohm in ohms)
            if abs(said - made) > 0.03 * made:
                yield places.entry("load_point", index), (f"load point {point['name']}: nominal_ma {way} is {said}, its resistors give "
                                                          f"{made:.3g} mA; make them agree")


def _rules(whole: Fixture, places: Places) -> Iterator[Mistake]:
    lock = whole["interlock"]
    if lock["load_outputs"] != 1:
        yield places.key("interlock", "load_outputs"), "the firmware loads one position at a time; load_outputs must be 1"
    if lock["dead_man_ms"] > lock["watchdog_ms"]:
        yield places.key("interlock", "dead_man_ms"), ("the dead-man is slower than the watchdog, so a stuck program is "
                                                       "restarted with the chip powered; make it faster")
    if lock["verified_pin_ma"] > tables.short_ma(whole, "S", 1):
        yield places.key("interlock", "verified_pin_ma"), "a verified pin counts for more than a short; lower it"


def budget(raw: dict[str, Any], components: list[Part], places: Places) -> list[Mistake]:
    """Mistakes of currents."""
    whole = fixture(raw)
    return [*_pins(whole, components), *_multiplexers(whole, places), *_groups(whole, places), *_nominal(whole, places), *_rules(whole, places)]
