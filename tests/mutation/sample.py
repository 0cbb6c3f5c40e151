"""Which mutants are tried: the first of an order that the seed shuffles, so that a larger count goes on where a smaller one ended.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import hashlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from mutation.mutants import Mutant, listed
from mutation.rooms import ROOT, Room, digest
from mutation.rooms import rooms as all_rooms
from mutation.run import SAME, Outcome, Runner, keep, recall

SEED = 20261126
LEAST = 60                     # of a room, in a sample that has room for it


def shares(lines: dict[str, int], count: int) -> dict[str, int]:
    """How many mutants of each room: in proportion to its lines, but no fewer than LEAST (a quarter of the count, in small samples)."""
    least = min(LEAST, count // len(lines))
    return {name: max(least, round(count * size / sum(lines.values()))) for name, size in lines.items()}


def _shuffled(room: Room, seed: int) -> list[Mutant]:
    found = [mutant for file in room.sources for mutant in listed(room, file)]
    return sorted(found, key=lambda one: hashlib.sha256(f"{seed} {one.id}".encode()).digest())


def _in_turn(rooms: list[Room], count: int, seed: int, done: dict[Mutant, Outcome]) -> Iterator[Mutant]:
    """Mutants of the rooms by turns, until each room has its share of changes that change something."""
    orders = {room.name: _shuffled(room, seed) for room in rooms}
    lines = {room.name: sum(len((room.root / file).read_text().splitlines()) for file in room.sources) for room in rooms}
    wanted = shares(lines, count) if count else {name: len(order) for name, order in orders.items()}
    rest = {name: iter(order) for name, order in orders.items()}
    while rest:
        had = {name: sum(one.room == name for one in done) for name in rest}
        name = min(rest, key=lambda name: had[name] / wanted[name])
        mutant = next(rest[name], None) if had[name] < wanted[name] else None
        if mutant is None:
            del rest[name]
        else:
            yield mutant


def known(rooms: list[Room], seed: int, build: Path) -> dict[Mutant, Outcome]:
    """What is kept of earlier runs on the files as they are, nothing tried anew: the beginning of the sample, where a run was stopped."""
    kept = recall(build / "results.jsonl")
    return {mutant: kept[mutant.id] for room in rooms for mutant in _shuffled(room, seed)
            if mutant.id in kept and kept[mutant.id].outcome != SAME and kept[mutant.id].state.startswith(digest(room.root / mutant.file))}


def tried(rooms: list[Room], count: int, seed: int, build: Path, say: bool = False, anew: bool = False) -> dict[Mutant, Outcome]:
    """Outcomes of a sample, in order; those that change no code are left out, for the next stands in for them.

    anew: nothing that an earlier run found is taken over (but which lines a test executes), and nothing is kept.
    """
    done: dict[Mutant, Outcome] = {}
    results = build / "results.jsonl"
    kept = {} if anew else recall(results)

    def tell(mutant: Mutant, outcome: Outcome) -> None:
        if outcome.outcome != SAME:
            done[mutant] = outcome
        if kept.get(mutant.id) != outcome:
            if not anew:
                keep(results, outcome)
            if say:
                print(f"{len(done)} {outcome.outcome} {outcome.seconds:.1f} s  {mutant.file}:{mutant.line} {mutant.function}: "
                      f"{mutant.was[:70]} -> {mutant.now[:70]}", flush=True)
    root = rooms[0].root
    # All rooms are watched whichever are tried, so that what is known of a test serves the next run.
    watched = [room.root / file for room in (all_rooms() if root == ROOT else rooms) for file in room.sources]
    runner = Runner(rooms, _in_turn(rooms, count, seed, done), tell, kept, build, watched)
    code = pytest.main(["-q", "-s", "-p", "no:xdist", "-p", "no:cacheprovider", f"--rootdir={root}", "--no-header",
                        *(str(root / file) for room in rooms for file in room.tests)], plugins=[runner])
    if not done:
        sys.exit(f"mutation: no test could be collected (pytest said {code})")
    return done
