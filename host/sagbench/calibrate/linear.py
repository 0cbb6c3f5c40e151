"""Small dense linear algebra: what a fit of some two hundred unknowns needs, without numpy.

    >>> lower = cholesky([[4.0, 2.0], [2.0, 3.0]])
    >>> [round(x, 6) for x in solve(lower, [8.0, 7.0])]
    [1.25, 1.5]

Lists of rows; a triangular matrix has rows of growing length.  200 unknowns take some 0.2 s, once at the end of a
calibration, which is no reason to make numpy a dependency of the host (0.17 s at every start, 20 MB).

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Sequence
from math import sqrt
from operator import mul

Matrix = list[list[float]]
Vector = Sequence[float]


def _dot(a: Vector, b: Vector) -> float:
    return float(sum(map(mul, a, b)))


def cholesky(matrix: Sequence[Vector]) -> Matrix:
    """Lower triangular L with L L^T = matrix (symmetric, only its lower half is read). ValueError if not positive."""
    lower: Matrix = []
    for i, source in enumerate(matrix):
        row: list[float] = []
        for j in range(i):
            other = lower[j]
            row.append((source[j] - _dot(row, other)) / other[j])
        rest = source[i] - _dot(row, row)
        if rest <= 0:
            raise ValueError(f"the matrix is not positive definite at row {i}")
        row.append(sqrt(rest))
        lower.append(row)
    return lower


def forward(lower: Matrix, right: Vector) -> list[float]:
    """x with L x = right."""
    out: list[float] = []
    for row, value in zip(lower, right, strict=True):
        out.append((value - _dot(row, out)) / row[-1])
    return out


def backward(lower: Matrix, right: Vector) -> list[float]:
    """x with L^T x = right."""
    out = list(right)
    for i in range(len(lower) - 1, -1, -1):
        row = lower[i]
        out[i] /= row[-1]
        x = out[i]
        for j in range(i):
            out[j] -= row[j] * x
    return out


def solve(lower: Matrix, right: Vector) -> list[float]:
    """x with L L^T x = right."""
    return backward(lower, forward(lower, right))
