"""What a figure of a sweep truly is, for the chip that was in the socket.

    truths = Truths(chip, part)
    truths.of(measured, supply)            # float, or None where there is no such truth

The ideal bench (virtual_fixture.chips.truth) is brought into the state that the host's part describes, at the supply
that the chip truly had in that state (study.supply).  Volts, amperes, ohms, as in the record.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from collections.abc import Callable, Iterable

from sagbench.parts.model import Part, Step
from sagbench.record import Measured
from virtual_fixture.chips.chip import Chip
from virtual_fixture.chips.truth import IdealBench

from study.supply import Supply

BETWEEN = re.compile(r"between ([\d.]+) and ([\d.]+) mA")


class Truths:
    """True figures of one chip."""

    def __init__(self, chip: Chip, part: Part) -> None:
        self.chip, self.part = chip, part
        self.pins = list(chip.circuit.part.pin_names())

    def of(self, measured: Measured, supply: Supply) -> float | None:
        """The truth of one figure, or None if its kind has none here."""
        name, rest = measured.name, supply.rest
        bench = IdealBench(self.chip, rest)
        if name == "ICC":
            return self._supply(bench, measured, supply)
        pin = self.pins[measured.pin - 1]
        at = measured.at.value if measured.at else 0.0
        if name in ("VOL", "VOH", "ROL", "ROH"):
            if not self._bring(bench, pin, "low" if name.endswith("L") else "high"):
                return None
            if name.startswith("V"):
                with bench.at(supply.at(bench.icc() + max(0.0, -at))):
                    return bench.output_volts(pin, at)
            low, high = (float(x) / 1000 for x in BETWEEN.search(measured.state).groups())
            sign = 1 if name == "ROL" else -1
            with bench.at(supply.at(bench.icc())):
                return bench.resistance(pin, sign * low, sign * high)
        if name == "IIL":
            return self._low_input(bench, pin, at, supply)
        if name == "IIH":
            return bench.pin_current(pin, at, others=0.0)
        if name in ("VT+", "VT-"):
            return bench.switching_volts(pin, "up" if name == "VT+" else "down")
        return None

    def _low_input(self, bench: IdealBench, pin: str, volts: float, supply: Supply) -> float:
        """Current of an input held low, all others high, at the supply that the chip has with its outputs as they are then."""
        bench.set(**{n: 1 for n in bench.held})
        bench.set(**{pin: 0})
        vcc = supply.at(bench.icc())
        with bench.at(vcc):
            return bench.pin_current(pin, volts, others=vcc)

    def _walk(self, bench: IdealBench, steps: Iterable[Step], stop: Callable[[], bool] = lambda: False) -> bool:
        for step in steps:
            if step.set:
                bench.set(**{self.pins[p - 1]: int(v) for p, v in step.set.items() if v is not None})
            for p, count in step.pulses.items():
                for _ in range(min(count, 64)):
                    bench.pulse(self.pins[p - 1])
            if stop():
                return True
        return False

    def _bring(self, bench: IdealBench, pin: str, state: str) -> bool:
        return self._walk(bench, self.part.sequence, lambda: bench.state(pin) == state)

    def _supply(self, bench: IdealBench, measured: Measured, supply: Supply) -> float | None:
        wanted = measured.state.removeprefix("worst: ")
        state = next((s for s in self.part.supply_states if s.name == wanted), None)
        if state is None or measured.state.startswith("worst"):
            return None
        self._walk(bench, state.steps)
        amperes = bench.icc()
        for _ in range(3):                       # it draws less where the supply sags more
            with bench.at(supply.at(amperes)):
                amperes = bench.icc()
        return amperes
