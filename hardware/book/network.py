"""What an ohmmeter shows between two nets of a board without chips, without power: its resistors alone.

Transistors, diodes and the reference block at the small voltage of a meter's ohm range if they are measured in their blocking
direction (the table says which lead goes where); capacitors block once they are charged.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

from hardware.wiring import Fixture


@dataclass(frozen=True)
class Ohms:
    """Nominal value, and the least and most with every resistor at an end of its tolerance."""

    nominal: float
    least: float
    most: float


def between(fixture: Fixture, one: str, other: str) -> Ohms:
    """Resistance between two nets; inf if nothing joins them.

    It grows with every resistor (Rayleigh's monotonicity law), so that all at one end give the span's end.
    """
    nominal, least, most = (_solve(fixture, one, other, side) for side in (0.0, -1.0, 1.0))
    return Ohms(nominal, least, most)


def _solve(fixture: Fixture, one: str, other: str, side: float) -> float:
    edges = [(p["pins"]["1"], p["pins"]["2"], p["ohm"] * (1 + side * p["tolerance"]))
             for p in fixture["part"] if p["kind"] == "resistor"]
    reached = {one}
    while grown := {b for a, b, _ in edges if a in reached} | {a for a, b, _ in edges if b in reached} | reached:
        if grown == reached:
            break
        reached = grown
    if other not in reached:
        return inf
    nodes = sorted(reached - {other})
    index = {net: n for n, net in enumerate(nodes)}
    matrix = [[0.0] * len(nodes) + [1.0 if net == one else 0.0] for net in nodes]      # an ampere into `one`, `other` at 0 V
    for a, b, ohm in edges:
        for here, there in ((a, b), (b, a)):
            if here in index:
                matrix[index[here]][index[here]] += 1 / ohm
                if there in index:
                    matrix[index[here]][index[there]] -= 1 / ohm
    return _gauss(matrix)[index[one]]


def _gauss(rows: list[list[float]]) -> list[float]:
    """Solution of a positive definite system given with its right side."""
    size = len(rows)
    for n in range(size):
        for m in range(n + 1, size):
            if factor := rows[m][n] / rows[n][n]:
                rows[m] = [a - factor * b for a, b in zip(rows[m], rows[n], strict=True)]
    out = [0.0] * size
    for n in reversed(range(size)):
        out[n] = (rows[n][-1] - sum(rows[n][m] * out[m] for m in range(n + 1, size))) / rows[n][n]
    return out
