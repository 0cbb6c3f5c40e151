"""What a chip's supply truly was while it was being swept: it sags with what the chip and its loads draw.

    seen = Supply.watch(fixture, chip)     # before the sweep
    seen.rest                              # volts, in the middle of the sweep
    seen.at(0.022)                         # volts while the supply carries 22 mA, and the chip's ground likewise
    seen.at(0.022, 0.004)                  # volts while 4 mA of these go out through a pin
    seen.nearest("supply current", 0.022)  # what was truly drawn in that stage of the sweep, and the volts meanwhile

The sweep tells its stages: `sweep_here(..., progress=seen.stage)`.

Every time the host listens, the true volts of the rail behind the shunt, those at the chip's pins and the true current in
the supply switch are kept; the current follows from the switch's own voltage and what it was drawn as.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import statistics
from dataclasses import dataclass, field
from typing import Any

from virtual_fixture.inproc import Fixture

POWERED_V = 4.3
NOMINAL_V = 5.0
SHUNT_OHM = 1.0                # hardware/wiring.toml, R320; its tolerance is nothing over NEAR_A
NEAR_A = 3e-3


@dataclass
class Supply:
    """Samples: volts of the rail behind the shunt, volts between the chip's pins, amperes in its supply switch.

    switch, ground: volts and ohms of the saturated supply and ground switches.
    """

    samples: list[tuple[float, float, float]] = field(default_factory=list)
    stages: list[tuple[str, int]] = field(default_factory=list)      # name, number of the first sample
    switch: tuple[float, float] = (0.0, 0.0)
    ground: tuple[float, float] = (0.0, 0.0)

    @classmethod
    def watch(cls, fixture: Fixture, chip: Any) -> Supply:
        """From now on, look whenever the host listens."""
        supply, ground = chip.circuit.vcc, chip.circuit.gnd
        drawn, found, listen = fixture.drawn, cls(), fixture.listen
        found.switch, found.ground = (
            (drawn.get(f"Q{switch}.saturation_v", 0.0), drawn.get(f"Q{switch}.saturation_ohm", 0.0))
            for switch in (100 + supply, 200 + ground))
        volt, ohm = found.switch

        def listening(*arguments: Any, **options: Any) -> bytes:
            got: bytes = listen(*arguments, **options)
            high, bus = fixture.node(supply), fixture.node("VBUS")
            if ohm and high - fixture.node(ground) > POWERED_V:
                found.samples.append((bus, high - fixture.node(ground), (bus - high - volt) / ohm))
            return got

        fixture.listen = listening
        return found

    @property
    def rest(self) -> float:
        """The median of all; nominal if there was never power."""
        return statistics.median(volts for _, volts, _ in self.samples) if self.samples else NOMINAL_V

    def stage(self, name: str, *_: int) -> None:
        """The sweep begins a stage."""
        self.stages.append((name, len(self.samples)))

    def nearest(self, stage: str, amperes: float) -> tuple[float, float] | None:
        """Amperes in the supply switch nearest to these, and volts between the pins; None if that stage was not watched."""
        ends = [begin for _, begin in self.stages[1:]] + [len(self.samples)]
        seen = [one for (name, begin), end in zip(self.stages, ends, strict=True) if name == stage
                for one in self.samples[begin:end]]
        found = min(seen, key=lambda one: abs(one[2] - amperes), default=None)
        return (found[2], found[1]) if found else None

    def at(self, amperes: float, sourced: float = 0.0) -> float:
        """Volts between the pins at this supply current, of which so much does not come back through the ground pin.

        The supply rail behind the shunt is that of the samples nearest in current, brought to the current asked for by the
        shunt; of several the highest, for loads that draw on the 5 V besides take some of them down.
        """
        if not self.samples:
            return self.rest
        distance = max(NEAR_A, min(abs(i - amperes) for _, _, i in self.samples))
        rail = max(bus + SHUNT_OHM * (i - amperes) for bus, _, i in self.samples if abs(i - amperes) <= distance)
        (volt, ohm), (volt_low, ohm_low) = self.switch, self.ground
        return rail - volt - ohm * amperes - volt_low - ohm_low * (amperes - sourced)
