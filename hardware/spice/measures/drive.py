"""Currents of the controller's pins and port groups, of the registers and the multiplexers: milliamperes.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from collections.abc import Iterable, Mapping

from hardware import tables
from hardware.spice.bench import Bench, driver
from hardware.spice.netlist import PULL_UP, Setup

_RAILS = {1: "0", 0: "V5"}         # what a line at this level is shorted to


def _shorts(bench: Bench, level: int, positions: Iterable[int] | None = None) -> list[str]:
    return [f"Vshort{k} Z{k} {_RAILS[level]} 0" for k in positions or tables.positions(bench.fixture)]


def _sum_ma(currents: Mapping[str, float], nets: Iterable[str]) -> float:
    """Sourced or sunk together, whichever is more: data sheets limit the two sums apart."""
    values = [1000 * currents[driver(net)] for net in nets if driver(net) in currents]
    return max(sum(v for v in values if v > 0), -sum(v for v in values if v < 0))


def _driven(bench: Bench, level: int) -> dict[str, int]:
    """All other outputs of the controller: the lamp, and levels that nothing pulls at."""
    return {net: level for net in ("LAMP", "PWM", "PUMP", "SER_OUT", "SER_CLK", "LATCH") if net in bench.ports}


def line_short(bench: Bench, line: str, level: int) -> float:
    """The worst pin of all S or M lines, each into a short to the other rail."""
    nets = [f"{line}{k}" for k in tables.positions(bench.fixture)]
    found = bench.at_rest(Setup(pins=dict.fromkeys(nets, level), socket=_shorts(bench, level)), [driver(net) for net in nets])
    return max(abs(1000 * amperes) for amperes in found.values())


def load_short(bench: Bench, level: int) -> float:
    """The LD pin through the load of the selector that lets most pass, into a shorted position."""
    found = [bench.at_rest(Setup(pins={"LD": level}, sense=1, load=channel, socket=_shorts(bench, level, [1])), [driver("LD")])
             for channel in range(8)]
    return max(abs(1000 * one[driver("LD")]) for one in found)


def other_pin(bench: Bench, level: int) -> float:
    """The worst of the outputs that are no lines, with the pull-up of the button's input."""
    pins: dict[str, int | str] = {**_driven(bench, level), "BUTTON": PULL_UP}
    inhibits = {inhibit for inhibit, _ in tables.sense_map(bench.fixture).values()}
    outputs = [*_driven(bench, level), *inhibits]
    found = bench.at_rest(Setup(pins=pins, sense=1), [driver(net) for net in outputs])
    return max(abs(1000 * amperes) for amperes in found.values())


def group_medium(bench: Bench, group: str, level: int) -> float:
    """A port group with every M line of the fixture into a short."""
    nets = [f"M{k}" for k in tables.positions(bench.fixture)]
    pins = dict.fromkeys(nets, level) | _driven(bench, level)
    found = bench.at_rest(Setup(pins=pins, socket=_shorts(bench, level)), [driver(net) for net in pins])
    return _sum_ma(found, bench.group(group))


def _under_load(bench: Bench, position: int, level: int) -> dict[str, float]:
    """Every S line verified and drawing what a verified pin may, one position shorted under the heaviest load point."""
    heaviest = bench.fixture["load_point"][-1]
    amperes = bench.fixture["interlock"]["verified_pin_ma"] / 1000
    others = [k for k in tables.positions(bench.fixture) if k != position]
    draws = [f"Idraw{k} Z{k} {_RAILS[level]} {amperes if level else -amperes}" for k in others]
    pins = {f"S{k}": level for k in others} | {f"{line}{position}": level for line in heaviest["lines"]}
    pins |= {"LD": level} | _driven(bench, level)
    setup = Setup(pins=pins, sense=position, load=heaviest["load"], socket=[*draws, *_shorts(bench, level, [position])])
    return bench.at_rest(setup, [driver(net) for net in pins])


def group_loaded(bench: Bench, group: str, level: int) -> float:
    """A port group with every S line verified and the worst of its own positions under the heaviest load."""
    nets = bench.group(group)
    own = [k for k in tables.positions(bench.fixture) if f"S{k}" in nets or f"M{k}" in nets]
    return max(_sum_ma(_under_load(bench, k, level), nets) for k in own)


def total_loaded(bench: Bench, level: int) -> float:
    """All port groups together, one position under the heaviest load."""
    return _sum_ma(_under_load(bench, 1, level), bench.ports)


def multiplexer(bench: Bench, level: int) -> float:
    """One channel: both lines of a position into node K that the selector ties to ground, or the heaviest load into a short."""
    both = bench.at_rest(Setup(pins={"M1": 1, "S1": 1}, sense=1, load=7), [driver("M1"), driver("S1")]) if level else {}
    return max(abs(1000 * sum(both.values())), load_short(bench, level))


def register_output(bench: Bench, register: str) -> float:
    """The worst output of a register of switches, with all its switches on."""
    return max(abs(ma) for ma in _register(bench, register))


def register_package(bench: Bench, register: str) -> float:
    """All outputs of a register together."""
    return abs(sum(_register(bench, register)))


def _register(bench: Bench, register: str) -> list[float]:
    power = bench.fixture["power"]
    setup = Setup(supply=power["supply_positions"], ground=power["ground_positions"])
    names = [f"i(v{register}_q{index}_a)" for index in range(8)]
    return [1000 * amperes for amperes in bench.at_rest(setup, names).values()]
