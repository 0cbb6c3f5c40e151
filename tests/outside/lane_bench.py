"""A part of the library in many copies, each pin with its own level in every copy; and the list of the models' errors.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
import tomllib
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from sagbench.parts import Role, load_part
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.names import type_name

ALLOWED = Path(__file__).with_name("logic_allowed.toml")


def has(name: str) -> bool:
    """True if the library has this type's function: "74138", "4017"."""
    return function_of(name) in file_names()


def function_of(name: str) -> str:
    """ "138" of "74138", "4017" of itself."""
    return name[2:] if name.startswith("74") else name


class Copies:
    """The part in `count` copies; an output that is off counts as high if it is open collector, as with a pull-up."""

    def __init__(self, name: str, count: int) -> None:
        definition = load_file(file_names()[function_of(name)])
        family = PLAIN if PLAIN in definition.families else next(iter(definition.families))
        self.part = load_part(type_name(definition.function, family))
        self.machine = Machine(Network(definition.of(family)), count)
        self.every = (1 << count) - 1

    def apply(self, levels: Mapping[int, int]) -> None:
        """Levels by pin number, bit k for copy k."""
        for pin, ones in levels.items():
            self.machine.set_lanes(self.part.pin(pin).name, ones)
        self.machine.settle()

    def output(self, pin: int) -> tuple[int, int, int]:
        """Copies in which a pin is surely low, surely high, surely off."""
        low, high, off = self.machine.output(self.part.pin(pin).name)
        return (low, off, 0) if self.part.pin(pin).role is Role.OPEN_COLLECTOR else (low, high, off)

    def differ(self, pin: int, high: int, off: int = 0) -> tuple[int, int]:
        """Against a model's levels of that pin: copies in which both are known and differ; copies that are known."""
        mine = self.output(pin)
        wrong = mine[0] & (high | off) | mine[1] & (~high | off) | mine[2] & ~off
        return self.every & wrong, mine[0] | mine[1] | mine[2]


def spread(pins: Sequence[int], most: int = 16) -> tuple[int, dict[int, int]]:
    """All combinations of these pins, or 2**most random ones: how many, and each pin's level in them."""
    if len(pins) > most:
        source = random.Random(181)
        return 1 << most, {pin: source.getrandbits(1 << most) for pin in pins}
    count = 1 << len(pins)
    every, levels = (1 << count) - 1, {}
    for place, pin in enumerate(pins):
        half = 1 << place                # 2**place times 0, then as often 1, and so on
        levels[pin] = every // ((1 << 2 * half) - 1) * ((1 << half) - 1) << half
    return count, levels


@cache
def _allowed() -> dict[tuple[str, int], Mapping[str, Sequence[int]] | None]:
    said = tomllib.loads(ALLOWED.read_text(encoding="utf-8"))["allow"]
    return {(entry["model"], entry["pin"]): entry.get("when") for entry in said}


def excused(model: str, pin: int, levels: Mapping[int, int], every: int) -> int:
    """Copies in which the list of errors lets a model's output differ."""
    if (model, pin) not in _allowed():
        return 0
    when = _allowed()[model, pin]
    if when is None:
        return every
    found = 0
    for value in when["values"]:
        here = every
        for bit, number in enumerate(when["pins"]):
            here &= levels[number] if value >> bit & 1 else ~levels[number]
        found |= here
    return found


def listed(maker: str) -> set[tuple[str, int]]:
    """The entries of one maker's models."""
    return {key for key in _allowed() if key[0].startswith(maker)}
