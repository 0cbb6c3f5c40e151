"""A chip put in the wrong way round, at the currents of the contact check: its ground pin raised through M, one other pin
after the other pulled down by the weak load.  Volts, milliamperes.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from pathlib import Path

from hardware.spice.bench import Bench
from hardware.spice.netlist import Setup

_CHIPS = Path(__file__).parents[1] / "chips.lib"
_GATES = ((1, 2, 3), (4, 5, 6), (9, 10, 8), (12, 13, 11))        # inputs and output of a 00, every data book
_GROUND, _SUPPLY, _PINS = 7, 14, 14
_ROLES = {"input": 1, "output": 3, "supply": _SUPPLY, "ground": _GROUND}


def _position(bench: Bench, pin: int, turned: bool) -> int:
    pin = (pin + _PINS // 2 - 1) % _PINS + 1 if turned else pin
    return pin if pin <= _PINS // 2 else int(bench.fixture["socket"]["positions"]) - _PINS + pin


def _chip(bench: Bench, family: str, turned: bool) -> list[str]:
    def at(pin: int) -> str:
        return f"Z{_position(bench, pin, turned)}"
    lines = [f".include {_CHIPS}", f"Vchip_supply {at(_SUPPLY)} chip_vcc 0"]
    for index, (a, b, y) in enumerate(_GATES):
        lines += [f"Vchip_y{index} {at(y)} chip_y{index} 0", f"Vchip_a{index} {at(a)} chip_a{index} 0",
                  f"Xgate{index} chip_a{index} {at(b)} chip_y{index} chip_vcc {at(_GROUND)} {family}"]
    return lines


def _check(bench: Bench, family: str, role: str, turned: bool) -> dict[str, float]:
    """The contact check at one of the chip's pins.  What is raised is where the ground pin should be."""
    ground, looked = _position(bench, _GROUND, False), _position(bench, _ROLES[role], turned)
    setup = Setup(pins={f"M{ground}": 1, "LD": 0}, sense=looked, load=1, socket=_chip(bench, family, turned))
    volts = {"ground": f"v(Z{ground})", "looked": f"v(Z{looked})"}
    currents = ["i(vchip_supply)", *(f"i(vchip_{p}{i})" for i in range(4) for p in "ay")]
    found = bench.at_rest(setup, [*volts.values(), *currents])
    return {**{name: found[vector] for name, vector in volts.items()}, "ma": 1000 * max(abs(found[c]) for c in currents)}


def seated_drop_v(bench: Bench, family: str, role: str) -> float:
    """Drop from the ground pin to an input, an output or the supply pin of a chip that sits as it should."""
    found = _check(bench, family, role, False)
    return found["ground"] - found["looked"]


def turned_drop_v(bench: Bench, family: str, role: str) -> float:
    """The same pin where the chip is the wrong way round; nearly the whole supply if nothing conducts."""
    found = _check(bench, family, role, True)
    return found["ground"] - found["looked"]


def turned_ma(bench: Bench, family: str) -> float:
    """The most that any pin of a chip that is the wrong way round carries meanwhile."""
    return max(_check(bench, family, role, True)["ma"] for role in ("input", "output", "ground"))
