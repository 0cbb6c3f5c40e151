"""The whole fixture as an ngspice circuit, from the wiring file: each part by its designator, each net by its name.

    >>> print(netlist(load(), Setup(pins={"M3": 1})).splitlines()[0])
    * bench24, typical specimen

Nothing of the circuit is said here.  What the circuit does not have is the controller's inside (a level behind its
output resistance, protection diodes, leakage) and the stray capacitances of the board, both from the wiring file too.
The models are in models.lib and models.toml.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from hardware import tables
from hardware.spice.corner import Corner
from hardware.wiring import Fixture, load

MODELS = Path(__file__).with_name("models.lib")
DISCRETE = tomllib.loads(MODELS.with_suffix(".toml").read_text())
PULL_UP = "pull-up"
REGISTER_LEAK_UA = 0.5     # output off, 25 C: 74HC595 data sheet (from memory)
LOGIC_PINS = ("SER", "SRCLK", "RCLK", "SRCLR", "QH2")
AMPLIFIERS = ("A", "B", "C", "D")


@dataclass(frozen=True)
class Setup:
    """How the fixture stands, and what is in its socket.

    pins      net of a controller pin -> 0, 1, "pull-up", or the text of an ngspice source; all others are inputs
    supply    positions whose supply switch is told to be on; ground likewise
    sense     position that is tied to node K, 0 for none; load: channel of the load selector
    enabled   the dead-man's output is held low from outside, as a pumping controller would; None: left to the pump
    sampling  the text of an ngspice source: 1 V while the converter's sampling capacitor is on node K
    socket    lines of ngspice: what is between Z1 .. Z24
    rail_v    volts of the supply; None: the corner's
    """

    pins: Mapping[str, int | str] = field(default_factory=dict)
    supply: Sequence[int] = ()
    ground: Sequence[int] = ()
    sense: int = 0
    load: int = 0
    enabled: bool | None = True
    sampling: str = "1"
    socket: Sequence[str] = ()
    rail_v: float | None = None


def node(net: str) -> str:
    """ngspice's name of a net."""
    return "0" if net == "GND" else net


def levels(fixture: Fixture, setup: Setup) -> dict[str, int]:
    """Net of a register output or multiplexer inhibit -> level that the setup asks for."""
    out = {f"P{k}": int(k not in setup.supply) for k in fixture["power"]["supply_positions"]}
    out |= {f"N{k}": int(k in setup.ground) for k in fixture["power"]["ground_positions"]}
    sensed = tables.sense_map(fixture)
    out |= {inhibit: 1 for inhibit, _ in sensed.values()}
    inhibit, channel = sensed.get(setup.sense, ("", 0))
    if inhibit:
        out[inhibit] = 0
    for family, number in (("SENSE", channel), ("LOAD", setup.load)):
        out |= {f"{family}_{letter}": number >> bit & 1 for bit, letter in enumerate("ABC")}
    return out


# ------------------------------------------------------------------ parts
Lines = Iterator[str]


class _Writer:
    """Writes the lines of every kind of part."""

    def __init__(self, fixture: Fixture, setup: Setup, corner: Corner) -> None:
        self.fixture, self.setup, self.corner = fixture, setup, corner
        self.levels = levels(fixture, setup)
        self._loose = 0

    def pin(self, net: str) -> str:
        """The node of a pin; pins on no net get a node each."""
        if net not in ("NC", ""):
            return node(net)
        self._loose += 1
        return f"nc{self._loose}"

    def pins(self, part: Mapping[str, Any], names: str) -> str:
        return " ".join(self.pin(part["pins"][name]) for name in names.split())

    def resistor(self, p: Mapping[str, Any]) -> Lines:
        yield f"{p['ref']} {self.pins(p, '1 2')} {self.corner.toleranced('resistor', p['ohm'], p['tolerance'], p['ref']):.6g}"

    def capacitor(self, p: Mapping[str, Any]) -> Lines:
        yield f"{p['ref']} {self.pins(p, '1 2')} {self.corner.toleranced('capacitor', p['nf'], p['tolerance'], p['ref']):.6g}n"

    def transistor(self, p: Mapping[str, Any]) -> Lines:
        model, values = _discrete(p["type"])
        spans = self.fixture["kind"][p["kind"]]
        values["BF"] = self.corner.of("gain", spans["beta"], p["ref"])
        # The model has the typical saturation resistance; what a specimen has more is in its collector.
        ohm = spans["saturation_ohm"]
        values["RC"] += max(0.0, self.corner.of("saturation", ohm, p["ref"]) - ohm["typ"])
        yield f"{p['ref']} {self.pins(p, 'C B E')} M{p['ref']}"
        yield f".model M{p['ref']} {model}({_text(values)})"
        leak = self.corner.of("leakage", spans["leak_na"], p["ref"])
        yield f"I{p['ref']} {self.pins(p, 'E C')} {abs(leak) if model == 'PNP' else -abs(leak):.6g}n"

    def diode(self, p: Mapping[str, Any]) -> Lines:
        model, values = _discrete(p.get("type", p["kind"]))
        yield f"{p['ref']} {self.pins(p, 'A K')} M{p['ref']}"
        yield f".model M{p['ref']} {model}({_text(values)})"

    def hc4051(self, p: Mapping[str, Any]) -> Lines:
        spans = self.fixture["kind"]["hc4051"]
        channels = [self.pin(net) for net in p["channels"]]
        yield (f"X{p['ref']} {' '.join(channels)} {self.pin(p['common'])} {self.pins(p, 'A B C INH VCC VEE GND')} hc4051 "
               f"ron={self.corner.of('channel', spans['ron_ohm'], p['ref']):.6g}")
        leak = self.corner.of("leakage", spans["leak_off_ua"], p["ref"])
        for index, channel in enumerate(channels):
            yield f"I{p['ref']}_{index} 0 {channel} {leak:.6g}u"
        yield f"I{p['ref']} 0 {self.pin(p['common'])} {self.corner.of('leakage', spans['leak_common_ua'], p['ref']):.6g}u"

    def hc595(self, p: Mapping[str, Any]) -> Lines:
        ohm = self.corner.of("register", self.fixture["kind"]["hc595"]["output_ohm"], p["ref"])
        leak = self.corner.of("leakage", {"max": REGISTER_LEAK_UA}, p["ref"])
        share = {"min": 0.3, "typ": 0.5, "max": 0.7}[self.corner.end("threshold", p["ref"])]   # VIL, VIH of 74HC: data sheet
        for pin in LOGIC_PINS:                                    # they carry no current; what they shift is in the setup
            yield f"R{p['ref']}_{pin} {self.pins(p, pin)} 0 1g"
        for index, net in enumerate(p["outputs"]):
            name = f"{p['ref']}_q{index}"
            yield f"V{name} {name}_level 0 {self.levels.get(net, 0)}"
            yield f"V{name}_a {name}_out {self.pin(net)} 0"
            yield f"X{name} {name}_out {name}_level {self.pins(p, 'OE VCC GND')} hc595_output rout={ohm:.6g} vth={share}"
            yield f"I{name} 0 {name}_out {leak:.6g}u"

    def mcp6004(self, p: Mapping[str, Any]) -> Lines:
        spans = self.fixture["kind"]["mcp6004"]
        offset = self.corner.of("offset", spans["offset_mv"], p["ref"])
        ohm = self.corner.of("driver", spans["output_ohm"], p["ref"])
        for letter in AMPLIFIERS:
            yield (f"X{p['ref']}{letter} {self.pins(p, f'{letter}P {letter}N {letter}O VDD VSS')} mcp6004 "
                   f"vos={offset:.6g}m rout={ohm:.6g}")

    def lm4040(self, p: Mapping[str, Any]) -> Lines:
        volts = self.corner.toleranced("reference", p["volts"], p["tolerance"], p["ref"])
        yield f"X{p['ref']} {self.pins(p, 'K A')} lm4040 volts={volts:.6g} rz={self.fixture['kind']['lm4040']['dynamic_ohm']}"

    def nothing(self, p: Mapping[str, Any]) -> Lines:
        """Parts that only bring nets together, or are open."""
        return iter(())

    # ---------------------------------------------------------- what is not a part
    def controller(self) -> Lines:
        control = self.fixture["controller"]
        ohm = self.corner.of("driver", control["driver_ohm"], control["ref"])
        leak = self.corner.of("leakage", control["leak_ua"], control["ref"])
        pull = 1000 * self.corner.of("resistor", control["pull_up_kohm"], control["ref"])
        supply = node(self.fixture["supply"]["net"])
        for net in tables.wires(self.fixture):
            yield from (f"Dh_{net} {net} {supply} CLAMP", f"Dl_{net} 0 {net} CLAMP", f"I_{net} 0 {net} {leak:.6g}u")
            state = self.levels.get(net, self.setup.pins.get(net))
            if state == PULL_UP:
                yield f"Rp_{net} {net} {supply} {pull:.6g}"
            elif state is not None:
                rail = supply if state == 1 else "0"
                yield f"Vp_{net} p_{net} {rail} {state if isinstance(state, str) else 0}"
                yield f"Rp_{net} p_{net} {net} {ohm:.6g}"
        converter = self.fixture["adc"]
        yield f"Vsampling sampling 0 {self.setup.sampling}"
        yield f"Xsample K sample sampling channel ron={converter['sample_ohm']['max']}"
        yield f"Csample sample 0 {converter['sample_pf']}p"

    def surroundings(self) -> Lines:
        supply, board = self.fixture["supply"], self.fixture["kind"]["board"]
        volts = self.corner.of("supply", {"min": supply["min_v"], "typ": supply["nominal_v"], "max": supply["max_v"]})
        yield f"Vsupply {node(supply['net'])} 0 {volts if self.setup.rail_v is None else self.setup.rail_v:.6g}"
        for k in tables.positions(self.fixture):
            yield f"Cz{k} Z{k} 0 {board['position_pf']}p"
        yield f"Cnode_k K 0 {board['node_k_pf']}p"
        if self.setup.enabled is not None:
            yield f"Vheld OE_N 0 {0 if self.setup.enabled else supply['nominal_v']}"


KINDS: dict[str, Callable[[_Writer, Mapping[str, Any]], Lines]] = {
    "resistor": _Writer.resistor, "capacitor": _Writer.capacitor, "pnp": _Writer.transistor, "npn": _Writer.transistor,
    "diode": _Writer.diode, "led": _Writer.diode, "hc4051": _Writer.hc4051, "hc595": _Writer.hc595, "mcp6004": _Writer.mcp6004,
    "lm4040": _Writer.lm4040, "button": _Writer.nothing, "zif_socket": _Writer.nothing,
}


def _discrete(name: str) -> tuple[str, dict[str, float]]:
    entry = DISCRETE[name]
    entry = DISCRETE[entry["like"]] if "like" in entry else entry
    return entry["type"], dict(entry["parameters"])


def _text(values: Mapping[str, float]) -> str:
    return " ".join(f"{name}={value:.6g}" for name, value in values.items())


def netlist(fixture: Fixture | None = None, setup: Setup | None = None, corner: Corner | None = None) -> str:
    """The circuit, without analysis; lines of ngspice.  Raises KeyError for a kind of part without a model."""
    fixture, setup, corner = fixture or load(), setup or Setup(), corner or Corner()
    writer = _Writer(fixture, setup, corner)
    lines = [f"* {fixture['fixture']['name']}, {corner.name} specimen", f".include {MODELS}"]
    for part in fixture["part"]:
        lines += KINDS[part["kind"]](writer, part)
    lines += [*writer.controller(), *writer.surroundings(), *setup.socket]
    return "\n".join(lines) + "\n"
