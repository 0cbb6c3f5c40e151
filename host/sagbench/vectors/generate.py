"""Tests for the single stuck-at faults of a combinational netlist: complete, and few.

Up to EXHAUSTIVE inputs all patterns are simulated and the fewest that detect
everything are chosen.  Above, random patterns find the easy faults, a search
finds a test for each of the others or proves that there is none, and the
collection is then compacted.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass

from sagbench.vectors.cover import minimum_cover
from sagbench.vectors.faultsim import Simulator, columns_of, exhaustive_columns
from sagbench.vectors.netlist import Fault, Netlist
from sagbench.vectors.search import Answer, find_test

EXHAUSTIVE = 16


@dataclass(frozen=True)
class TestSet:
    """Vectors (bit i: input i of the netlist) and what they do."""

    vectors: tuple[int, ...]
    detected: tuple[Fault, ...]          # of the collapsed list
    undetectable: tuple[Fault, ...]
    given_up: tuple[Fault, ...]
    proved_minimum: bool                 # no shorter set exists

    @property
    def coverage(self) -> float:
        """Detected share of the detectable faults, 0..1."""
        possible = len(self.detected) + len(self.given_up)
        return len(self.detected) / possible if possible else 1.0


def generate(netlist: Netlist, *, seed: int = 1) -> TestSet:
    """A compact test set for all collapsed stuck-at faults of the netlist."""
    if len(netlist.inputs) <= EXHAUSTIVE:
        return _exhaustive(netlist, seed)
    return _searched(netlist, seed)


def missing(netlist: Netlist, vectors: Sequence[int]) -> tuple[int, ...]:
    """The fewest vectors that detect, of a netlist with up to EXHAUSTIVE inputs, what `vectors` do not."""
    found = _detections(netlist, netlist.collapsed, vectors)
    simulator = Simulator(netlist, exhaustive_columns(len(netlist.inputs)), 1 << len(netlist.inputs))
    rows = [simulator.detects(fault) for fault, row in found.items() if not row]
    return minimum_cover(rows).columns if any(rows) else ()


def _exhaustive(netlist: Netlist, seed: int) -> TestSet:
    count = len(netlist.inputs)
    simulator = Simulator(netlist, exhaustive_columns(count), 1 << count)
    rows = {fault: simulator.detects(fault) for fault in netlist.collapsed}
    cover = minimum_cover(rows.values(), seed=seed)
    return TestSet(
        vectors=cover.columns,           # the pattern's number is the vector
        detected=tuple(fault for fault, row in rows.items() if row),
        undetectable=tuple(fault for fault, row in rows.items() if not row),
        given_up=(),
        proved_minimum=cover.proved,
    )


def _detections(netlist: Netlist, faults: Sequence[Fault], vectors: Sequence[int]) -> dict[Fault, int]:
    simulator = Simulator(netlist, columns_of(vectors, len(netlist.inputs)), len(vectors))
    return {fault: simulator.detects(fault) for fault in faults}


def _searched(netlist: Netlist, seed: int) -> TestSet:
    rng = random.Random(seed)
    width = len(netlist.inputs)
    vectors = [rng.getrandbits(width) for _ in range(RANDOM)]
    rows = _detections(netlist, netlist.collapsed, vectors)
    undetectable: list[Fault] = []
    given_up: list[Fault] = []
    for fault in [fault for fault, row in rows.items() if not row]:
        test = find_test(netlist, fault)
        if isinstance(test, Answer):
            (undetectable if test is Answer.UNDETECTABLE else given_up).append(fault)
        else:
            vectors += [_filled(netlist, test, rng) for _ in range(FILLS)]
    rows = _detections(netlist, netlist.collapsed, vectors)
    cover = minimum_cover(rows.values(), allowance=2000, seed=seed)
    return TestSet(
        vectors=tuple(vectors[column] for column in cover.columns),
        detected=tuple(fault for fault, row in rows.items() if row),
        undetectable=tuple(undetectable),
        given_up=tuple(fault for fault in given_up if not rows[fault]),
        proved_minimum=False,
    )


RANDOM = 2048                            # random patterns to begin with
FILLS = 8                                # ways in which the free inputs of a searched test are filled


def _filled(netlist: Netlist, test: dict[str, int], rng: random.Random) -> int:
    """A vector from a partial assignment; free inputs at random."""
    return sum(test.get(net, rng.getrandbits(1)) << place for place, net in enumerate(netlist.inputs))
