"""Levels in a small network of nominal resistors: what a reading would be if a certain thing were wrong.

    >>> round(levels([("high", "a", 560.0), ("a", "low", 270.0)])["a"], 3)
    0.325

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence

from sagbench.calibrate.linear import cholesky, solve

RAILS = {"high": 1.0, "low": 0.0}
LEAK_OHM = 1e9  # so that a node that nothing is tied to has a level

Branch = tuple[str, str, float]


def levels(branches: Sequence[Branch]) -> dict[str, float]:
    """Node -> level between 0 (`low`) and 1 (`high`)."""
    nodes = sorted({end for a, b, _ in branches for end in (a, b)} - RAILS.keys())
    place = {node: n for n, node in enumerate(nodes)}
    matrix = [[0.0] * len(nodes) for _ in nodes]
    right = [0.0] * len(nodes)
    for a, b, ohm in (*branches, *((node, "low", LEAK_OHM) for node in nodes)):
        conductance = 1 / max(ohm, 1e-3)
        for one, other in ((a, b), (b, a)):
            if one in place:
                matrix[place[one]][place[one]] += conductance
                if other in place:
                    matrix[place[one]][place[other]] -= conductance
                else:
                    right[place[one]] += conductance * RAILS[other]
    found = solve(cholesky(matrix), right) if nodes else []
    return {**RAILS, **dict(zip(nodes, found, strict=True))}
