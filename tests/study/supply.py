"""What a chip's supply truly was while it was being swept: it sags with what the chip and its loads draw.

    seen = Supply.watch(fixture, chip)     # before the sweep
    seen.rest                              # volts, in the middle of the sweep
    seen.nearest("supply current", 0.022)  # what was truly drawn in that stage of the sweep, and the volts meanwhile
    seen.at("load lines", 0.022, 0.004)    # volts when the chip draws 22 mA and a load 4 mA besides

The sweep tells its stages: `sweep_here(..., progress=seen.stage)`.

Every time the host listens, the true volts between the chip's pins and the true current in the supply switch are kept;
the current follows from the switch's own voltage and what it was drawn as.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import statistics
from dataclasses import dataclass, field
from typing import Any

from virtual_fixture.inproc import Fixture

POWERED_V = 4.3
NOMINAL_V = 5.0
SHUNT_OHM = 1.0                # hardware/wiring.toml, R320; its tolerance does not matter here
NEAR_A = 0.7e-3


@dataclass
class Supply:
    """Samples: volts between the chip's pins, amperes in its supply switch. switch_ohm: of that switch, saturated."""

    samples: list[tuple[float, float]] = field(default_factory=list)
    stages: list[tuple[str, int]] = field(default_factory=list)      # name, number of the first sample
    switch_ohm: float = 0.0

    @classmethod
    def watch(cls, fixture: Fixture, chip: Any) -> Supply:
        """From now on, look whenever the host listens."""
        supply, ground = chip.circuit.vcc, chip.circuit.gnd
        drawn, found, listen = fixture.drawn, cls(), fixture.listen
        volt, ohm = (drawn.get(f"Q{100 + supply}.saturation_{unit}", 0.0) for unit in ("v", "ohm"))
        found.switch_ohm = ohm

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
        return statistics.median(volts for volts, _ in self.samples) if self.samples else NOMINAL_V

    def stage(self, name: str, *_: int) -> None:
        """The sweep begins a stage."""
        self.stages.append((name, len(self.samples)))

    def nearest(self, stage: str, amperes: float) -> tuple[float, float]:
        """Amperes in the supply switch nearest to these in a stage, or in the whole sweep, and volts between the pins.

        Of those within NEAR_A the highest volts: at the same current a load that sinks into the chip's ground, or draws on
        the 5 V besides, leaves less.
        """
        ends = [begin for _, begin in self.stages[1:]] + [len(self.samples)]
        seen = [one for (name, begin), end in zip(self.stages, ends, strict=True) if name == stage
                for one in self.samples[begin:end]] or self.samples or [(self.rest, amperes)]
        distance = max(NEAR_A, min(abs(i - amperes) for _, i in seen))
        volts, current = max(one for one in seen if abs(one[1] - amperes) <= distance)
        return current, volts

    def at(self, stage: str, amperes: float, sourced: float = 0.0) -> float:
        """Volts between the pins at this supply current in that stage, while a load draws so much more out of a pin."""
        return self.nearest(stage, amperes)[1] - (SHUNT_OHM + self.switch_ohm) * sourced
