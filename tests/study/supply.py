"""What a chip's supply truly was while it was being swept: it sags with what the chip and its loads draw.

    seen = Supply.watch(fixture, chip)     # before the sweep
    seen.rest                              # volts, in the middle of the sweep
    seen.at(0.022)                         # volts while the supply carries 22 mA

Every time the host listens, the true volts at the chip's pins are kept, and the true current in the supply switch, which
follows from the switch's own voltage and what it was drawn as.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import statistics
from dataclasses import dataclass, field
from typing import Any

from virtual_fixture.inproc import Fixture

POWERED_V = 4.3
STEP_A = 1e-4                  # samples of one current are one sample
NOMINAL_V = 5.0


@dataclass
class Supply:
    """Samples of volts at the chip's own pins and of amperes in its supply switch."""

    samples: list[tuple[float, float]] = field(default_factory=list)

    @classmethod
    def watch(cls, fixture: Fixture, chip: Any) -> Supply:
        """From now on, look whenever the host listens."""
        supply, ground = chip.circuit.vcc, chip.circuit.gnd
        drawn, found, listen = fixture.drawn, cls(), fixture.listen
        volt, ohm = (drawn.get(f"Q{100 + supply}.saturation_{unit}") for unit in ("v", "ohm"))

        def listening(*arguments: Any, **options: Any) -> bytes:
            got: bytes = listen(*arguments, **options)
            high = fixture.node(supply)
            if ohm and high - fixture.node(ground) > POWERED_V:
                found.samples.append((high - fixture.node(ground), (fixture.node("VBUS") - high - volt) / ohm))
            return got

        fixture.listen = listening
        return found

    @property
    def rest(self) -> float:
        """The median of all; nominal if there was never power."""
        return statistics.median(v for v, _ in self.samples) if self.samples else NOMINAL_V

    def at(self, amperes: float) -> float:
        """Volts at this supply current, along the straight line through what was seen with the ground least loaded."""
        best: dict[int, tuple[float, float]] = {}
        for volts, current in self.samples:
            step = round(current / STEP_A)
            if step not in best or volts > best[step][0]:
                best[step] = volts, current
        near = min(best.values(), key=lambda one: abs(one[1] - amperes), default=(self.rest, amperes))
        if abs(near[1] - amperes) <= 2 * STEP_A or len(best) < 3:
            return near[0]
        slope = statistics.linear_regression([i for _, i in best.values()], [v for v, _ in best.values()]).slope
        return near[0] + min(slope, 0.0) * (amperes - near[1])
