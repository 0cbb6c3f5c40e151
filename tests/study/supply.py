"""What a chip's supply truly was while it was being swept: it sags with what the chip and its loads draw.

    seen = Supply.watch(fixture, chip)     # before the sweep
    seen.rest                              # volts, in the middle of the sweep
    seen.at(0.022)                         # volts while the supply carries 22 mA, and the chip's ground likewise
    seen.at(0.022, 0.004)                  # volts while 4 mA of these go out through a pin

Every time the host listens, the true volts of the chip's supply and ground pins are kept, and the true current in the
supply switch, which follows from the switch's own voltage and what it was drawn as. What the ground switch adds likewise.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import statistics
from dataclasses import dataclass, field
from typing import Any

from virtual_fixture.inproc import Fixture

POWERED_V = 4.3
NOMINAL_V = 5.0


@dataclass
class Supply:
    """Samples: volts of the chip's supply pin and of its ground pin, amperes in its supply switch.

    ground: volts and ohms of the saturated ground switch.
    """

    samples: list[tuple[float, float, float]] = field(default_factory=list)
    ground: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def watch(cls, fixture: Fixture, chip: Any) -> Supply:
        """From now on, look whenever the host listens."""
        supply, ground = chip.circuit.vcc, chip.circuit.gnd
        drawn, found, listen = fixture.drawn, cls(), fixture.listen
        volt, ohm = (drawn.get(f"Q{100 + supply}.saturation_{unit}") for unit in ("v", "ohm"))
        found.ground = tuple(drawn.get(f"Q{200 + ground}.saturation_{unit}", 0.0) for unit in ("v", "ohm"))

        def listening(*arguments: Any, **options: Any) -> bytes:
            got: bytes = listen(*arguments, **options)
            high, low = fixture.node(supply), fixture.node(ground)
            if ohm and high - low > POWERED_V:
                found.samples.append((high, low, (fixture.node("VBUS") - high - volt) / ohm))
            return got

        fixture.listen = listening
        return found

    @property
    def rest(self) -> float:
        """The median of all; nominal if there was never power."""
        return statistics.median(high - low for high, low, _ in self.samples) if self.samples else NOMINAL_V

    def at(self, amperes: float, sourced: float = 0.0) -> float:
        """Volts between the pins at this supply current, of which so much does not come back through the ground pin.

        The supply pin along the upper edge of what was seen, prolonged straight at its ends: loads that draw on the rail
        besides take some of the samples away at the same current.
        """
        edge, (volt, ohm) = self._edge(), self.ground
        if len(edge) < 2:
            return self.rest
        upto = next((n for n, one in enumerate(edge[1:-1], 1) if amperes < one[0]), len(edge) - 1)
        (i1, v1), (i2, v2) = edge[upto - 1], edge[upto]
        return v1 + min((v2 - v1) / (i2 - i1), 0.0) * (amperes - i1) - volt - ohm * (amperes - sourced)

    def _edge(self) -> list[tuple[float, float]]:
        """Upper convex hull of the supply pin, from the smallest current to the largest: (amperes, volts)."""
        hull: list[tuple[float, float]] = []
        for current, volts in sorted((i, high) for high, _, i in self.samples):
            while hull and (hull[-1][0] == current or len(hull) > 1 and _below(hull[-2], hull[-1], (current, volts))):
                hull.pop()
            hull.append((current, volts))
        return hull


def _below(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """True if b is not above the line from a to c."""
    return (b[1] - a[1]) * (c[0] - a[0]) <= (c[1] - a[1]) * (b[0] - a[0])
