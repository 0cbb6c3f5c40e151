"""Three descriptions of a pinout, ours and two installed symbol libraries, compared pin by pin.

KiCad's older set of IEEE symbols may confirm a pin too; many of its directions are wrong, so what it says otherwise counts
only where neither of the two has the part.

Two of three must agree: a pin of ours is confirmed if one of the others gives it the same role.
Where one of the others says something else, the reason stands in pinouts_allowed.toml.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import kicad_symbols
import lepton_symbols
from kicad_symbols import SymbolPin

from sagbench.parts import Role, load_file
from sagbench.parts.definition import PLAIN, Definition, Pinout
from sagbench.parts.equations import Expr, names
from sagbench.parts.lookup import file_names

ALLOWED = Path(__file__).with_name("pinouts_allowed.toml")
REFEREES = ("kicad", "lepton", "kicad_ieee")
# Line drivers have libraries of their own.
INTERFACE = {"26LS31": ("Interface", "AM26LS31CN"), "3487": ("Interface_LineDriver", "MC3487N"),
             "8830": ("Interface_LineDriver", "DS8830"), "75183": ("Interface_LineDriver", "DS8830")}
GROUNDS = ("GND", "VSS", "VEE")
# What the others may call a pin of each role of ours.  A pin that is left alone ("analog") may be anything but power;
# "passive" (contacts of analog switches, oscillators) says no direction.
SAME = {
    Role.INPUT: ("input", "passive"), Role.OUTPUT: ("output",), Role.OPEN_COLLECTOR: ("open_collector",),
    Role.TRI_STATE: ("tri_state", "passive"), Role.BIDIRECTIONAL: ("bidirectional", "tri_state", "passive"),
    Role.SUPPLY: ("supply",), Role.GROUND: ("ground",), Role.UNUSED: ("no_connect", "absent"),
    Role.ANALOG: ("input", "output", "passive", "bidirectional", "open_collector"),
}


@dataclass(frozen=True)
class Ours:
    """One pinout of the library."""

    definition: Definition
    pinout: Pinout

    @property
    def families(self) -> tuple[str, ...]:
        """The families that have it, as in part files."""
        return tuple(f for f in self.definition.families if self.definition.pinout(f) is self.pinout)

    @property
    def label(self) -> str:
        """For messages: "54", or "54/LS" if only some families have this pinout."""
        return "/".join((self.definition.function, *self.pinout.families))

    def role(self, number: int) -> Role:
        """Role of a pin; UNUSED beyond the package."""
        name = self.pinout.pins[number - 1] if number <= len(self.pinout.pins) else "NC"
        if name in self.pinout.supply:
            return Role.SUPPLY
        if name in self.pinout.ground:
            return Role.GROUND
        if name in self.pinout.analog:
            return Role.ANALOG
        return self.definition.roles.get(name, Role.UNUSED)


@dataclass(frozen=True, order=True)
class Difference:
    """One thing a referee says otherwise."""

    label: str
    referee: str
    pin: int                             # 0: not of one pin
    says: str


@cache
def all_pinouts() -> tuple[Ours, ...]:
    """Every pinout of every function of the library."""
    files = file_names()
    return tuple(Ours(made, pinout) for function in sorted(files, key=lambda n: n.zfill(5))
                 for made, pinout in load_file(files[function]).forms())


@cache
def referee(ours: Ours, which: str) -> list[SymbolPin] | None:
    """The symbol of this pinout in one of the libraries; None if it has none."""
    function = ours.definition.function
    if which == "kicad_ieee":
        found = [kicad_symbols.symbol(library, name) for library in ("74xx_IEEE", "4xxx_IEEE")
                 for name in _types(ours, kicad_symbols.names(library))]
    elif which == "lepton":
        found = [lepton_symbols.symbol(name) for name in _types(ours, lepton_symbols.devices())]
    elif function in INTERFACE:
        found = [kicad_symbols.symbol(*INTERFACE[function])]
    else:
        found = [kicad_symbols.symbol("74xx", name) for name in _types(ours, kicad_symbols.names("74xx"))]
        if len(function) >= 4:
            found = [kicad_symbols.symbol("4xxx", name) for name in kicad_symbols.names("4xxx")
                     if re.fullmatch(rf"(HEF|CD)?{function}U?B?", name)] + found
    return found[0] if found else None


def _types(ours: Ours, symbols: Sequence[str]) -> list[str]:
    """Symbols of this function, 74LS and plain first.  Of families that have this pinout; for the pinout that is not
    bound to families, of those we do not list, too (AHC), and the number without letters that stands for all."""
    function, bound = ours.definition.function, ours.pinout.families
    if "4000B" in ours.families and function in symbols:
        return [function]
    found = []
    for family in dict.fromkeys(["LS", PLAIN, "HC", "HCT", "AC", "AHC", *ours.families]):
        name = f"74{'' if family == PLAIN else family}{function}"
        loose = not bound and (family == PLAIN or family not in ours.definition.families)
        if name in symbols and (family in ours.families or loose):
            found.append(name)
    return found


def kind(pin: SymbolPin | None) -> str:
    """A referee's word for a pin, its supply pins told from its ground pins."""
    if pin is None:
        return "absent"
    if pin.kind in ("power_in", "power_out"):
        return "ground" if pin.name.upper() in GROUNDS else "supply"
    return pin.kind


def agrees(ours: Ours, number: int, theirs: dict[int, SymbolPin]) -> bool:
    """True if a referee gives pin `number` the role we do."""
    return kind(theirs.get(number)) in SAME[ours.role(number)]


def differences(ours: Ours) -> Iterator[Difference]:
    """All that either referee says otherwise: roles, names, which pins belong together."""
    for which in REFEREES:
        symbol = referee(ours, which)
        if symbol is None or which == "kicad_ieee" and any(referee(ours, other) for other in REFEREES[:2]):
            continue
        theirs = {p.number: p for p in symbol}
        for number in range(1, max(len(ours.pinout.pins), *theirs) + 1):
            if not agrees(ours, number, theirs):
                yield Difference(ours.label, which, number, kind(theirs.get(number)))
        for number, name in misplaced(ours, symbol):
            yield Difference(ours.label, which, number, name)
        if unit := torn(ours, symbol):
            yield Difference(ours.label, which, 0, f"one section has pins {' '.join(map(str, sorted(unit)))}")


def confirmed(ours: Ours) -> list[bool]:
    """For each pin: does one of the referees at least give it our role?  All false if neither knows the part."""
    found = [{p.number: p for p in symbol} for which in REFEREES if (symbol := referee(ours, which)) is not None]
    return [any(agrees(ours, number, theirs) for theirs in found) for number in range(1, len(ours.pinout.pins) + 1)]


def plain(name: str) -> str:
    """A pin's name without what notations differ in: "~{1CLR}", "CLR1", "1CLR" are all "1 CLR"."""
    name = re.sub(r"[^A-Za-z0-9]", "", name).upper()
    digits = "".join(re.findall(r"\d+", name)) if len(re.findall(r"\d+", name)) == 1 else ""
    return f"{digits} {name.replace(digits, '')}" if digits else name


def misplaced(ours: Ours, symbol: list[SymbolPin]) -> Iterator[tuple[int, str]]:
    """Names that both sides use, once each, for different pins."""
    theirs: dict[str, list[int]] = {}
    shift = _shifts([p.name for p in symbol], ours.pinout.pins)
    for pin in symbol:
        if pin.kind != "power_in":
            name = plain(pin.name)
            number, _, letters = name.partition(" ")
            if letters in shift:
                name = f"{int(number) + shift[letters]} {letters}"
            theirs.setdefault(name, []).append(pin.number)
    mine: dict[str, list[int]] = {}
    for number, name in enumerate(ours.pinout.pins, start=1):
        if ours.role(number) not in (Role.SUPPLY, Role.GROUND, Role.UNUSED):
            mine.setdefault(plain(name), []).append(number)
    for name, numbers in mine.items():
        if len(numbers) == 1 and len(theirs.get(name, ())) == 1 and theirs[name] != numbers:
            yield numbers[0], f"{name.strip()} on pin {theirs[name][0]}"


def _shifts(theirs: Iterable[str], ours: Iterable[str]) -> dict[str, int]:
    """Letters of pins that the two sides number from different ends, 0 and 1: what to add to their numbers."""
    spans: list[dict[str, list[int]]] = [{}, {}]
    for span, names_ in zip(spans, (theirs, ours), strict=True):
        for name in map(plain, names_):
            number, _, letters = name.partition(" ")
            if number.isdigit() and letters:
                span.setdefault(letters, []).append(int(number))
    return {letters: min(mine) - min(others) for letters, mine in spans[1].items() if (others := spans[0].get(letters))
            and min(mine) - min(others) == max(mine) - max(others) in (1, -1)}


def torn(ours: Ours, symbol: list[SymbolPin]) -> set[int] | None:
    """A section (unit, slot) of the symbol with an output that depends on no input of it, or an input none of its
    outputs depends on: then it is not one section of ours.  (A monostable is described at rest only: its triggers do nothing.)"""
    depends = _reach(ours.definition)
    units = {pin.unit for pin in symbol if pin.unit and pin.kind != "power_in"}
    for unit in sorted(units) if len(units) > 1 else ():
        numbers = {p.number for p in symbol if p.unit == unit and p.kind != "power_in" and p.number <= len(ours.pinout.pins)}
        inside = {ours.pinout.pins[n - 1] for n in numbers}
        outputs = [n for n in inside if n in depends]
        inputs = {n for n in inside if n not in depends and n in ours.definition.roles}
        if outputs and inputs and (any(not depends[o] & inputs for o in outputs)
                                   or inputs - {i for o in outputs for i in depends[o]} and not ours.definition.static):
            return numbers
    return None


def _reach(definition: Definition) -> dict[str, set[str]]:
    """Output -> all pins it depends on, through wires and state bits too."""
    reads: dict[str, set[str]] = {}
    for assign in definition.assigns:
        reads[assign.target.text] = _named(assign.value, assign.enable)
    for register in definition.registers:
        reads[register.target.text] = _named(register.next, register.clock, register.clear, register.set)
    found = {}
    for name, role in definition.roles.items():
        if not role.is_output:
            continue
        seen: set[str] = set()
        waiting = [name]
        while waiting:
            for other in reads.get(waiting.pop(), set()) - seen:
                seen.add(other)
                waiting.append(other)
        found[name] = seen
    return found


def _named(*exprs: Expr | None) -> set[str]:
    return {name.text for expr in exprs if expr is not None for name in names(expr)}


@cache
def allowed() -> dict[tuple[str, str, int], tuple[str, str]]:
    """(label, referee, pin) -> (what it says, why it is wrong or what else it means)."""
    said = tomllib.loads(ALLOWED.read_text(encoding="utf-8"))["allow"]
    return {(entry["part"], entry["by"], pin): (entry.get("says", ""), entry["why"])
            for entry in said for pin in entry.get("pins", [0])}
