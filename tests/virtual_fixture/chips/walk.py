"""A walk through a part's states in step with a sound reference of its logic.

Random, but biased so that wide gates, decoders and counters get through their
states: stretches of mostly high, mostly low and mixed inputs, with pulses.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from collections.abc import Iterator

from .behaviour import OFF, Part

STRETCH = 16                      # steps with one bias
BIASES = (0.5, 0.9, 0.1, 0.75)    # share of high inputs


class Reference:
    """A sound part's logic, told of every change as the chip's own logic is."""

    def __init__(self, part: type[Part], seed: int) -> None:
        # The registers' stream of Chip: both come up alike.
        self.part = part(random.Random(f"{seed}/registers"))
        self.outputs: dict[str, int] = {}
        self.both = [n.removeprefix("<>") for n in part.output_names() if n.startswith("<>")]

    def power_up(self, levels: dict[str, int]) -> dict[str, int]:
        self.part.power_up()
        self.part.now = self._seen(levels)
        self.part.before = dict(self.part.now)
        return self._react()

    def step(self, levels: dict[str, int]) -> dict[str, int]:
        """Outputs (0, 1, OFF) after the inputs have taken these levels."""
        self.part.before = dict(self.part.now)
        self.part.now = self._seen(levels)
        return self._react()

    def _react(self) -> dict[str, int]:
        self.outputs = dict(self.part.evaluate(self.part.now))
        return self.outputs

    def _seen(self, levels: dict[str, int]) -> dict[str, int]:
        return dict(levels)


def vectors(names: list[str], rng: random.Random, steps: int) -> Iterator[dict[str, int]]:
    """Input levels by name, one dict a step."""
    now = dict.fromkeys(names, 1)
    yield dict(now)
    for k in range(steps):
        bias = BIASES[k // STRETCH % len(BIASES)]
        if k % STRETCH == 0:
            now = {n: int(rng.random() < bias) for n in names}
        elif k % 3 == 0:
            for n in rng.sample(names, min(len(names), rng.randint(1, 3))):
                now[n] = int(rng.random() < bias)
        else:
            now[rng.choice(names)] ^= 1
        yield dict(now)


def counts(outputs: dict[str, int]) -> tuple[int, int, int]:
    """How many outputs are low, high, off."""
    values = list(outputs.values())
    return values.count(0), values.count(1), values.count(OFF)
