"""Ways through the points of a specimen's inputs, mostly one toggle at a time.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sagbench.learn.specimen import Bench

SESSION = 40  # toggles with one favourite input


def walk(bench: Bench, count: int, fixed: int = 0, at: int = 0, favourites: Sequence[int] = ()) -> list[int]:
    """Points, nearly all one toggle from the one before; inputs of the mask `fixed` stay as in `at`.

    favourites: inputs that are toggled most, in turns; all, if nothing is known.
    """
    free = [i for i in range(len(bench.inputs)) if not (fixed >> i) & 1]
    rng, point, points = bench.rng, bench.point, []
    for i in [i for i in range(len(bench.inputs)) if ((point ^ at) & fixed) >> i & 1]:
        point ^= 1 << i
        points.append(point)
    while free and len(points) < count:
        favourite, goal = rng.choice([i for i in favourites if i in free] or free), bench.some_point(fixed, at)
        points += (_leaps if rng.random() < 0.5 else _strolls)(bench, points[-1] if points else point, favourite, goal, free)
    return points


def _strolls(bench: Bench, point: int, favourite: int, goal: int, free: Sequence[int]) -> Iterator[int]:
    """The favourite again and again; between, others towards the goal."""
    rng = bench.rng
    for _ in range(SESSION):
        far = [i for i in free if ((point ^ goal) >> i) & 1 and i != favourite]
        i = rng.choice(far) if far and rng.random() < 0.4 else favourite if rng.random() < 0.75 else rng.choice(free)
        point ^= 1 << i
        yield point


def _leaps(bench: Bench, point: int, favourite: int, goal: int, free: Sequence[int]) -> Iterator[int]:
    """Some inputs stay all the while; the others go anywhere, then the favourite there and back."""
    rng = bench.rng
    stay = sum(1 << i for i in range(len(bench.inputs)) if i not in free or i == favourite or rng.random() < 0.5)
    point = goal & ~(1 << favourite) | point & (1 << favourite)
    for _ in range(SESSION // 3):
        yield point
        yield point ^ (1 << favourite)
        yield point
        point = bench.some_point(stay, point)
