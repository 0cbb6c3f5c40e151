"""What a figure of a sweep truly is, for the chip that was in the socket.

    truths = Truths(chip, part)
    truths.of(measured, supply)            # float, or None where there is no such truth

The ideal bench (virtual_fixture.chips.truth) is brought into the state that the host's part describes, at the supply
that the chip truly had in that state (study.supply).  Output levels are those of the worst state, as data books mean them and
the host looks for them: of all steps in which the pin is so, that in which the chip draws most and has the lowest supply.
Volts, amperes, ohms, as in the record.

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
        self._steps: list[tuple[float, dict[str, str]]] = []
        self._less: float | None = None

    def of(self, measured: Measured, supply: Supply) -> float | None:
        """The truth of one figure, or None if its kind has none here."""
        name, rest = measured.name, supply.rest
        if self._less is None:
            self._less = self._less_a_load(supply)
        bench = IdealBench(self.chip, rest)
        if name == "ICC":
            return self._supply(bench, measured, supply)
        pin = self.pins[measured.pin - 1]
        at = measured.at.value if measured.at else 0.0
        if name in ("VOL", "VOH", "ROL", "ROH"):
            if not self._bring(bench, pin, "low" if name.endswith("L") else "high", rest):
                return None
            if name.startswith("V"):
                sourced = max(0.0, -at)
                with bench.at(supply.at("load lines", self._drawn(bench), sourced)):
                    return bench.output_volts(pin, at)
            low, high = (float(x) / 1000 for x in BETWEEN.search(measured.state).groups())
            sign = 1 if name == "ROL" else -1
            with bench.at(supply.at("load lines", self._drawn(bench))):
                return bench.resistance(pin, sign * low, sign * high)
        if name in ("IIL", "IIH"):
            high = name == "IIL"                     # the others are, and the pin is not
            bench.set(**dict.fromkeys(bench.held, int(high)) | {pin: int(not high)})
            volts = supply.at("input currents", self._drawn(bench))
            with bench.at(volts):
                return bench.pin_current(pin, at, others=volts if high else 0.0)
        if name == "IOS" and self._bring(bench, pin, "high", rest):
            with bench.at(supply.at("load lines", self._drawn(bench))):
                return bench.pin_current(pin, at)
        if name == "VIK":                            # without power, and all else open, as the method has it (METHODS.md)
            return bench.frozen(amperes={pin: at}, vcc=0.0, held={})[0][bench.position[pin]]
        if name in ("VT+", "VT-", "VH"):
            up, down = bench.switching_volts(pin, "up"), bench.switching_volts(pin, "down")
            return {"VT+": up, "VT-": down, "VH": up - down if up is not None and down is not None else None}[name]
        return None

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

    def _bring(self, bench: IdealBench, pin: str, state: str, rest: float) -> bool:
        """Into the step in which the pin is so and the chip draws most; False if there is none."""
        if not self._steps:
            fresh = IdealBench(self.chip, rest)
            outputs = [self.pins[p.number - 1] for p in self.part.outputs]
            for step in self.part.sequence:
                self._walk(fresh, [step])
                self._steps.append((fresh.icc(), {name: fresh.state(name) for name in outputs}))
        so = [(amperes, -n) for n, (amperes, states) in enumerate(self._steps) if states.get(pin) == state]
        if not so:
            return False
        at = 1 - max(so)[1]
        self._walk(bench, self.part.sequence[:at])
        # What it remembers from before the sequence may have made a difference: then as soon as the pin is so.
        return bench.state(pin) == state or self._walk(bench, self.part.sequence[at:], lambda: bench.state(pin) == state)

    def _supply(self, bench: IdealBench, measured: Measured, supply: Supply) -> float | None:
        wanted = measured.state.removeprefix("worst: ")
        state = next((s for s in self.part.supply_states if s.name == wanted), None)
        if state is None or measured.state.startswith("worst"):
            return None
        self._walk(bench, state.steps)
        with bench.at(supply.at("supply current", bench.icc())):
            return bench.icc()

    def _less_a_load(self, supply: Supply) -> float:
        """Amperes that the chip draws less in the fixture than on the ideal bench, for each unit load of its low inputs.

        There they hang on their lines, some tenths of a volt above ground.  Seen in the supply states, least squares.
        """
        rows = []
        for state in self.part.supply_states:
            bench = IdealBench(self.chip, supply.rest)
            self._walk(bench, state.steps)
            rows.append((self._loads(bench), bench.icc() - supply.nearest("supply current", bench.icc())[0]))
        return sum(u * less for u, less in rows) / max(sum(u * u for u, _ in rows), 1.0)

    def _loads(self, bench: IdealBench) -> float:
        """Unit loads of the inputs that are low."""
        return sum(self.part.pin(self.pins.index(name) + 1).low_unit_loads for name, high in bench.held.items() if not high)

    def _drawn(self, bench: IdealBench) -> float:
        """Amperes that the supply truly carries in the bench's state."""
        return bench.icc() - (self._less or 0.0) * self._loads(bench)

