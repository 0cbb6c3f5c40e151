"""The lines of a `program`: what to apply to a part with memory.

    "CLR=0"                    one step
    "J=1 K=0"                  one step, two changes: whichever comes first must not matter
    "D=1; CLK^"                two things one after the other; CLK^ is a pulse: two steps
    "CLK^4096"                 so many pulses in one step, looked at only when they are over
    "CLK^ *16; CLR=0"          what stands between semicolons, sixteen times
    "D=0000|1111|0101; CLK^"   once for each alternative; D is a bus of four, leftmost bit first
    "A=z"                      let go of a bidirectional pin

What to expect is not written: the part's own statements say it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from .definition import Definition

MOST = 4096          # repeats
MOST_STEPS = 4096    # of all lines together, each copy of a block counted
LONGEST = 65535      # pulses of a train: what the wire's step can say
_ITEM = re.compile(r"(?P<name>[A-Za-z0-9_]+)(?:=(?P<value>[01z|]+)|(?P<pulse>\^\d*))$")
_TIMES = re.compile(r"\s\*(\d+)\s*$")
_LEVELS: dict[str, bool | None] = {"0": False, "1": True, "z": None}

Levels = dict[str, bool | None]


class ProgramError(Exception):
    """A program line that cannot be read; `column` is 0-based in its text."""

    def __init__(self, column: int, found: str, expected: str, advice: str = "") -> None:
        super().__init__(f"found {found}, expected {expected}")
        self.column, self.found, self.expected, self.advice = column, found, expected, advice


@dataclass(frozen=True)
class Pulse:
    """A pin to the other level and back; a train of them if `count` is not 0."""

    pin: str
    count: int = 0


Action = Mapping[str, bool | None] | Pulse


def parse(text: str, definition: Definition) -> list[Action]:
    """The actions of one line, alternatives and repeats spelt out.  Raises ProgramError."""
    parts: list[tuple[int, list[tuple[int, str, list[str]]]]] = []
    at = 0
    for chunk in text.split(";"):
        match = _TIMES.search(chunk)
        if match and int(match[1]) > MOST:
            raise ProgramError(at + match.start(1) - 1, f"*{match[1]}", f"*{MOST} or less")
        parts.append((int(match[1]) if match else 1,
                      [_item(at + m.start(), m[0], definition)
                       for m in re.finditer(r"\S+", chunk[:match.start()] if match else chunk)]))
        at += len(chunk) + 1
    counts = {len(values) for _, items in parts for _, _, values in items if len(values) > 1}
    if len(counts) > 1:
        raise ProgramError(0, "different numbers of alternatives", "as many alternatives in each name of a line",
                           "split the line")
    actions: list[Action] = []
    for turn in range(max(counts, default=1)):
        for times, items in parts:
            actions += _actions(items, turn, definition) * times
    return actions


def _item(at: int, text: str, definition: Definition) -> tuple[int, str, list[str]]:
    match = _ITEM.match(text)
    if not match:
        raise ProgramError(at, f"'{text}'", "NAME=levels or NAME^", "levels are 0, 1 and z; a pulse is CLK^, a hundred are CLK^100")
    name = match["name"]
    if name not in definition.buses and not definition.roles.get(name, None):
        from .shape import nearest
        known = [*definition.buses, *definition.roles]
        raise ProgramError(at, f"'{name}'", "an input pin or a bus", nearest(name, known))
    if name not in definition.buses and not definition.roles[name].is_input:
        raise ProgramError(at, f"'{name}', an output", "an input pin or a bus")
    if match["pulse"]:
        if name in definition.buses:
            raise ProgramError(at, f"'{text}', a pulse on a bus", "a pulse on a pin", "pulse its pins one by one")
        if len(match["pulse"]) > 1 and not 1 <= int(match["pulse"][1:]) <= LONGEST:
            raise ProgramError(at, f"'{text}'", f"1 to {LONGEST} pulses")
        return at, name, [match["pulse"]]
    values = match["value"].split("|")
    width = len(definition.buses.get(name, (name,)))
    for value in values:
        if len(value) != width:
            raise ProgramError(at, f"{len(value)} levels for {name}", f"{width}")
    return at, name, values


def _actions(items: list[tuple[int, str, list[str]]], turn: int, definition: Definition) -> list[Action]:
    levels: Levels = {}
    pulses: list[Action] = []
    for _, name, values in items:
        value = values[turn % len(values)]
        if value.startswith("^"):
            pulses.append(Pulse(name, int(value[1:] or 0)))
        else:
            levels.update(zip(definition.buses.get(name, (name,)), (_LEVELS[v] for v in value), strict=True))
    return ([levels] if levels else []) + pulses


def levels(text: str, definition: Definition) -> Levels:
    """The levels of an `idle` text."""
    result: Levels = {}
    for action in parse(text, definition):
        if not isinstance(action, Pulse):
            result.update(action)
    return result
