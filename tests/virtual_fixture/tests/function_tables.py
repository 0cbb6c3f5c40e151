"""Function tables as the data books print them, applied to a behaviour.

Rows: 'A=H B=X : Y=L'.  On the left H, L, X as in the book, ^ and v for clock edges; on
the right H, L, Z for off, = for unchanged, ~ for toggled.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import itertools
import random

from virtual_fixture.chips.behaviour import OFF, PARTS
from virtual_fixture.chips.chip import POWER_UP, Logic

LEVEL = {"L": 0, "H": 1}


class Driver:
    """Sets inputs by name and reads outputs by name through the callback's masks."""

    def __init__(self, number: str, seed: int = 1) -> None:
        cls = PARTS[number]
        self.part = cls(random.Random(seed))
        self.logic = Logic(self.part)
        self.levels = dict.fromkeys(cls.input_names(), 0)
        self.out: dict[str, int] = {}
        self._call(POWER_UP)

    def _call(self, reason: int) -> None:
        mask = sum(level << self.part.pin(n) for n, level in self.levels.items())
        result = self.logic(mask, reason, 0.0)
        if self.logic.error:
            raise self.logic.error
        for name in self.part.output_names():
            name = name.removeprefix("<>")
            pin = self.part.pin(name)
            self.out[name] = OFF if result >> (32 + pin) & 1 else result >> pin & 1

    def set(self, **levels: int) -> dict[str, int]:
        return self.apply(levels)

    def apply(self, levels: dict[str, int]) -> dict[str, int]:
        self.levels |= levels
        self._call(0)
        return self.out


def rows(text: str) -> list[tuple[list[tuple[str, str]], list[tuple[str, str]]]]:
    """'A=H B=X : Y=L' -> ([(A, H), (B, X)], [(Y, L)])."""
    out = []
    for line in text.strip().splitlines():
        left, right = line.split(" : ")
        # Names may end in '=' free forms such as 'A=B': split at the last '='.
        out.append(([tuple(w.rsplit("=", 1)) for w in left.split()],
                    [tuple(w.rsplit("=", 1)) if not w.endswith("==") else (w[:-2], "=")
                     for w in right.split()]))
    return out  # type: ignore[return-value]


def check(number: str, text: str) -> None:
    """Every row with every choice for its X, from both register states."""
    for left, right in rows(text):
        free = [n for n, level in left if level == "X"]
        for choice in itertools.product((0, 1), repeat=len(free)):
            for seed in range(4):
                driver = Driver(number, seed)
                levels = {n: LEVEL[x] for n, x in left if x in LEVEL}
                levels |= dict(zip(free, choice, strict=True))
                clocks = {n: x for n, x in left if x in "^v"}
                before = dict(driver.apply(levels | {n: int(x == "v") for n, x in clocks.items()}))
                after = driver.apply({n: int(x == "^") for n, x in clocks.items()})
                for name, wanted in right:
                    expected = {"Z": OFF, "=": before[name], "~": 1 - before[name]}.get(
                        wanted, LEVEL.get(wanted))
                    assert after[name] == expected, (number, left, choice, name)
