"""Chips as a drawer holds them: sound ones from typical to just inside their limits, and
bad ones with every fault at many severities.

    rng = random.Random(7)
    chip = draw(rng, "74", "LS")                      # a sound 74LS74
    chip = draw(rng, "00", "TTL", "beta", 0.6)        # a 7400 with a rather tired output
    for description, seed in population(3, 2000): ...  # a whole drawer

A description is a chip file's dict: `load(description, seed)`, `verdict(description, seed)`,
or `as_toml(description)` for a file.  The same rng state gives the same chip.  A sound
description is sound with every seed: this is checked when it is drawn, with a reserve
for the differences between pins.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

from . import databook, families
from .behaviour import PARTS
from .families import name_of
from .verdict import Figure, examine

Description = dict[str, Any]

# What is drawn by `population`: function, and its numbers.
FUNCTIONS: dict[str, str] = {
    "nand": "00 10 20 30 4011 4023", "nor": "02 27 4001", "inverter": "04 4069", "and": "08 11 4081",
    "or": "32 4071", "xor": "86 4070", "open collector": "03 05", "open-collector driver": "06 07",
    "buffer gate": "37 40", "schmitt": "14 132 4093", "d flip-flop": "74 174 175 4013",
    "jk flip-flop": "73 109 112 4027", "counter": "161 163 193 4024 4040", "ripple counter": "93 393",
    "selector": "151 153 157", "decoder": "138 139", "bus driver": "240 244", "transceiver": "245",
    "three-state gate": "125 367", "latch": "75 373 573", "octal register": "374", "adder": "283",
    "alu": "181", "shifter": "164 194", "hex buffer": "4049 4050",
}
FAMILIES = ("TTL", "H", "L", "S", "LS", "AS", "ALS", "F", "HC", "HCT", "4000")
HC_NUMBERS = ("00 02 04 08 10 11 14 20 27 30 32 74 86 109 112 132 138 139 151 153 157 161 163 164 "
              "174 175 193 194 240 244 245 373 374 393 573 125 367 283 73").split()

# In the book, but made late and by one maker only.
RARE = {("06", "F"), ("07", "F"), ("367", "F"), ("109", "S")}

FAULT_KINDS = ("stuck", "open", "series", "short", "beta", "weak_pull_up", "leak", "threshold",
               "excess_supply", "dead", "reversed", "shifted", "remarked", "wrong_part")
CMOS = databook.CMOS
MARGIN = 0.015                    # a sound chip keeps so much of each limit on every pin
PROOF_SEEDS = (1, 2)              # specimens a sound description is tried with


def available(number: str, family: str) -> bool:
    """True if the family has the part and the data book its limits."""
    if (number, family) in RARE:
        return False
    if family in ("HC", "HCT") and number not in HC_NUMBERS:
        return False
    return databook.known(number, family)


def kinds_for(number: str, family: str) -> list[str]:
    """The fault kinds that a part can have."""
    part, bipolar = PARTS[number], family not in CMOS
    names = [n.removeprefix("<>") for n in part.output_names()]
    pulls = any(n not in part.open_collector.split() for n in names)
    kinds = list(FAULT_KINDS)
    if not bipolar:
        kinds.remove("beta")
    if not (bipolar and pulls):
        kinds.remove("weak_pull_up")
    if not _other_families(number, family):
        kinds.remove("remarked")
    if not _twins(number, family):
        kinds.remove("wrong_part")
    return kinds


def _other_families(number: str, family: str) -> list[str]:
    return [f for f in FAMILIES if f != family and available(number, f) and family != "4000"]


def _twins(number: str, family: str) -> list[str]:
    """Other parts of the family in as large a package with the same supply pins."""
    part = PARTS[number]
    size, vcc, gnd = len(part.pin_names()), part.pin(part.vcc), part.pin(part.gnd)
    return [n for n, p in sorted(PARTS.items()) if n != number and available(n, family)
            and (len(p.pin_names()), p.pin(p.vcc), p.pin(p.gnd)) == (size, vcc, gnd)]


# ------------------------------------------------------------------------- sound chips
@cache
def _typical(number: str, family: str) -> dict[str, tuple[float, float]]:
    """Figure and room to the limit of the typical chip, by quantity: of its worst pin."""
    found = examine({"part": name_of(number, family), "spread": 0}, 1)
    worst: dict[str, Figure] = {}
    for (_, quantity), figure in found.figures.items():
        if quantity not in worst or figure.reserve < worst[quantity].reserve:
            worst[quantity] = figure
    return {q: (f.value, f.sense * (f.limit - f.value)) for q, f in worst.items()}


def _places(rng: random.Random) -> Callable[[], float]:
    """How far from typical (0) to the limit (1) a figure lies; negative: better than typical."""
    habit = rng.choices(("typical", "wide", "edge"), (0.35, 0.35, 0.3))[0]
    edge = rng.randrange(8)
    asked = iter(range(1000))

    def place() -> float:
        if habit == "edge" and next(asked) % 8 == edge:
            return rng.uniform(0.8, 0.96)
        if habit == "wide":
            return rng.uniform(-0.3, 0.85)
        return max(-0.3, min(0.6, rng.gauss(0.05, 0.2)))

    return place


def _usual(rng: random.Random, family: str, reach: float) -> dict[str, float]:
    """A draw of every parameter that has a spread, as any specimen has one."""
    drawn: dict[str, float] = {}
    for name, entry in families.typical(family).items():
        if isinstance(entry, list) and name not in ("beta", "switch_ohm") and entry[1] > 0:   # no part of the book has a switch
            off = rng.triangular(-1, 1, 0) * entry[1] * (1 - families.PIN_SHARE) * reach
            volts = name.endswith(families.VOLTS)
            drawn[name] = entry[0] + off if volts else entry[0] * (1 + off)
    return drawn


def _sound_bipolar(rng: random.Random, number: str, family: str, reach: float) -> dict[str, float]:
    """Centres of the parameters that carry the figures to their places."""
    table, typical, place = families.typical(family), _typical(number, family), _places(rng)
    centre = _usual(rng, family, reach)

    def base(name: str) -> float:
        entry = table[name]
        return float(entry[0] if isinstance(entry, list) else entry)

    def room(quantity: str, share: float) -> float:
        return typical[quantity][1] * share * reach if quantity in typical else 0.0

    by = room("VOL", place())
    if rng.random() < 0.5 or by < 0:
        centre["sink_sat_v"] = base("sink_sat_v") + by
    else:
        load = min(a for a, _ in databook.limits(number, family).outputs[_an_output(number)].vol)
        kind = PARTS[number].drive
        sink = table["drive"].get(kind if isinstance(kind, str) else "", (1.0, 1.0))[0]
        centre["sink_ohm"] = base("sink_ohm") + by / load * sink
    centre["beta"] = rng.uniform(table["beta"][0], table["beta"][1])
    if "VOH" in typical:
        centre["up_diode_v"] = base("up_diode_v") + room("VOH", place())
        value, least = typical["IOS"][0], typical["IOS"][0] - typical["IOS"][1]
        most = typical["IOS most"][0] + typical["IOS most"][1]
        aim = rng.triangular(max(least, 0.6 * value), min(most, 1.6 * value), value)
        if rng.random() < 0.3:
            aim = least * (most / least) ** rng.random()
        aim = value + (aim - value) * 0.9 * reach
        centre["up_ohm"] = base("up_ohm") * value / aim
    value, space = typical["IIL"]
    centre["in_ohm"] = base("in_ohm") * value / (value + space * place() * reach)
    centre["in_leak_ua"] += typical["IIH"][1] * 1e6 * max(0.0, place()) * reach
    if "VIK" in typical:
        test = families_vik(family)
        centre["clamp_ohm"] = max(2.0, base("clamp_ohm") + room("VIK", place()) / test)
    for quantity in ("ICEX", "IOZ"):
        if quantity in typical:
            centre["off_leak_ua"] += typical[quantity][1] * 1e6 * max(0.0, place()) * reach
    centre["supply_scale"] = _supply_scale(number, family, place() * reach)
    centre["threshold_v"] = _threshold(rng, base("threshold_v"), typical, reach)
    centre["hysteresis_scale"] = rng.triangular(1 - 0.3 * reach, 1 + 0.3 * reach, 1)
    return centre


def families_vik(family: str) -> float:
    """Test current of the input clamp, amperes."""
    return float(databook.tables()["family"][family]["vik"][0]) * 1e-3


def _an_output(number: str) -> str:
    return PARTS[number].output_names()[0].removeprefix("<>")


def _supply_scale(number: str, family: str, share: float) -> float:
    value, room = _typical(number, family)["ICC"]
    return max(0.6, (value + room * share) / value)


def _threshold(rng: random.Random, typical_v: float, typical: dict[str, tuple[float, float]],
               reach: float) -> float:
    """Anywhere between VIL and VIH is within the book; mostly near the family's own."""
    down = min(typical[q][1] for q in ("VT-", "VT+ least") if q in typical)
    up = min(typical[q][1] for q in ("VT+", "VT- most") if q in typical)
    if rng.random() < 0.25:
        return typical_v + rng.uniform(-down, up) * 0.93 * reach
    return typical_v + max(-0.6 * down, min(0.6 * up, rng.gauss(0, 0.08))) * reach


def _sound_cmos(rng: random.Random, number: str, family: str, reach: float) -> dict[str, float]:
    table, typical, place = families.typical(family), _typical(number, family), _places(rng)
    centre, vcc = _usual(rng, family, reach), databook.limits(number, family).vcc[0]
    for side, quantity in (("n", "VOL"), ("p", "VOH")):
        value, room = typical[quantity]
        if quantity == "VOH":     # drop below VCC
            value = vcc - value
        gates = (vcc - float(table[f"{side}_vt"][0])) / (vcc - centre[f"{side}_vt"])
        centre[f"{side}_k"] = (float(table[f"{side}_k"][0]) * gates * value
                               / (value + room * place() * reach))
    leak = typical["II"][1] * max(0.0, place()) * reach
    centre["leak_ua"] += leak * 1e6
    value, room = typical["ICC"]
    inputs = len(PARTS[number].input_names()) + len(PARTS[number].output_names())
    spare = max(0.0, room * place() * reach - leak * inputs)
    centre["supply_scale"] = 1 + spare / max(value, 1e-12)
    centre["threshold_v"] = _threshold(rng, float(table["threshold_v"][0]), typical, reach)
    centre["hysteresis_scale"] = rng.triangular(1 - 0.3 * reach, 1 + 0.3 * reach, 1)
    return centre


def sound(rng: random.Random, number: str, family: str) -> Description:
    """A sound chip somewhere between typical and the limits of the book.

    Drawn, tried against the verdict, and drawn nearer to typical if a pin would not keep
    its limit.  KeyError if the part is not available in the family.
    """
    if not available(number, family):
        raise KeyError(f"{name_of(number, family)} is not in the population")
    state = random.Random(rng.getrandbits(64))
    make = _sound_cmos if family in CMOS else _sound_bipolar
    start = state.getstate()
    for reach in (1.0, 0.85, 0.7, 0.5, 0.3, 0.0):
        state.setstate(start)
        centre = {k: float(f"{v:.5g}") for k, v in make(state, number, family, reach).items()}
        chip: Description = {"part": name_of(number, family), "centre": centre}
        if all(examine(chip, seed).margin() >= MARGIN for seed in PROOF_SEEDS):
            return chip
    return {"part": name_of(number, family)}


# ------------------------------------------------------------------------- bad chips
def _log(severity: float, mild: float, gross: float) -> float:
    """From mild (0) to gross (1) in equal ratios, three digits."""
    return float(f"{mild * (gross / mild) ** severity:.3g}")


def _other_end(rng: random.Random, number: str, pin: str) -> str:
    """A rail, or a neighbouring pin."""
    part = PARTS[number]
    names = part.pin_names()
    at = names.index(pin)
    near = [names[k] for k in (at - 1, at + 1) if 0 <= k < len(names)]
    near = [n for n in near if n not in ("NC", part.vcc, part.gnd)]
    choice = rng.random()
    if choice < 0.35 or (choice > 0.7 and not near):
        return part.gnd
    return part.vcc if choice < 0.7 else rng.choice(near)


def _fault(rng: random.Random, number: str, family: str, kind: str, severity: float
           ) -> dict[str, Any]:
    part = PARTS[number]
    outputs = [n.removeprefix("<>") for n in part.output_names()]
    inputs = part.input_names()
    signal = rng.choice(outputs if rng.random() < 0.5 else inputs)
    pulls = [n for n in outputs if n not in part.open_collector.split()]
    match kind:
        case "stuck":
            return {"kind": kind, "pin": signal, "level": rng.choice(("low", "high"))}
        case "dead":
            return {"kind": kind, "pin": rng.choice(outputs)}
        case "open":
            pin = rng.choice((signal, signal, signal, part.vcc, part.gnd))
            return {"kind": kind, "pin": pin, "ohms": _log(severity, 1e5, 1e9)}
        case "series" if rng.random() < 0.2:
            return {"kind": kind, "pin": rng.choice((part.vcc, part.gnd)),
                    "ohms": _log(severity, 0.05, 600)}
        case "series":
            return {"kind": kind, "pin": signal, "ohms": _log(severity, 0.3, 5000)}
        case "short":
            return {"kind": kind, "pin": signal, "to": _other_end(rng, number, signal),
                    "ohms": _log(severity, 250, 0.5)}
        case "beta":
            return {"kind": kind, "pin": rng.choice(outputs), "beta": _log(severity, 60, 1)}
        case "weak_pull_up":
            return {"kind": kind, "pin": rng.choice(pulls), "ohms": _log(severity, 3, 20000)}
        case "leak":
            to = _other_end(rng, number, signal)
            if rng.random() < 0.5:
                return {"kind": kind, "pin": signal, "to": to, "ohms": _log(severity, 2e7, 300)}
            return {"kind": kind, "pin": signal, "to": to,
                    "microamperes": _log(severity, 0.2, 3000)}
        case "threshold":
            volts = _log(severity, 0.02, 2.0) * rng.choice((-1, 1))
            return {"kind": kind, "pin": rng.choice(inputs), "volts": volts}
        case "excess_supply":
            most = databook.supply_limit(number, family)["worst"] * 1e3
            return {"kind": kind, "milliamperes": _log(severity, 0.01 * most, max(3 * most, 2.0))}
        case "reversed":
            return {"kind": kind}
        case "shifted":
            return {"kind": kind, "rows": rng.choice((1, -1, 2))}
    raise ValueError(f"no fault kind {kind!r}; there are: {' '.join(FAULT_KINDS)}")


def draw(rng: random.Random, number: str, family: str, kind: str = "sound",
         severity: float | None = None) -> Description:
    """One chip of the population.

    kind: "sound" or one of FAULT_KINDS; severity: 0 harmless .. 1 gross (None: drawn; kinds
    that have no degrees take no notice).  ValueError for a kind the part cannot have.
    """
    severity = rng.random() if severity is None else severity
    chip = sound(rng, number, family)
    if kind == "sound":
        return chip
    if kind not in kinds_for(number, family):
        raise ValueError(f"{name_of(number, family)} cannot have the fault {kind!r}")
    if kind == "remarked":
        other = rng.choice(_other_families(number, family))
        return {**chip, "marking": name_of(number, other)}
    if kind == "wrong_part":
        return {**chip, "marking": name_of(rng.choice(_twins(number, family)), family)}
    return {**chip, "fault": [_fault(rng, number, family, kind, severity)]}


@cache
def members() -> tuple[tuple[str, str, str], ...]:
    """(function, number, family) of all that `population` draws from."""
    return tuple((f, n, family) for family in FAMILIES for f, numbers in FUNCTIONS.items()
                 for n in numbers.split() if available(n, family))


def population(seed: int, count: int, bad_share: float = 0.5
               ) -> Iterator[tuple[Description, int]]:
    """A drawer of `count` chips: (description, specimen seed), the same for the same seed.

    Families in turn, functions within a family in turn, so that all are there as soon as
    there are enough chips; fault kinds in turn likewise, severities at random.
    """
    rng = random.Random(f"population/{seed}")
    by_family = {f: rng.sample(rows, len(rows)) for f in FAMILIES
                 if (rows := [m for m in members() if m[2] == f])}
    turn = dict.fromkeys(by_family, 0)
    next_kind = 0
    for k in range(count):
        family = list(by_family)[k % len(by_family)]
        rows = by_family[family]
        _, number, _ = rows[turn[family] % len(rows)]
        turn[family] += 1
        kind = "sound"
        if rng.random() < bad_share:
            allowed = kinds_for(number, family)
            while FAULT_KINDS[next_kind % len(FAULT_KINDS)] not in allowed:
                next_kind += 1
            kind = FAULT_KINDS[next_kind % len(FAULT_KINDS)]
            next_kind += 1
        yield draw(rng, number, family, kind), rng.randrange(1, 1_000_000)


def as_toml(description: Description) -> str:
    """The text of a chip file for a description."""
    def value(x: Any) -> str:
        return f'"{x}"' if isinstance(x, str) else repr(x)

    lines = [f"{k} = {value(v)}" for k, v in description.items() if not isinstance(v, dict | list)]
    for table in ("centre", "parameters"):
        if table in description:
            lines += [f"[{table}]", *(f"{k} = {value(v)}" for k, v in description[table].items())]
    for fault in description.get("fault", []):
        lines += ["[[fault]]", *(f"{k} = {value(v)}" for k, v in fault.items())]
    return "\n".join(lines) + "\n"
