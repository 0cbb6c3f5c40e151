"""Figures of the part library.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Iterator

from rig import ENV, ROOT

Figure = tuple[str, float, str]
sys.path.append(str(ROOT / "tests/outside"))


def breadth() -> Iterator[Figure]:
    """All figures of the library, the quick ones first."""
    for measure in (size, check_time, pinouts, limits, vectors, logic):
        yield from measure()


def size() -> Iterator[Figure]:
    """Functions, and types (function x family that existed)."""
    from sagbench.parts import catalogue
    rows = list(catalogue())
    yield "parts_functions", len(rows), "functions"
    yield "part_types", sum(len(row.families) for row in rows), "types"


def check_time() -> Iterator[Figure]:
    """A new process reads every file of the library and checks all of it, best of three."""
    script = "from sagbench.parts import catalogue; print(len(list(catalogue())))"
    spent = []
    for _ in range(3):
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-c", script], env=ENV, capture_output=True, check=True)
        spent.append(time.perf_counter() - begun)
    yield "library_check_s", min(spent), "s"


def pinouts() -> Iterator[Figure]:
    """Pinouts of which each pin has the same role in a symbol library of others: of all, and of those with a symbol."""
    from pinouts import REFEREES, all_pinouts, confirmed, referee
    every = all_pinouts()
    known = [ours for ours in every if any(referee(ours, which) for which in REFEREES)]
    sound = sum(all(confirmed(ours)) for ours in known)
    yield "pinouts_confirmed_percent", 100 * sound / len(every), "%"
    yield "pinouts_with_symbol_confirmed_percent", 100 * sound / len(known), "%"


def limits() -> Iterator[Figure]:
    """Share of the numbers in the files that is from a document; and of the limits that judge, each once a type."""
    from limit_sources import judging, numbers, sourced_percent

    from sagbench.vectors.figures import type_names
    yield "limits_sourced_percent", sourced_percent(list(numbers())), "%"
    yield "limits_judging_sourced_percent", sourced_percent(list(judging(type_names()))), "%"


def vectors() -> Iterator[Figure]:
    """What the logic tests find, and how long it takes to make them."""
    from sagbench.vectors.figures import figures
    yield from figures()


def logic() -> Iterator[Figure]:
    """Functions whose behaviour a second description confirms: its tests are run."""
    from confirmed_logic import functions
    yield "logic_confirmed_functions", len(functions()), "functions"
