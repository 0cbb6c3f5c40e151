"""What follows from the wiring file by arithmetic: tables that firmware and host both need.

Currents of this module are in milliamperes; worst cases take the highest
supply, the lowest resistance of the tolerance band and the lowest driver
resistance.  Pure: Fixture in, plain values out.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import math
from typing import Any

from hardware.wiring import Fixture

PORTS = "ABCDEFGHJKL"                     # index of a port in every derived table (there is no port I)
CODES = 1024                              # of the 10-bit converter
SETTLE_TAUS = 8                           # exp(-8) = 0.03 %, a third of a code at full scale


def wires(fixture: Fixture) -> dict[str, str]:
    """Net -> port pin ("S1" -> "PK7") of every controller wire that is used."""
    return {w["net"]: w["port"] for w in fixture["controller"]["wires"].values() if w["net"]}


def port_bit(pin: str) -> tuple[int, int]:
    """"PK7" -> (index of port K, 7)."""
    return PORTS.index(pin[1]), int(pin[2])


def group_of(fixture: Fixture, pin: str) -> int:
    """Index of the port group a port pin counts in."""
    return next(i for i, group in enumerate(fixture["port_group"]) if pin in group["ports"])


def positions(fixture: Fixture) -> list[int]:
    """1..24, without those that the build leaves out."""
    return fixture.positions


def resistor_at(fixture: Fixture, net: str) -> dict[str, Any]:
    """The one resistor with a terminal on `net`."""
    found = [p for p in fixture["part"] if p["kind"] == "resistor" and net in p["pins"].values()]
    if len(found) != 1:
        raise ValueError(f"net {net} has {len(found)} resistors, expected one")
    return dict(found[0])


def by_role(fixture: Fixture, role: str) -> dict[str, Any]:
    """The first part with this role."""
    return dict(next(p for p in fixture["part"] if p.get("role") == role))


def least_ohm(part: dict[str, Any]) -> float:
    """Lower end of a resistor's band."""
    return float(part["ohm"] * (1 - part["tolerance"]))


def short_ma(fixture: Fixture, line: str, position: int) -> float:
    """Worst current of line S or M of a position into a short to the other rail."""
    ohm = least_ohm(resistor_at(fixture, f"{line}{position}")) + fixture["controller"]["driver_ohm"]["min"]
    return float(1000 * fixture["supply"]["max_v"] / ohm)


def load_short_ma(fixture: Fixture, channel: int) -> float:
    """Worst current of the LD line through one channel of the load selector and a sense channel into a short."""
    net = by_role(fixture, "load selector")["channels"][channel]
    parts = [p for p in fixture["part"] if p["kind"] == "resistor" and {net, "LD"} == set(p["pins"].values())]
    if not parts:
        return 0.0
    ohm = least_ohm(parts[0]) + fixture["controller"]["driver_ohm"]["min"] + 2 * fixture["kind"]["hc4051"]["ron_ohm"]["min"]
    return float(1000 * fixture["supply"]["max_v"] / ohm)


def sense_map(fixture: Fixture) -> dict[int, tuple[str, int]]:
    """Position -> (net of its multiplexer's INH, channel)."""
    out = {}
    for mux in (p for p in fixture["part"] if p["kind"] == "hc4051" and p["pins"]["INH"].startswith("INH_")):
        for channel, net in enumerate(mux["channels"]):
            if net.startswith("Z"):
                out[int(net[1:])] = (mux["pins"]["INH"], channel)
    return out


def registers(fixture: Fixture) -> list[dict[str, Any]]:
    """The shift registers, nearest to the controller first."""
    return sorted((p for p in fixture["part"] if p["kind"] == "hc595"), key=lambda p: p["chain"])


def register_bit(fixture: Fixture, net: str) -> tuple[int, int]:
    """Net of a register output -> (index in the chain, bit)."""
    for index, register in enumerate(registers(fixture)):
        if net in register["outputs"]:
            return index, register["outputs"].index(net)
    raise ValueError(f"no register output is on net {net}")


def address_bits(fixture: Fixture, family: str) -> list[int]:
    """Channel 0..7 -> bits of the address register, for SENSE or LOAD."""
    bits = [register_bit(fixture, f"{family}_{letter}")[1] for letter in "ABC"]
    return [sum(((channel >> i) & 1) << bit for i, bit in enumerate(bits)) for channel in range(8)]


def icc_gain(fixture: Fixture) -> float:
    """Ohms: volts of the ICC amplifier for each ampere through the shunt."""
    return float(by_role(fixture, "shunt")["ohm"] * by_role(fixture, "sense gain, output")["ohm"]
                 / by_role(fixture, "sense gain, input")["ohm"])


def trip_ratio(fixture: Fixture) -> float:
    """Trip level as a fraction of the supply."""
    upper, lower = by_role(fixture, "trip level, upper")["ohm"], by_role(fixture, "trip level, lower")["ohm"]
    return float(lower / (upper + lower))


def rail_short_code(fixture: Fixture) -> int:
    """Code (avcc) below which the supply position, raised through the weak load, is short to ground."""
    volts = float(fixture["interlock"]["rail_short_mv"]) / 1000
    return math.ceil(volts / float(fixture["supply"]["nominal_v"]) * CODES)


def verify_codes(fixture: Fixture) -> tuple[int, int]:
    """(highest code with S low, lowest with S high) that keep a verified pin within interlock.verified_pin_ma."""
    ohm = min(least_ohm(resistor_at(fixture, f"S{k}")) for k in positions(fixture))
    ohm += fixture["controller"]["driver_ohm"]["min"]
    volts = fixture["interlock"]["verified_pin_ma"] / 1000 * ohm
    low = math.floor(volts / fixture["supply"]["max_v"] * CODES)
    return low, CODES - low


def short_codes(fixture: Fixture) -> tuple[list[int], list[int]]:
    """Codes (avcc) that mean a short in a `load` step, by its `lines`: (at most, loaded up), (at least, loaded down).

    A pin shorted to a switched rail stays within the switch's saturation (and,
    at the supply, the shunt's drop) of it.  Without S a short is harmless and
    the limits are out of reach: -1 and 1024.
    """
    supply = fixture["supply"]
    npn, pnp = fixture["kind"]["npn"], fixture["kind"]["pnp"]
    shunt = by_role(fixture, "shunt")
    low, high = [], []
    for lines in range(4):
        if not lines & 2:
            low.append(-1)
            high.append(CODES)
            continue
        amperes = sum(max(short_ma(fixture, line, k) for k in positions(fixture)) for line in ("M", "S")[not lines & 1:]) / 1000
        up = amperes * npn["saturation_ohm"]["max"] + npn["saturation_mv"]["max"] / 1000
        down = (amperes * (pnp["saturation_ohm"]["max"] + shunt["ohm"] * (1 + shunt["tolerance"]))
                + pnp["saturation_mv"]["max"] / 1000)
        low.append(math.floor(up / supply["max_v"] * CODES))
        high.append(CODES - math.floor(down / supply["max_v"] * CODES))
    return low, high


def settle_us(fixture: Fixture) -> list[int]:
    """By load selector channel: microseconds for node K, a position and the converter's sampling capacitor to settle behind that
    resistor."""
    kind, selector = fixture["kind"], by_role(fixture, "load selector")
    ron = kind["hc4051"]["ron_ohm"]["max"]
    farad = (kind["board"]["position_pf"] + kind["board"]["node_k_pf"] + fixture["adc"]["sample_pf"]) * 1e-12
    out = []
    for net in selector["channels"]:
        ohm = next((p["ohm"] for p in fixture["part"] if p["kind"] == "resistor" and net in p["pins"].values()
                    and net.startswith("L_")), by_role(fixture, "medium drive")["ohm"])
        out.append(math.ceil((ohm + 2 * ron + fixture["controller"]["driver_ohm"]["max"]) * farad * SETTLE_TAUS * 1e6))
    return out
