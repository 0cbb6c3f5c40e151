"""How good a test is: which faults of a part it would show.

A fault is a signal stuck high or low: an input pin as the part sees it, or a node
of the part's own statements.  A fault counts as shown only if some output is
surely wrong whatever the part powered up as; what a part without faults does
not settle by itself never counts.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from .behaviour import Machine, Network


@dataclass(frozen=True)
class Stuck:
    """A signal slot fixed at a level."""

    slot: int
    level: bool


def pin_faults(network: Network) -> list[Stuck]:
    """Every input pin stuck low and stuck high."""
    return [Stuck(network.slots[name], level) for name in network.inputs for level in (False, True)]


def node_faults(network: Network) -> list[Stuck]:
    """Every inner node and state bit stuck low and stuck high.  Some cannot show: redundant terms, undefined states."""
    slots = sorted({op[1] for op in network.tape} | {r.state for r in network.registers})
    return [Stuck(slot, level) for slot in slots for level in (False, True)]


def shown(network: Network, changes: Sequence[Mapping[str, bool | None]], faults: Sequence[Stuck]) -> list[bool]:
    """For each fault: does the sequence show it, whatever the state at power-on (four of them are tried)?"""
    seen = -1
    for start in _starts(len(network.registers)):
        seen &= _run(network, changes, faults, start)
    return [bool(seen >> lane & 1) for lane in range(1, len(faults) + 1)]


def _starts(bits: int) -> Iterator[list[bool]]:
    yield [False] * bits
    if bits:
        yield [True] * bits
        yield [bool(k % 2) for k in range(bits)]
        yield [not k % 2 for k in range(bits)]


def _run(network: Network, changes: Sequence[Mapping[str, bool | None]], faults: Sequence[Stuck],
         start: Sequence[bool]) -> int:
    """Lanes (fault k in lane k + 1) in which some output differs from what the sequence expects."""
    table: dict[int, tuple[int, int]] = {}
    for lane, fault in enumerate(faults, start=1):
        high, low = table.get(fault.slot, (0, 0))
        table[fault.slot] = (high | 1 << lane, low) if fault.level else (high, low | 1 << lane)
    bad = Machine(network, len(faults) + 1, table, start)
    good = Machine(network)                            # begins unknown: gives the expectations
    seen = 0
    for change in changes:
        bad.set(change)
        good.set(change)
        for name in network.drivers:
            if good.driven.get(name) is None:
                low, high, off = good.output(name)
                is_low, is_high, is_off = bad.output(name)
                seen |= (is_high | is_off if low else is_low | is_off if high else is_low | is_high if off else 0)
    return seen
