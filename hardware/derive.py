"""Write everything that follows from hardware/wiring.toml.

    python -m hardware.derive            # write
    python -m hardware.derive --check    # exit 1, naming each stale file

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

import json
import sys
from typing import Any

from hardware import derive_c, tables
from hardware.wiring import REDUCED, Fixture, load
from protocol import emit

DRIVE_AND_LOAD = ("strong drive", "medium drive", "weak load", "trickle load", "calibration reference", "level drive",
                  "heavy load", "reference bias", "shunt", "pedestal", "sense gain, input", "sense gain, output",
                  "sense input", "trip level, upper", "trip level, lower", "supply switch base", "supply switch off",
                  "ground switch base", "ground switch off")


def _resistors(fixture: Fixture) -> dict[str, dict[str, float]]:
    """Role -> ohm and tolerance; all resistors of a role are alike."""
    out: dict[str, dict[str, float]] = {}
    for role in DRIVE_AND_LOAD:
        values = {(p["ohm"], p["tolerance"]) for p in fixture["part"] if p.get("role") == role}
        if len(values) != 1:
            raise ValueError(f"resistors of role \"{role}\" have {len(values)} different values, expected one")
        ohm, tolerance = values.pop()
        out[_role(role)] = {"ohm": ohm, "tolerance": tolerance}
    return out


def _role(name: str) -> str:
    return name.replace(",", "").replace(" ", "_")


def _designators(fixture: Fixture) -> dict[str, Any]:
    """Role -> designator on the board; where there are several, a list, or position -> designator."""
    out: dict[str, Any] = {}
    for part in fixture["part"]:
        if "role" not in part:
            continue
        role, ref = _role(part["role"]), part["ref"]
        if "position" in part:
            out.setdefault(role, {})[str(part["position"])] = ref
        elif role in out:
            out[role] = [*(out[role] if isinstance(out[role], list) else [out[role]]), ref]
        else:
            out[role] = ref
    return out


def _values(fixture: Fixture) -> dict[str, dict[str, float]]:
    """Designator -> `ohm` or `nf`, and `tolerance`, of resistors and capacitors that are there once only."""
    return {p["ref"]: {k: p[k] for k in ("ohm", "nf", "tolerance") if k in p} for p in fixture["part"]
            if p["kind"] in ("resistor", "capacitor") and "position" not in p}


def _board_pins(fixture: Fixture) -> dict[str, str]:
    """Net -> pin of the controller board ("M24" -> "D22")."""
    return {wire["net"]: pin for pin, wire in fixture["controller"]["wires"].items() if wire["net"]}


def _level_filter(fixture: Fixture) -> dict[str, float]:
    """Ohms and nanofarads of each of the two equal stages behind the PWM."""
    parts = [p for p in fixture["part"] if p.get("role") == "level filter"]
    ohms, farads = ({p[unit] for p in parts if unit in p} for unit in ("ohm", "nf"))
    if len(ohms) != 1 or len(farads) != 1:
        raise ValueError("the two stages of the level filter differ")
    return {"ohm": ohms.pop(), "nf": farads.pop()}


def _by_position(fixture: Fixture, values: dict[int, int]) -> list[int | None]:
    """Index: position - 1; None where the build has no position."""
    return [values.get(k) for k in range(1, fixture["socket"]["positions"] + 1)]


def _group_index(fixture: Fixture, line: str) -> list[int | None]:
    wires = tables.wires(fixture)
    return _by_position(fixture, {k: tables.group_of(fixture, wires[f"{line}{k}"]) for k in tables.positions(fixture)})


def _packages(fixture: Fixture) -> list[int | None]:
    """Position -> index of its multiplexer, the one on INH_A being 0."""
    return _by_position(fixture, {k: "ABC".index(inhibit[-1]) for k, (inhibit, _) in tables.sense_map(fixture).items()})


def host_model(fixture: Fixture) -> dict[str, Any]:
    """What the host's measurement model and planner need. Volts, ohms, milliamperes, picofarads as the names say."""
    mux = tables.by_role(fixture, "load selector")
    reference = next(p for p in fixture["part"] if p["kind"] == "lm4040")
    return {
        "fixture": fixture["fixture"],
        "wiring_id": fixture.id,
        "specimen": fixture["specimen"],
        "designator": _designators(fixture),
        "value": _values(fixture),
        "board_pin": _board_pins(fixture),
        "socket": {**fixture["socket"], "present": fixture.positions},
        "supply": fixture["supply"],
        "driver_ohm": fixture["controller"]["driver_ohm"],
        "pin_leak_ua": fixture["controller"]["leak_ua"],
        "adc": fixture["adc"],
        "voltage_reference": {"volts": reference["volts"], "tolerance": reference["tolerance"]},
        "resistor": _resistors(fixture),
        "mux": fixture["kind"]["hc4051"],
        "register_output_ohm": fixture["kind"]["hc595"]["output_ohm"],
        "amplifier": fixture["kind"]["mcp6004"],
        "supply_switch": fixture["kind"]["pnp"],
        "ground_switch": fixture["kind"]["npn"],
        "level_filter": _level_filter(fixture),
        "capacitance_pf": fixture["kind"]["board"],
        "power": fixture["power"],
        "load_selector": mux["channels"],
        "sense_mux": _packages(fixture),
        "load_point": fixture["load_point"],
        "icc_gain_ohm": tables.icc_gain(fixture),
        "trip": {"ratio": tables.trip_ratio(fixture), "total_ma": fixture["interlock"]["trip_ma"]},
        "interlock": fixture["interlock"],
        "budget_ma": {
            "groups": [g["limit_ma"] for g in fixture["port_group"]],
            "total": fixture["controller"]["total_budget_ma"],
            "strong_group": _group_index(fixture, "S"),
            "medium_group": _group_index(fixture, "M"),
            "strong_short": round(max(tables.short_ma(fixture, "S", k) for k in tables.positions(fixture)), 2),
            "medium_short": round(max(tables.short_ma(fixture, "M", k) for k in tables.positions(fixture)), 2),
            "load_short": [round(tables.load_short_ma(fixture, c), 2) for c in range(8)],
            "load_group": tables.group_of(fixture, tables.wires(fixture)["LD"]),
        },
        "code": {
            "rail_short": tables.rail_short_code(fixture),
            "verify_low_max": tables.verify_codes(fixture)[0],
            "verify_high_min": tables.verify_codes(fixture)[1],
            "short_low_max": tables.short_codes(fixture)[0],
            "short_high_min": tables.short_codes(fixture)[1],
        },
        "settle_us": tables.settle_us(fixture),
    }


def _host_file(fixture: Fixture) -> tuple[str, str]:
    return f"host/sagbench/fixtures/{fixture['fixture']['name']}.json", json.dumps(host_model(fixture), indent=1) + "\n"


def files(fixture: Fixture | None = None, reduced: Fixture | None = None) -> dict[str, str]:
    """Every derived file: name from the checkout's root -> text."""
    fixture, reduced = fixture or load(), reduced or load(REDUCED)
    return {
        "firmware/gen/wiring.h": derive_c.header(fixture, reduced),
        "firmware/gen/wiring.c": derive_c.source(fixture),
        **dict(_host_file(build) for build in (fixture, reduced)),
    }


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "hardware.derive"))
