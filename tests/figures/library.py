"""Figures of the part library.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator


def breadth() -> Iterator[tuple[str, float, str]]:
    """Functions, and types (function x family that existed)."""
    from sagbench.parts import catalogue
    rows = list(catalogue())
    yield "parts_functions", len(rows), "functions"
    yield "part_types", sum(len(row.families) for row in rows), "types"
    from sagbench.vectors.figures import figures
    for name, value, unit in figures():
        if name not in ("parts_functions", "part_types"):
            yield name, value, unit
