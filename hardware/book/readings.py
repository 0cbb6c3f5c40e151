"""Tables of expected readings for the build book: ohms before the first power, volts after it, from the wiring file alone.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from math import ceil, floor, isinf, log10
from pathlib import Path
from typing import Any

from hardware import tables
from hardware.board.design import Component, components
from hardware.book.network import Ohms, between
from hardware.reduced.stages import lead
from hardware.wiring import Fixture, WiringError

READINGS = Path(__file__).with_name("readings.toml")
SWING_V = 0.025                # how near to a rail the op-amp's output comes: MCP6004 data sheet (DS21733), from memory
RAIL_NEAR_V = 0.1              # what a meter may be off between two readings of one rail; common practice


@dataclass(frozen=True)
class Reading:
    """One line of a table: where the leads go, what must show there, and what it tells. Ohms or volts by the table."""

    red: str
    black: str
    nominal: float
    least: float
    most: float
    why: str


class Points:
    """Where a builder touches a net: a pin of the controller board's headers, a socket's pin, a contact, or a lead."""

    def __init__(self, fixture: Fixture) -> None:
        self._parts = components(fixture)
        self._pin = {w["net"]: pin for pin, w in fixture["controller"]["wires"].items() if w["net"]}
        self._pin |= {fixture["supply"]["net"]: "5V", "GND": "GND"}

    def of(self, net: str) -> str:
        """The handiest place of a net.  WiringError if no part is on it."""
        if net in self._pin:
            return self._pin[net]
        ends = [(part, pad) for part in self._parts for pad, on in part.pads.items() if on == net and part.kind != "header"]
        if not ends:
            raise WiringError(f"book/readings.toml: no part is on net {net}; correct its name")
        part, pad = min(ends, key=lambda e: (not e[0].kind == "zif_socket", not e[0].name.startswith("DIP"), not _plus(e[0])))
        if part.kind == "zif_socket":
            return f"contact {pad} of {part.ref}"
        if part.name.startswith("DIP"):
            return f"pin {pad} of {part.ref}"
        return f"plus of {part.ref}" if _plus(part) and pad == "1" else f"lead {lead(part, pad)} of {part.ref}"


def _plus(part: Component) -> bool:
    return part.name.startswith("CP_")


def _nets(fixture: Fixture, entry: dict[str, Any]) -> Iterator[tuple[str, str]]:
    each = entry.get("each")
    if not each:
        yield entry["red"], entry["black"]
        return
    switched = {*fixture["power"]["supply_positions"], *fixture["power"]["ground_positions"]}
    lists = {"positions": fixture.positions, "positions without a switch": [k for k in fixture.positions if k not in switched],
             **fixture["power"]}
    there = lists[each]
    for k in there:
        red, black = (entry[side].replace("{k+1}", str(k + 1)).replace("{k}", str(k)) for side in ("red", "black"))
        if "{k+1}" not in entry["black"] or k + 1 in there:
            yield red, black


def ohms(fixture: Fixture) -> list[tuple[dict[str, Any], list[tuple[str, str, Ohms]]]]:
    """Each entry of readings.toml with (red net, black net, ohms) of each of its pairs.

    WiringError if a pair of `ohms` is not joined or one of `apart` is.
    """
    table = tomllib.loads(READINGS.read_text())
    out = []
    for room in ("ohms", "apart"):
        for entry in table[room]:
            found = [(red, black, between(fixture, red, black)) for red, black in _nets(fixture, entry)]
            for red, black, ohm in found:
                if isinf(ohm.nominal) != (room == "apart"):
                    raise WiringError(f"book/readings.toml, [[{room}]]: resistors {'do not ' if room == 'ohms' else ''}join {red} and {black}")
            out.append((entry, found))
    return out


def written(value: float, digits: int = 3, *, up: bool | None = None) -> str:
    """Ohms to so many digits: rounded, or up or down: 10470 -> "10.5 k"."""
    step = 10.0 ** (floor(log10(value)) - digits + 1)
    count = round(value / step) if up is None else ceil(value / step - 1e-6) if up else floor(value / step + 1e-6)
    rounded = count * step
    return f"{round(rounded / 1000, 6):g} k" if rounded >= 1000 else f"{round(rounded, 6):g}"


def span(ohm: Ohms) -> str:
    """`267 to 273`, rounded outwards; with four figures where the span is less than a per cent."""
    digits = 3 if ohm.most - ohm.least > 0.01 * ohm.nominal else 4
    return f"{written(ohm.least, digits, up=False)} to {written(ohm.most, digits, up=True)}"


def volt_span(one: Reading) -> str:
    """`2.486 to 2.514`, rounded outwards to millivolts below 3 V and to hundredths above."""
    scale = 1000 if one.most < 3 else 100
    return f"{floor(one.least * scale + 1e-6) / scale:g} to {ceil(one.most * scale - 1e-6) / scale:g}"


# ------------------------------------------------------------------ volts
def volts(fixture: Fixture) -> list[tuple[str, Reading]]:
    """(stage, reading) of the bring-up: "no chips" and "chips in", firmware running, socket empty, black lead at GND."""
    points, supply = Points(fixture), fixture["supply"]
    low, middle, high = supply["min_v"], supply["nominal_v"], supply["max_v"]

    def at(net: str, nominal: float, least: float, most: float, why: str) -> Reading:
        return Reading(points.of(net), "GND", nominal, least, most, why)

    ref = next(p for p in fixture["part"] if p["kind"] == "lm4040")
    bias = tables.by_role(fixture, "reference bias")
    through = (high - ref["volts"]) / tables.least_ohm(bias)
    off = ref["volts"] * ref["tolerance"] + through * fixture["kind"]["lm4040"]["dynamic_ohm"]
    drop = [v / (r1 + r2) * r1 for v, r1, r2 in _shunt(fixture, (low, middle, high))]
    upper, lower = tables.by_role(fixture, "trip level, upper"), tables.by_role(fixture, "trip level, lower")
    share = tables.trip_ratio(fixture)
    spread = share * (1 - share) * (upper["tolerance"] + lower["tolerance"])
    saturation = fixture["kind"]["npn"]["saturation_mv"]["max"] / 1000
    out = [
        ("no chips", at("V5", middle, low, high, "the supply; outside: another USB port, a shorter cable, a powered hub")),
        ("no chips", at("VBUS", middle - drop[1], low - drop[2], high, f"R320: {1000 * drop[1]:.0f} mV less than the 5 V rail")),
        ("no chips", at("VREF", ref["volts"], ref["volts"] - off, ref["volts"] + off, "U9; some 0.7 V: it is not an LM4040; the rail's 5 V: open")),
        ("no chips", at("TRIP_LEVEL", share * middle, (share - spread) * low, (share + spread) * high,
                        f"R325, R326: {share - spread:.3f} to {share + spread:.3f} of the 5 V rail")),
        ("no chips", at("OE_N", saturation, 0.0, RAIL_NEAR_V, "the pump runs and holds the registers enabled")),
        ("no chips, reset button of the controller board held",
         at("OE_N", middle, low - RAIL_NEAR_V, high, "the dead-man lets go; stays low: Q302 shorted or bridged. **Go no further**")),
    ]
    gain, pedestal = tables.icc_gain(fixture), tables.by_role(fixture, "pedestal")
    errors = [pedestal, *(tables.by_role(fixture, role) for role in ("shunt", "sense gain, output", "sense gain, input"))]
    relative = sum(p["tolerance"] for p in errors)
    offset = fixture["kind"]["mcp6004"]["offset_mv"]
    own = gain / tables.by_role(fixture, "shunt")["ohm"]         # of the amplifier's own offset
    rest = gain * middle / pedestal["ohm"]
    out += [
        ("chips in", at("V5", middle, low, high, "as before: a chip the wrong way round pulls it down and gets hot. **Cable out at once**")),
        ("chips in", at("ICC", rest, max(0.0, gain * low / pedestal["ohm"] * (1 - relative) + own * offset["min"] / 1000),
                        gain * high / pedestal["ohm"] * (1 + relative) + own * offset["max"] / 1000, "the current amplifier at rest")),
        ("chips in", at("VDAC", 0.0, 0.0, SWING_V + offset["max"] / 1000, "the level drive at rest")),
        ("chips in", at("OE_N", saturation, 0.0, RAIL_NEAR_V, "registers enabled; 5 V: the trip holds them off, see SELFTEST.md#trip")),
    ]
    return out


def _shunt(fixture: Fixture, rails: tuple[float, float, float]) -> Iterator[tuple[float, float, float]]:
    shunt, pedestal = tables.by_role(fixture, "shunt"), tables.by_role(fixture, "pedestal")
    for volt, side in zip(rails, (-1, 0, 1), strict=True):
        yield volt, shunt["ohm"] * (1 + side * shunt["tolerance"]), pedestal["ohm"] * (1 - side * pedestal["tolerance"])
