"""How to bring a part into a state in which its data book gives a supply current.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import product

from .behaviour import Machine, Network
from .definition import Definition
from .model import Expect, Role, SupplyState
from .sequence import Levels, first, levels, numbered

NAMES = {"high": "outputs high", "low": "outputs low", "off": "outputs off", "quiescent": "quiescent"}
MAX_SUPPORT = 10     # inputs of an output that are tried in all combinations
MAX_TRIES = 20000


def states(definition: Definition, network: Network, pins: Sequence[str],
           wanted: Iterable[str]) -> Iterator[tuple[str, SupplyState]]:
    """For each of "high", "low", "off", "quiescent" that the part can be brought into: how (limits are left out)."""
    number = {name: i for i, name in enumerate(pins, start=1)}
    for key in wanted:
        if (path := _reach(definition, network, key)) is None:
            continue
        final: Levels = {}
        for change in path:
            final.update(change)
        yield key, SupplyState(NAMES[key], tuple(numbered(change, number) for change in path),
                               None, pins_low=tuple(sorted(number[n] for n, v in final.items() if v is False)))


def _reach(definition: Definition, network: Network, key: str) -> list[Levels] | None:
    """The shortest way found: one step if that will do, else the beginning of the logic test."""
    for vector in _single(definition, network, key):
        if _is(network, vector, key):
            return [vector]
    machine = Machine(network)
    changes = levels(definition, network)
    for index, change in enumerate(changes):
        machine.set(change)
        if in_state(machine, key) and all(n in machine.driven for n in network.inputs):
            return changes[:index + 1]
    return None


def _single(definition: Definition, network: Network, key: str) -> Iterator[Levels]:
    """Complete vectors to try from power-on: all inputs alike first (what data books do), then more."""
    begin = first(definition)
    if any(level is None for level in begin.values()):
        yield from ({**begin, name: not level} for name, level in begin.items() if level is not None)
        return
    yield {name: False for name in begin}
    yield {name: True for name in begin}
    if network.registers:
        yield begin
        yield from ({**begin, name: not level} for name, level in begin.items())
    elif key != "quiescent" and (found := _justify(network, key)):
        yield {name: found.get(name, False) for name in begin}


def _justify(network: Network, key: str) -> Mapping[str, bool] | None:
    """Input levels that bring every output to what the state asks, worked out output by output, with going back."""
    ways = []
    for name, inputs in network.supports.items():
        if len(inputs) > MAX_SUPPORT:
            return None
        ways.append(_ways(network, key, name, sorted(inputs)))
    ways.sort(key=len)
    tries = 0

    def settle(index: int, so_far: dict[str, bool]) -> dict[str, bool] | None:
        nonlocal tries
        if index == len(ways):
            return so_far
        for way in ways[index]:
            tries += 1
            if tries > MAX_TRIES:
                return None
            if all(so_far.get(name, level) is level for name, level in way.items()):
                if (found := settle(index + 1, so_far | way)) is not None:
                    return found
        return None

    return settle(0, {})


def _ways(network: Network, key: str, output: str, inputs: Sequence[str]) -> list[dict[str, bool]]:
    """All levels of an output's inputs that bring it to what the state asks."""
    combinations = list(product((False, True), repeat=len(inputs)))
    machine = Machine(network, len(combinations))
    for place, name in enumerate(inputs):
        machine.set_lanes(name, sum(c[place] << lane for lane, c in enumerate(combinations)))
    machine.settle()
    low, high, off = machine.output(output)
    role = network.drivers[output].role
    fits = {"low": low, "high": off if role is Role.OPEN_COLLECTOR else high, "off": off}[key]
    return [dict(zip(inputs, c, strict=True)) for lane, c in enumerate(combinations) if fits >> lane & 1]


def _is(network: Network, vector: Levels, key: str) -> bool:
    machine = Machine(network)
    machine.set(vector)
    return in_state(machine, key)


def in_state(machine: Machine, key: str) -> bool:
    """True if every output does what the state asks; "quiescent": every output is known and no input floats.

    Pins that are driven from outside count for nothing, and there may not be more of them than of outputs that show
    the state: a bus driver that is switched off with both sides driven has neither its outputs high nor low.
    """
    shown = taken = 0
    for name, driver in machine.network.drivers.items():
        if machine.driven.get(name) is not None:
            taken += 1
            continue
        if key == "quiescent" and driver.role is Role.BIDIRECTIONAL and not machine.one[driver.enable]:
            return False                               # neither driven nor driving: CMOS would draw what it likes
        does = machine.expect(name)
        high = Expect.OFF if driver.role is Role.OPEN_COLLECTOR else Expect.HIGH
        if does is None or key != "quiescent" and does is not {"high": high, "low": Expect.LOW, "off": Expect.OFF}[key]:
            return False
        shown += 1
    return key == "quiescent" or shown >= taken
