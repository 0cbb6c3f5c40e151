"""Vectors for a part without memory.

Every output sees only some of the inputs.  Inputs that no output sees together
may share a bit of a counter; give each such group one bit, count through, and
every output has seen every combination of its inputs while all outputs work
in parallel (pseudo-exhaustive testing).  Inputs that share a bit are told
apart by inverting them in a different pattern each round, so that a connection between
two gates shows.

If the counter would have more than MAX_BITS bits, vectors are chosen instead:
from pseudo-random and walking candidates, so few that every inner node of the
part's own equations stuck high or low shows DETECT times.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterator, Sequence

from .behaviour import Machine, Network, evaluate

MAX_BITS = 8
CANDIDATES = 256
DETECT = 3

Vector = dict[str, bool]


def vectors(network: Network) -> list[Vector]:
    """Complete vectors (all inputs) for a network without state bits, in order; never the same twice running."""
    groups = colour(network)
    bits = max(groups.values(), default=-1) + 1
    if bits > MAX_BITS:
        return choose(network, candidates(network.inputs))
    rank = _ranks(groups)
    rounds = max(1, max(rank.values(), default=0).bit_length())
    made: list[Vector] = []
    for turn in range(rounds):
        for count in range(1 << bits):
            made.append({name: bool((count >> bit ^ rank[name] >> turn) & 1) for name, bit in groups.items()})
    return list({tuple(v.items()): v for v in made}.values())


def colour(network: Network) -> dict[str, int]:
    """A counter bit for each input; two inputs that one output sees never have the same."""
    foes: dict[str, set[str]] = {name: set() for name in network.inputs}
    for seen in network.supports.values():
        for name in seen:
            foes[name] |= seen - {name}
    bits: dict[str, int] = {}
    for name in sorted(network.inputs, key=lambda n: -len(foes[n])):
        taken = {bits[f] for f in foes[name] if f in bits}
        bits[name] = next(b for b in range(len(foes) + 1) if b not in taken)
    return {name: bits[name] for name in network.inputs}


def _ranks(groups: dict[str, int]) -> dict[str, int]:
    """Place of each input among those with the same bit."""
    seen: dict[int, int] = {}
    rank = {}
    for name, bit in groups.items():
        rank[name] = seen.get(bit, 0)
        seen[bit] = rank[name] + 1
    return rank


def candidates(names: Sequence[str]) -> list[Vector]:
    """All low, all high, walking ones and zeros, then pseudo-random vectors, the same in every run."""
    source = random.Random(1164)
    made = [dict.fromkeys(names, False), dict.fromkeys(names, True)]
    for level in (True, False):
        made += [{n: (n == one) == level for n in names} for one in names]
    made += [{n: bool(source.getrandbits(1)) for n in names} for _ in range(CANDIDATES - len(made))]
    return made


def choose(network: Network, offered: Sequence[Vector]) -> list[Vector]:
    """A small part of `offered` in which each node fault that any of them shows is shown DETECT times."""
    shown = [s for s in _detections(network, offered) if s]
    shows = [0] * len(offered)                         # per candidate: the faults it shows, as bits
    for fault, mask in enumerate(shown):
        for index in _bits(mask):
            shows[index] |= 1 << fault
    taken: list[int] = []
    for times in range(1, DETECT + 1):
        open_faults = sum(1 << f for f, mask in enumerate(shown)
                          if sum(mask >> i & 1 for i in taken) < min(times, mask.bit_count()))
        while open_faults:
            best = max(range(len(offered)), key=lambda i: (shows[i] & open_faults).bit_count() if i not in taken else -1)
            taken.append(best)
            open_faults &= ~shows[best]
    return [offered[i] for i in sorted(taken)]


def _bits(mask: int) -> Iterator[int]:
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


def _detections(network: Network, offered: Sequence[Vector]) -> list[int]:
    """For each node stuck at 1 and at 0: the candidates (as bits) in which some output differs."""
    good = Machine(network, len(offered))
    for name in network.inputs:
        good.set_lanes(name, sum(1 << i for i, v in enumerate(offered) if v[name]))
    good.settle()
    healthy = [good.output(name) for name in network.drivers]
    bad = Machine(network, len(offered))
    found = []
    for node in [network.slots[n] for n in network.inputs] + [op[1] for op in network.tape]:
        cone = network.cone(node)
        for level in (True, False):
            bad.one, bad.zero = good.one[:], good.zero[:]
            bad.one[node], bad.zero[node] = (good.all, 0) if level else (0, good.all)
            evaluate(cone, bad.one, bad.zero)
            found.append(_differ(healthy, [bad.output(name) for name in network.drivers]))
    return found


def _differ(good: list[tuple[int, int, int]], bad: list[tuple[int, int, int]]) -> int:
    """Lanes in which an output is surely one thing in one and surely another in the other."""
    differ = 0
    for mine, other in zip(good, bad, strict=True):
        if mine != other:
            low, high, off = other
            differ |= mine[0] & (high | off) | mine[1] & (low | off) | mine[2] & (low | high)
    return differ
