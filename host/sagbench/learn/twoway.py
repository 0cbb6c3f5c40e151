"""Outputs that are inputs at times: what happens to the others if they are driven while they do not drive.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from sagbench.identify.belief import Seen
from sagbench.identify.choose import Pattern
from sagbench.learn.levels import Levels
from sagbench.learn.specimen import Bench, Both

POINTS = 48  # levels of the inputs at which it is tried
MOST = 14  # inputs and such pins together, for more is not tried through


def with_both(levels: Levels) -> Bench | None:
    """A bench with the pins that are both, or None if there are none."""
    bench = levels.bench
    able = [pin for pin, one in zip(bench.outputs, levels.seen, strict=True) if one.kinds != {Seen.LOW}]
    found: dict[int, bool] = {}  # pin -> it is pulled up inside
    for _ in range(POINTS):
        found |= _tried(bench, able)
    if not found or len(bench.inputs) + len(found) > MOST:
        return None
    both = []
    count = len(bench.inputs)
    for pin in sorted(found):
        away = levels.seen[bench.outputs.index(pin)].away
        if found[pin]:
            both.append(Both(pin))
        elif not away.contradicts:
            mask = away.support(count)
            both.append(Both(pin, away.over(mask), mask))
    return Bench(bench.specimen, (*bench.inputs, *(one.pin for one in both)), bench.outputs, bench.rng, tuple(both), bench.looks,
                 overlooked=bench.overlooked, looked=bench.looked)


def _tried(bench: Bench, able: list[int]) -> dict[int, bool]:
    """Each of these pins driven low and high at one point where it does not drive; those that others hang on."""
    point = bench.some_point()
    ((_, look),) = bench.give([point])
    at = dict(zip(bench.outputs, look, strict=True))
    pins = [pin for pin in able if at[pin] is not Seen.LOW]
    patterns = [Pattern(((pin, level),)) for pin in pins for level in (False, True, None)]
    seen = bench.specimen.play(patterns, bench.outputs)
    bench.looks += len(patterns)
    found = {}
    for k, pin in enumerate(pins):
        low, high, free = seen[3 * k : 3 * k + 3]
        pulled = at[pin] is Seen.HIGH
        if low.get(pin) is Seen.FOLLOWS_LOW and any(low.get(p, did) is not did for p, did in (free if pulled else high).items() if p != pin):
            found[pin] = pulled
    return found
