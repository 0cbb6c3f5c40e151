"""The wiring in C: firmware/gen/wiring.h and wiring.c.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import math
from collections.abc import Iterable

from hardware import tables
from hardware.wiring import Fixture

NOTICE = "/* Written by `python -m hardware.derive` from hardware/wiring.toml: change that, not this.\n" \
         " * SPDX-License-Identifier: CERN-OHL-S-2.0 */\n"
LINES = ("RXD", "TXD", "OE_N", "BUTTON", "LD", "PWM", "PUMP", "LAMP", "SER_BACK", "SER_OUT", "SER_CLK", "LATCH",
         "INH_A", "INH_B", "INH_C")


def _tenths(milliamperes: float) -> int:
    return math.ceil(round(milliamperes * 10, 6))


def _defines(pairs: Iterable[tuple[str, object, str]]) -> str:
    return "\n".join(f"#define WIRING_{name} {value}" + (f"  /* {doc} */" if doc else "")
                     for name, value, doc in pairs) + "\n"


def _constants(fixture: Fixture, strapped: Fixture) -> str:
    lock, control, adc = fixture["interlock"], fixture["controller"], fixture["adc"]
    shorts = {line: max(tables.short_ma(fixture, line, k) for k in tables.positions(fixture)) for line in "MS"}
    low, high = tables.verify_codes(fixture)
    return _defines([
        ("ID", f"0x{fixture.id:08X}UL", "CRC-32 of the wiring"),
        ("ID_STRAPPED", f"0x{strapped.id:08X}UL", f"of {strapped['fixture']['name']}, which ties the strap to ground"),
        ("POSITIONS", fixture["socket"]["positions"], ""),
        ("PORTS", len(tables.PORTS), "port index: A B C D E F G H J K L = 0..10"),
        ("GROUPS", len(fixture["port_group"]), "groups of port pins whose currents add"),
        ("REGISTERS", len(tables.registers(fixture)), "index 0 is nearest to the controller and shifted last"),
        ("SUPPLIES", len(fixture["power"]["supply_positions"]), ""),
        ("GROUNDS", len(fixture["power"]["ground_positions"]), ""),
        ("MUXES", len({inh for inh, _ in tables.sense_map(fixture).values()}), "sense multiplexers"),
        ("TOTAL_BUDGET", _tenths(control["total_budget_ma"]), "0.1 mA, all port pins together"),
        ("PIN_LIMIT", _tenths(control["pin_limit_ma"]), "0.1 mA"),
        ("STRONG_SHORT", _tenths(shorts["S"]), "0.1 mA, worst of an S line into a short"),
        ("MEDIUM_SHORT", _tenths(shorts["M"]), "0.1 mA, worst of an M line into a short"),
        ("VERIFIED_PIN", _tenths(lock["verified_pin_ma"]), "0.1 mA, what a verified S line counts"),
        ("LOAD_OUTPUTS", lock["load_outputs"], "positions under load at once"),
        ("LEASE_MS", f"{lock['lease_ms']}U", ""), ("WATCHDOG_MS", lock["watchdog_ms"], ""),
        ("DEAD_MAN_MS", lock["dead_man_ms"], "PUMP still for so long: switches off"),
        ("STRONG_UNWATCHED_US", f"{lock['strong_unwatched_us']}U", "longest strong drive against a short"),
        ("DISCHARGE_MS", lock["discharge_ms"], ""),
        ("RAIL_SHORT_CODE", tables.rail_short_code(fixture), "avcc code, below: rails shorted"),
        ("VERIFY_LOW_MAX", low, "avcc code, S low: above is not verified"),
        ("VERIFY_HIGH_MIN", high, "avcc code, S high: below is not verified"),
        ("TRIP_ICC_CODE", math.floor(tables.trip_ratio(fixture) * tables.CODES), "avcc code of ICC where the trip lets go"),
        ("CLOCK_HZ", f"{control['clock_hz']}UL", ""), ("ADC_PRESCALER", control["clock_hz"] // adc["clock_hz"], ""),
        ("ADC_CONVERSION_US", round(1e6 * adc["clocks_per_conversion"] / adc["clock_hz"]), ""),
        ("AREF_SETTLE_MS", adc["aref_settle_ms"], "after a change of reference"),
        ("ADDRESS_REGISTER", tables.register_bit(fixture, "SENSE_A")[0], "index of the register of multiplexer addresses"),
    ])


def _lines(fixture: Fixture) -> str:
    pairs = []
    wires = tables.wires(fixture)
    for net in LINES:
        port, bit = tables.port_bit(wires[net])
        pairs += [(f"{net}_PORT", port, wires[net]), (f"{net}_BIT", bit, "")]
    strap = fixture["controller"]["wires"][fixture["controller"]["strap"]["pin"]]["port"]
    port, bit = tables.port_bit(strap)
    pairs += [("STRAP_PORT", port, strap), ("STRAP_BIT", bit, "")]
    pairs += [(f"ADC_{name}", channel, "converter channel") for name, channel in fixture["adc"]["channels"].items()]
    return _defines(pairs)


def _masks(fixture: Fixture, family: str) -> list[int]:
    out = [0] * len(tables.PORTS)
    for k in tables.positions(fixture):
        port, bit = tables.port_bit(tables.wires(fixture)[f"{family}{k}"])
        out[port] |= 1 << bit
    return out


DECLARATIONS = """
struct wiring_line {
    uint8_t port;   /* index */
    uint8_t mask;   /* of its bit */
    uint8_t group;  /* index of its port group */
};
struct wiring_sense {
    uint8_t mux;      /* 0..WIRING_MUXES-1: which INH line */
    uint8_t channel;  /* 0..7 */
};
struct wiring_switch {
    uint8_t position;
    uint8_t reg;   /* index of the register */
    uint8_t mask;  /* of the output's bit */
};

/* Index: position - 1. */
extern const struct wiring_line wiring_medium[WIRING_POSITIONS];
extern const struct wiring_line wiring_strong[WIRING_POSITIONS];
extern const struct wiring_sense wiring_sense[WIRING_POSITIONS];
/* By port index: which of its bits are M or S lines. */
extern const uint8_t wiring_medium_mask[WIRING_PORTS];
extern const uint8_t wiring_strong_mask[WIRING_PORTS];
/* INH lines of the sense multiplexers: low selects. */
extern const struct wiring_line wiring_inhibit[WIRING_MUXES];
/* Channel -> bits of the address register; sense and load bits are ORed. */
extern const uint8_t wiring_sense_bits[8];
extern const uint8_t wiring_load_bits[8];
/* Supply (P) switches are on with the output LOW, ground (N) switches with it HIGH. */
extern const struct wiring_switch wiring_supply[WIRING_SUPPLIES];
extern const struct wiring_switch wiring_ground[WIRING_GROUNDS];
/* Register contents with every switch off. */
extern const uint8_t wiring_registers_off[WIRING_REGISTERS];
/* 0.1 mA: limit of a port group; the sum of sinking lines and that of sourcing lines each obey it. */
extern const uint16_t wiring_group_limit[WIRING_GROUPS];
/* 0.1 mA: worst current of LD through each load selector channel into a short. */
extern const uint16_t wiring_load_short[8];
/* Microseconds for node K and a position to settle, by load selector channel. */
extern const uint16_t wiring_settle_us[8];
/* avcc codes that mean a short in a `load` step, by its `lines`: loaded up, at most; loaded down, at least. */
extern const int16_t wiring_short_low_max[4];
extern const int16_t wiring_short_high_min[4];
/* REFS1:0, by enum reference of the protocol. */
extern const uint8_t wiring_reference_bits[3];
"""


def header(fixture: Fixture, strapped: Fixture) -> str:
    """Text of wiring.h. strapped: the reduced build that the same image serves."""
    return (f"{NOTICE}\n#ifndef SAGBENCH_GEN_WIRING_H\n#define SAGBENCH_GEN_WIRING_H\n\n#include <stdint.h>\n\n"
            f"{_constants(fixture, strapped)}\n/* Single lines: port index and bit. */\n{_lines(fixture)}{DECLARATIONS}\n#endif\n")


def _array(kind: str, name: str, size: str, items: Iterable[object]) -> str:
    return f"const {kind} {name}[{size}] = {{\n" + "".join(f"    {item},\n" for item in items) + "};\n"


def _line(fixture: Fixture, net: str) -> str:
    pin = tables.wires(fixture)[net]
    port, bit = tables.port_bit(pin)
    return f"{{ {port}, 0x{1 << bit:02X}, {tables.group_of(fixture, pin)} }}"


def _switches(fixture: Fixture, letter: str, where: list[int]) -> list[str]:
    out = []
    for k in where:
        register, bit = tables.register_bit(fixture, f"{letter}{k}")
        out.append(f"{{ {k}, {register}, 0x{1 << bit:02X} }}")
    return out


def _registers_off(fixture: Fixture) -> list[int]:
    out = [0] * len(tables.registers(fixture))
    for k in fixture["power"]["supply_positions"]:
        register, bit = tables.register_bit(fixture, f"P{k}")
        out[register] |= 1 << bit
    return out


def source(fixture: Fixture) -> str:
    """Text of wiring.c."""
    where = tables.positions(fixture)
    sense = tables.sense_map(fixture)
    muxes = sorted({inh for inh, _ in sense.values()})
    low, high = tables.short_codes(fixture)
    power = fixture["power"]
    out = [NOTICE, '#include "wiring.h"\n']
    for name, letter in (("medium", "M"), ("strong", "S")):
        out.append(_array("struct wiring_line", f"wiring_{name}", "WIRING_POSITIONS",
                          [_line(fixture, f"{letter}{k}") for k in where]))
    out += [
        _array("struct wiring_sense", "wiring_sense", "WIRING_POSITIONS",
               [f"{{ {muxes.index(sense[k][0])}, {sense[k][1]} }}" for k in where]),
        _array("uint8_t", "wiring_medium_mask", "WIRING_PORTS", [f"0x{m:02X}" for m in _masks(fixture, "M")]),
        _array("uint8_t", "wiring_strong_mask", "WIRING_PORTS", [f"0x{m:02X}" for m in _masks(fixture, "S")]),
        _array("struct wiring_line", "wiring_inhibit", "WIRING_MUXES", [_line(fixture, inh) for inh in muxes]),
        _array("uint8_t", "wiring_sense_bits", "8", [f"0x{b:02X}" for b in tables.address_bits(fixture, "SENSE")]),
        _array("uint8_t", "wiring_load_bits", "8", [f"0x{b:02X}" for b in tables.address_bits(fixture, "LOAD")]),
        _array("struct wiring_switch", "wiring_supply", "WIRING_SUPPLIES",
               _switches(fixture, "P", power["supply_positions"])),
        _array("struct wiring_switch", "wiring_ground", "WIRING_GROUNDS",
               _switches(fixture, "N", power["ground_positions"])),
        _array("uint8_t", "wiring_registers_off", "WIRING_REGISTERS", [f"0x{b:02X}" for b in _registers_off(fixture)]),
        _array("uint16_t", "wiring_group_limit", "WIRING_GROUPS",
               [_tenths(group["limit_ma"]) for group in fixture["port_group"]]),
        _array("uint16_t", "wiring_load_short", "8", [_tenths(tables.load_short_ma(fixture, c)) for c in range(8)]),
        _array("uint16_t", "wiring_settle_us", "8", tables.settle_us(fixture)),
        _array("int16_t", "wiring_short_low_max", "4", low),
        _array("int16_t", "wiring_short_high_min", "4", high),
        _array("uint8_t", "wiring_reference_bits", "3", [r["code"] for r in fixture["adc"]["reference"]]),
    ]
    return "\n".join(out)
