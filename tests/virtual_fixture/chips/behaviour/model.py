"""What a part's logic is made of: pins by name, a function of levels, registers.

A part is one class.  `pins` names the package's pins in order ("NC" for none);
`outputs` lists output names; `evaluate` maps input levels to output levels, both
by name.  Registers live in attributes; `self.rose(...)` and `self.fell(...)` tell
clock edges.  Everything electrical that differs from the family's standard gate is
said by attributes, so that a new part needs no other file than its own.

A part of which a family has other pins or another logic is two classes: "54", and
"LS54" (family and number) for that family.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
import re
from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from typing import ClassVar

Levels = dict[str, int]
OFF = -1                              # an output that is switched off

PARTS: dict[str, type[Part]] = {}


class Part(ABC):
    """Base of all parts.  See the module's text for the class attributes."""

    number: ClassVar[str] = ""
    pins: ClassVar[str] = ""
    outputs: ClassVar[str] = ""
    shared: ClassVar[str] = ""        # "1A 1B, 2A 2B": inputs on one base resistor
    open_collector: ClassVar[str] = ""
    three_state: ClassVar[str] = ""   # outputs that can be switched off ("*": all)
    drive: ClassVar[str | Mapping[str, str]] = ""     # class of the outputs' transistors in
    #                                   families.toml; or by pattern of output names
    schmitt: ClassVar[Mapping[str, str]] = {}         # class in families.toml by input pattern
    loads: ClassVar[Mapping[str, float]] = {}      # unit loads of inputs, by pattern, where databook.toml says none
    upper_clamps: ClassVar[bool] = True            # CMOS inputs have a junction to VCC
    pull_downs: ClassVar[Mapping[str, float]] = {}    # inputs that are a resistor (ohm) to GND instead, by pattern: RS-232
    pull_ups: ClassVar[Mapping[str, float | str]] = {}    # resistors to VCC inside a bipolar part, by pattern
    #                                   of pin names: ohms, or "in_ohm" for one unit load's
    expanders: ClassVar[Mapping[str, tuple[float, float, int]]] = {}    # analog pins of a bipolar part by pattern: ohms to
    #                                   VCC, ohms to GND (0: none), junctions in series down to GND (0: none)
    supplies: ClassVar[str] = ""      # inputs that are further supply pins: no gate's through-current
    switches: ClassVar[str] = ""      # "1X-1Y, ...": an input and the output that it is joined to while `closed` has it
    switch: ClassVar[float] = 1.0     # their resistance, times the family's
    analog: ClassVar[str] = ""        # neither inputs nor outputs: timing pins, timing resistors
    families: ClassVar[str] = ""      # those in which it is made, where databook.toml has no limits of it
    own: ClassVar[str] = ""           # family of a part whose name is its number alone: "8T26", "9311"
    vcc: ClassVar[str] = "VCC"
    gnd: ClassVar[str] = "GND"

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.now: Levels = {}
        self.before: Levels = {}
        self.starts: set[int] = set()     # timers started and stopped by the last `evaluate`
        self.stops: set[int] = set()
        self.closed: set[str] = set()     # inputs of switches that the last `evaluate` has closed
        self.silent: set[int] = set()     # a fault: timers that are never started

    @classmethod
    def pin_names(cls) -> list[str]:
        return cls.pins.split()

    @classmethod
    def pin(cls, name: str) -> int:
        """Chip pin number of a name."""
        return cls.pin_names().index(name) + 1

    @classmethod
    def output_names(cls) -> list[str]:
        return cls.outputs.split()

    @classmethod
    def three_state_names(cls) -> list[str]:
        """Outputs that can be switched off, without the mark of bidirectional ones."""
        names = [n.removeprefix("<>") for n in cls.output_names()]
        return names if cls.three_state == "*" else cls.three_state.split()

    @classmethod
    def input_names(cls) -> list[str]:
        """Names of the inputs; a name in both lists is bidirectional and marked by '<>'."""
        both = [n.removeprefix("<>") for n in cls.output_names() if n.startswith("<>")]
        outputs = {n for n in cls.output_names() if not n.startswith("<>")}
        return [n for n in cls.pin_names()
                if n not in outputs and n not in (cls.vcc, cls.gnd, "NC", *cls.analog.split())
                or n in both]

    @classmethod
    def switch_pairs(cls) -> list[tuple[str, str]]:
        """(Input, output) of each analog switch."""
        pairs = [pair.split("-") for pair in cls.switches.replace(",", " ").split()]
        return [(a, b) for a, b in pairs]

    def power_up(self) -> None:
        """Registers come up in any state: override in parts that have some."""

    @abstractmethod
    def evaluate(self, v: Levels) -> Levels:
        """Output levels (0, 1, OFF) by name; v: input levels by name."""

    def timer_ended(self, timer: int) -> None:
        """The pulse of a timer is over; `evaluate` is asked next.  For parts with timers."""

    def rose(self, name: str) -> bool:
        return self.now[name] > self.before[name]

    def fell(self, name: str) -> bool:
        return self.now[name] < self.before[name]

    def random_bit(self) -> int:
        return self.rng.getrandbits(1)


def part(number: str) -> Callable[[type[Part]], type[Part]]:
    """Class decorator: enter the part in the table under its number."""
    def enter(cls: type[Part]) -> type[Part]:
        cls.number = number
        if number in PARTS:
            raise ValueError(f"two behaviours for {number}")
        PARTS[number] = cls
        return cls
    return enter


def part_of(number: str, family: str) -> type[Part] | None:
    """The class of a number in a family: the family's own if there is one."""
    return PARTS.get(family + number) or PARTS.get(number)


def key_parts(key: str) -> tuple[str, str]:
    """Family ("" for all) and number of a key of PARTS: "LS54" -> ("LS", "54"), "8T26" -> ("", "8T26")."""
    match = re.fullmatch(r"(TTL|ALS|ACT|HCT|LS|AS|AC|HC|L|H|S|F)(\d+)", key)
    return (match[1], match[2]) if match else ("", key)


class Gates(Part):
    """Independent gates: `gates` lists "inputs > output" by name, `function` is one gate."""

    gates: ClassVar[str] = ""

    function: ClassVar[Callable[..., int]]

    def __init_subclass__(cls) -> None:
        rows = [row.split(">") for row in cls.gates.split(",") if row.strip()]
        cls._rows = [(tuple(i.split()), o.strip()) for i, o in rows]
        if not cls.outputs:
            cls.outputs = " ".join(o for _, o in cls._rows)

    _rows: ClassVar[list[tuple[tuple[str, ...], str]]] = []

    def evaluate(self, v: Levels) -> Levels:
        return {out: self.function(*(v[i] for i in ins)) for ins, out in self._rows}


def nand(*x: int) -> int:
    return 0 if all(x) else 1


def nor(*x: int) -> int:
    return 0 if any(x) else 1


def and_(*x: int) -> int:
    return 1 if all(x) else 0


def or_(*x: int) -> int:
    return 1 if any(x) else 0


def xor(*x: int) -> int:
    return sum(x) & 1


def xnor(*x: int) -> int:
    return 1 - xor(*x)
