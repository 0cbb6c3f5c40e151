"""The logic test of a part: what to set and what to expect, step by step, from power-on.

A part without memory gets every combination each output can see, all outputs at
the same time (`patterns`).  A part with memory gets what its file's `program` says.
To either the room `vectors` adds what shows the faults still missed.
What to expect always comes from `behaviour`.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import permutations, zip_longest

from ..vectors.complete import completed
from . import patterns, program
from .behaviour import Machine, Network, train
from .definition import Definition
from .model import Expect, Role, Step

Levels = dict[str, bool | None]


def levels(definition: Definition, network: Network) -> list[Levels]:
    """What to apply, by name: the first entries set every input, the rest change some."""
    said = _programmed(definition, network)
    return said + [change for change, _ in _march(definition, said)]


def _march(definition: Definition, before: Iterable[Levels]) -> list[tuple[Levels, bool]]:
    """The march test of a memory, and whether the outputs are looked at in each step (in reads only: time is short)."""
    if not definition.march:
        return []
    from ..vectors.march import RamPins, ram_steps

    pins = {key: named if isinstance(named, str) else tuple(named) for key, named in definition.march.items()}
    now: Levels = {}
    for change in before:
        now.update(change)
    made = []
    for wanted, look in ram_steps(RamPins(**pins)):      # type: ignore[arg-type]
        change = {n: v for n, v in wanted.items() if now[n] is not v}
        now.update(change)
        if change or look:
            made.append((change or dict([next(iter(wanted.items()))]), look))
    return made


def _programmed(definition: Definition, network: Network) -> list[Levels]:
    if not network.registers and not definition.program and not any(b.program for b in definition.blocks):
        return [dict(vector) for vector in patterns.vectors(network)]
    begin = first(definition)
    driven = dict(begin)
    steps: list[Levels] = [begin]
    rows = [list(_expand(block.program, definition, driven)) for block in definition.blocks if block.program]
    for k, row in enumerate(rows):                     # copies of a block run one step apart, so that they differ
        row[:0] = [{}] * k
    for together in zip_longest(*rows, fillvalue={}):
        merged: Levels = {}
        for part in together:
            merged.update(part)
        steps.append(merged)
    steps += _expand(definition.program, definition, driven)
    return [s for s in steps if s]


def first(definition: Definition) -> Levels:
    """Every input at its idle level; bidirectional pins are let go."""
    start: Levels = {n: False for n, role in definition.roles.items() if role is Role.INPUT}
    start |= {n: None for n, role in definition.roles.items() if role is Role.BIDIRECTIONAL}
    for block in definition.blocks:
        start |= program.levels(block.idle, definition)
    return start | program.levels(definition.idle, definition)


def _expand(lines: Iterable[str], definition: Definition, driven: Levels) -> Iterator[Levels]:
    """The steps of program lines; `driven` follows.  A pulse is two steps, a change to the level it has is none."""
    for line in lines:
        for action in program.parse(line, definition):
            if isinstance(action, program.Pulse) and action.count:
                yield {f"{action.pin}^{action.count}": True}
                continue
            if isinstance(action, program.Pulse):
                for level in (not driven[action.pin], bool(driven[action.pin])):
                    driven[action.pin] = level
                    yield {action.pin: level}
                continue
            change = {n: v for n, v in action.items() if driven[n] is not v}
            driven.update(change)
            if change:
                yield change


def steps(definition: Definition, network: Network, pins: Sequence[str]) -> tuple[Step, ...]:
    """The sequence with pin numbers and expectations; `pins` are the names from pin 1 on."""
    number = {name: i for i, name in enumerate(pins, start=1)}
    pinout = next(p for p in definition.pinouts if tuple(p.pins) == tuple(pins))
    machine = Machine(network)
    made = []
    base = levels(definition, network)
    look = [look for _, look in _march(definition, _programmed(definition, network) if definition.march else ())]
    blind = {len(base) - len(look) + i for i, looked in enumerate(look) if not looked}
    for index, change in enumerate(completed(definition, pinout, base)):
        machine.set(change)
        expects = {} if index in blind else machine.expects()
        made.append(numbered(change, number, {number[n]: e for n, e in sorted(expects.items(), key=lambda x: number[x[0]])}))
    return tuple(made)


def numbered(change: Mapping[str, bool | None], number: Mapping[str, int], expect: Mapping[int, Expect] | None = None) -> Step:
    """A step by pin numbers."""
    return Step({number[n]: v for n, v in change.items() if n in number}, expect or {},
                pulses={number[pin]: count for pin, count in (train(n) for n in change if n not in number)})


def order_matters(network: Network, changes: Iterable[Mapping[str, bool | None]]) -> list[int]:
    """Indices of steps whose changes, applied one after another in some order, do not all end in the same state.

    All orders of up to four changes; of more: forwards, backwards, and each one first.  The first step is from
    power-on, where nothing is known before or after.
    """
    wrong = []
    machine = Machine(network)
    for index, change in enumerate(changes):
        if index and len(change) > 1 and network.registers:
            ends = {_end(machine.copy(), change, order) for order in _orders(sorted(change))}
            if len(ends) > 1:
                wrong.append(index)
        machine.set(change)
    return wrong


def fights(network: Network, changes: Iterable[Mapping[str, bool | None]]) -> list[tuple[int, str]]:
    """Steps, and pins, in which a bidirectional pin is driven while the part drives it too, or may in some order.

    At power-on such a pin is let go, so nothing fights whatever the part does then.
    """
    both = [n for n, role in network.roles.items() if role is Role.BIDIRECTIONAL]
    if not both:
        return []
    machine = Machine(network)
    found: dict[tuple[int, str], None] = {}
    for index, change in enumerate(changes):
        drives: list[Levels] = [{n: v} for n, v in change.items() if n in both and v is not None]
        freed: list[Levels] = [{n: v} for n, v in change.items() if n in both and v is None]
        for order in _orders(sorted(n for n in change if n not in both)):
            controls: list[Levels] = [{n: change[n]} for n in order]
            for row in (drives + controls + freed, controls + drives + freed):
                trial = machine.copy()
                for part in row:
                    trial.set(part)
                    for name in both:
                        if (level := trial.driven.get(name)) is not None and _against(trial, name, level):
                            found[index, name] = None
        machine.set(change)
    return list(found)


def _against(machine: Machine, name: str, level: bool) -> bool:
    """True if the part may drive a pin that is driven to this level from outside, and not to that same level.

    A pin with `when 1` holds itself high by a resistor: pulling it low is allowed, driving it high only while it is high.
    """
    driver = machine.network.drivers[name]
    if driver.enable in machine.network.always:
        return level and not machine.one[driver.value]
    same = machine.one[driver.value] if level else machine.zero[driver.value]      # both pull an open collector low
    return not machine.zero[driver.enable] and not same


def _orders(names: list[str]) -> Iterable[Sequence[str]]:
    if len(names) <= 4:
        return permutations(names)
    rotations = [[name, *(n for n in names if n != name)] for name in names]
    return [names, names[::-1], *rotations]


def _end(machine: Machine, change: Mapping[str, bool | None], order: Sequence[str]) -> tuple[tuple[int, int], ...]:
    for name in order:
        machine.set({name: change[name]})
    return tuple((machine.one[r.state], machine.zero[r.state]) for r in machine.network.registers)


def said(definition: Definition) -> Iterator[tuple[int | None, int, list[Levels]]]:
    """What each program line comes to: block (None: whole part), line, steps.  The line -1 is the idle levels.

    Of copies of a block one after another, as if each were alone.
    """
    driven = first(definition)
    yield None, -1, [dict(driven)]
    for index, block in enumerate(definition.blocks):
        for line, text in enumerate(block.program):
            yield index, line, list(_expand([text], definition, driven))
    for line, text in enumerate(definition.program):
        yield None, line, list(_expand([text], definition, driven))
