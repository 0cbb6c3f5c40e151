"""Virtual chips' pinouts against KiCad's 74xx and 4xxx symbol libraries.

Compared: number and direction of every pin, the supply pins, which pins make one gate,
and the names where the library uses the book's.  Errors of the library are listed with
what the makers' sheets say.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re

import pytest
from kicad_symbols import SymbolPin, symbol

from virtual_fixture.chips.behaviour import PARTS, Part

BOOK = {number for number, part in PARTS.items() if not part.families}
# Numbers the library has no symbol for: their pinouts stand on memory alone.
WITHOUT_SYMBOL = {"25", "64", "266", "279", "423", "4082", "9602"}
# Type in the library is wrong; the sheets say otherwise (number, pin): reason.
# Where the library numbers bits from 0 and the sheets from 1.
FROM_ZERO = {"245", "540", "541", "4024", "4040"}
WRONG_IN_LIBRARY = {
    ("181", 14): "A = B is open collector (TI SN54LS181)",
    **{("22", pin): "the '22 is open collector; the symbol inherits the '20" for pin in (6, 8)},
    **{("156", pin): "the '156 is open collector; the symbol inherits the '155"
       for pin in (4, 5, 6, 7, 9, 10, 11, 12)},
}
# Pins in the library that the sheets leave unconnected.
NOT_CONNECTED = {
    ("293", 1): "the symbol inherits the '290's set inputs", ("293", 3): "the same",
}


def find(number: str) -> list[SymbolPin] | None:
    if len(number) == 4:
        return (symbol("4xxx", number) or symbol("4xxx", f"HEF{number}B")
                or symbol("74xx", f"74HC{number}"))
    for prefix in ("74LS", "74", "74HC", "74AHC"):
        pins = symbol("74xx", prefix + number)
        if pins:
            return pins
    return None


def kind(part: type[Part], name: str) -> str:
    if name in (part.vcc, part.gnd):
        return "power_in"
    if name in part.open_collector.split():
        return "open_collector"
    outputs = part.output_names()
    if f"<>{name}" in outputs:
        return "tri_state"
    return "output" if name in outputs else "input"


def plain(name: str) -> str:
    """A library name in our spelling: ~{CLR} -> CLR/, other marks dropped."""
    return re.sub(r"~\{(.*?)\}", r"\1/", name)


def test_only_the_named_parts_lack_a_symbol() -> None:
    assert {n for n in BOOK if find(n) is None} == WITHOUT_SYMBOL


@pytest.mark.parametrize("number", sorted(BOOK - WITHOUT_SYMBOL))
def test_directions_and_supply(number: str) -> None:
    part, pins = PARTS[number], find(number)
    assert pins is not None
    theirs = {p.number: p.kind for p in pins
              if p.kind != "no_connect" and (number, p.number) not in NOT_CONNECTED}
    ours = {k: kind(part, n) for k, n in enumerate(part.pin_names(), 1) if n != "NC"}
    assert set(theirs) == set(ours)
    for pin, mine in ours.items():
        # Three-state outputs have no type of their own here; both words are right.
        also = {"output": {"tri_state"}, "tri_state": {"bidirectional"}}.get(mine, set())
        if (number, pin) not in WRONG_IN_LIBRARY:
            assert theirs[pin] in {mine} | also, (pin, mine, theirs[pin])
    supply = {p.name: p.number for p in pins if p.kind == "power_in"}
    names = {"VCC": "VDD", "GND": "VSS"}
    for mine, other in names.items():
        at = supply.get(mine, supply.get(other))
        assert at == part.pin(part.vcc if mine == "VCC" else part.gnd)


@pytest.mark.parametrize("number", sorted(BOOK - WITHOUT_SYMBOL))
def test_gates_are_the_same_pins(number: str) -> None:
    """A unit of the symbol is one gate: our gate of the same output has the same inputs."""
    rows = getattr(PARTS[number], "_rows", [])
    pins = find(number)
    assert pins is not None
    units = {u: {p.number for p in pins if p.unit == u and p.kind != "power_in"}
             for u in {p.unit for p in pins}}
    gates = [u for u in units.values() if u]
    if rows and len(gates) == len(rows):
        ours = [{PARTS[number].pin(n) for n in (*ins, out)} for ins, out in rows]
        assert sorted(map(sorted, ours)) == sorted(map(sorted, gates))
    else:
        assert len(rows) <= 1 or len(gates) == 1


@pytest.mark.parametrize("number", sorted(BOOK - WITHOUT_SYMBOL - FROM_ZERO))
def test_names_that_both_use(number: str) -> None:
    """A name used once by both sides is the same pin on both sides."""
    part, pins = PARTS[number], find(number)
    assert pins is not None
    theirs: dict[str, list[int]] = {}
    for p in pins:
        theirs.setdefault(plain(p.name), []).append(p.number)
    for k, name in enumerate(part.pin_names(), 1):
        if name in theirs and len(theirs[name]) == 1 and name != "NC":
            assert theirs[name] == [k], name
