"""An ideal bench around one chip: ideal sources, no fixture.  What it says is the truth.

    bench = IdealBench(load({"part": "74LS00"}, 7), vcc=5.0)
    bench.set(**{"1A": 1, "1B": 1})
    bench.output_volts("1Y", 8e-3)               # VOL at 8 mA
    bench.threshold("1A", "1Y", "up")            # V at which the open output crosses 1.5 V
    bench.icc()                                  # A, this state, outputs open

Inputs are held by ideal voltage sources, outputs are open unless a measurement loads
them.  Measurements leave the chip as it was, but `threshold`.  Volts are against
the GND pin, amperes flow into the pin.  ValueError if a pin cannot do what is asked
(no voltage within +-30 V gives that current).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
from collections.abc import Iterator, Mapping
from contextlib import contextmanager

from . import native
from .chip import STATE_WORDS, Chip

STEP_S = 1e-3                     # what a change of the inputs takes: an input that lags shows it
CROSSING_V = 1.5                  # where an open output counts as having switched
RAMP_V = 1e-3                     # step of a threshold search; its answer is good to half of it
NEAR_V = 0.04                     # where the ramp begins before the threshold of the input's die


class IdealBench:
    """One chip, its supply, its inputs at ideal sources.

    `volts` of every socket position are kept: they are the start of the next solution.
    """

    def __init__(self, chip: Chip, vcc: float = 5.0) -> None:
        assert chip.circuit is not None, "an empty socket has no pins"
        self.chip, self.circuit, self.lib = chip, chip.circuit, chip.library
        self.part = chip.circuit.part
        self.vcc = vcc
        self.now_s = 0.0
        self.settled = True          # False: the logic went on changing at the last `set`
        self.held: dict[str, float] = {n: vcc for n in self.part.input_names()}
        outputs = [n.removeprefix("<>") for n in self.part.output_names()]
        self._both = [n for n in outputs if n in self.held]      # bidirectional pins
        self.position = {n: chip.positions[k] for k, n in enumerate(self.part.pin_names(), 1)}
        self._index = {n: self.circuit.output_index[self.part.pin(n)] for n in self._both}
        self._v, self._i = native.Row(), native.Row()
        for n in range(1, native.NODES):
            self._v[n] = 1.5

    # ------------------------------------------------------------------ driving
    def set(self, **inputs: float) -> None:
        """Drive inputs: 0 and 1 are levels (0 V, VCC), floats volts; all at once, then settle.

        A bidirectional pin that the chip drives is let go.
        """
        for name, value in inputs.items():
            self.held[name] = self.level(value)
        if self._both:
            self._settle({n: v for n, v in self.held.items() if n not in self._both})
        self._settle(self.driven())

    def level(self, value: float) -> float:
        """Volts of a level 0 or 1 (integers), or the volts themselves."""
        return value * self.vcc if isinstance(value, int) else value

    def pulse(self, name: str) -> None:
        """Invert an input and put it back."""
        was = self.held[name]
        self.set(**{name: 0.0 if was > self.vcc / 2 else self.vcc})
        self.set(**{name: was})

    def driven(self) -> dict[str, float]:
        """What is held now: inputs, but bidirectional pins only while the chip lets them go."""
        if not self._both:
            return self.held
        drives = {n for n, k in self._index.items()
                  if self.lib.chip_output_state(self.chip.pointer, k) < 2}
        return {n: v for n, v in self.held.items() if n not in drives}

    def _settle(self, held: Mapping[str, float]) -> None:
        code = self._look(held)
        self.now_s += STEP_S
        if self.circuit.lags:
            code = self._look(held)
        if self.chip.logic and self.chip.logic.error:
            raise self.chip.logic.error
        if code < 0:
            raise ValueError("the ideal bench found no solution")
        self.settled = code == 0

    def _look(self, held: Mapping[str, float]) -> int:
        fixed, amperes = self._sources(held, {}, self.vcc)
        return int(self.lib.chip_ideal_settle(self.chip.pointer, fixed, amperes, self._v, self._i,
                                              self.now_s))

    def _sources(self, held: Mapping[str, float], loads: Mapping[str, float], vcc: float
                 ) -> tuple[ctypes.Array[ctypes.c_ubyte], ctypes.Array[ctypes.c_double]]:
        fixed, amperes = native.Flags(), native.Row()
        for node, volts in ((self.circuit.vcc, vcc), (self.circuit.gnd, 0.0),
                            *((self.position[n], v) for n, v in held.items())):
            if node:
                fixed[node], self._v[node] = 1, volts
        for name, value in loads.items():
            node = self.position[name]
            fixed[node], amperes[node] = 0, value
        return fixed, amperes

    def frozen(self, volts: Mapping[str, float] | None = None,
               amperes: Mapping[str, float] | None = None, vcc: float | None = None,
               held: Mapping[str, float] | None = None) -> tuple[list[float], list[float]]:
        """Solve with other sources while the logic keeps its state; the chip stays as it is.

        volts, amperes: pins held or loaded otherwise; held: instead of all that is driven.
        Returns volts and amperes by socket position.
        """
        before = native.Row()
        ctypes.memmove(before, self._v, ctypes.sizeof(before))
        base = self.driven() if held is None else held
        if volts:
            base = {**base, **volts}
        fixed, loads = self._sources(base, amperes or {}, self.vcc if vcc is None else vcc)
        code = self.lib.chip_ideal(self.chip.pointer, fixed, loads, self._v, self._i)
        result = self._v[:], self._i[:]
        self._v = before
        if code < 0 or any(abs(result[0][self.position[n]]) > 29.9 for n in amperes or {}):
            raise ValueError("no voltage of that pin gives that current")
        return result

    # ------------------------------------------------------------------- figures
    def volts(self, name: str) -> float:
        """Volts of a pin now."""
        return self.frozen()[0][self.position[name]]

    @property
    def open_volts(self) -> list[float]:
        """Volts by socket position as the last `set` left them, outputs open."""
        return self._v[:]

    def state(self, name: str) -> str:
        """low, high, off or unpowered: what the chip wants of an output."""
        index = self.circuit.output_index[self.part.pin(name)]
        return STATE_WORDS[self.lib.chip_output_state(self.chip.pointer, index)]

    def output_volts(self, name: str, amperes: float, vcc: float | None = None) -> float:
        """Volts of an output in its present state, `amperes` flowing into the pin (VOL: positive)."""
        return self.frozen(amperes={name: amperes}, vcc=vcc)[0][self.position[name]]

    def pin_current(self, name: str, volts: float, vcc: float | None = None,
                    others: float | None = None) -> float:
        """Amperes into a pin held at `volts`.  others: volts of all other inputs (IIL, IIH)."""
        held = dict(self.driven())
        if others is not None:
            held = dict.fromkeys(held, others)
        held[name] = volts
        return self.frozen(vcc=vcc, held=held)[1][self.position[name]]

    def clamp_volts(self, name: str, amperes: float, vcc: float | None = None) -> float:
        """Volts of an input out of which `amperes` (positive) are drawn."""
        return self.frozen(amperes={name: -amperes}, vcc=vcc)[0][self.position[name]]

    def short_current(self, name: str, volts: float = 0.0, vcc: float | None = None) -> float:
        """IOS: amperes out of an output held at `volts`."""
        return -self.pin_current(name, volts, vcc)

    def resistance(self, name: str, a: float, b: float, vcc: float | None = None) -> float:
        """Ohms of an output between two currents into the pin."""
        return (self.output_volts(name, b, vcc) - self.output_volts(name, a, vcc)) / (b - a)

    def icc(self, vcc: float | None = None) -> float:
        """Supply current in amperes in this state, outputs open."""
        return self.frozen(vcc=vcc)[1][self.circuit.vcc]

    def icc_after(self, *steps: Mapping[str, float] | str, vcc: float | None = None) -> float:
        """Supply current after steps: input levels, or the name of an input to pulse."""
        for step in steps:
            if isinstance(step, str):
                self.pulse(step)
            else:
                self.set(**step)
        return self.icc(vcc)

    def threshold(self, name: str, output: str, direction: str = "up") -> float | None:
        """Volts of an input at which the open output crosses 1.5 V, from 0 V up or VCC down.

        The input is ramped in steps of RAMP_V, so that hysteresis counts; up to NEAR_V
        before the input's own threshold in one step.  None: the output does not follow.
        The input stays where the search ended.
        """
        start, stop = (0.0, self.vcc) if direction == "up" else (self.vcc, 0.0)
        sign = 1 if direction == "up" else -1
        self.set(**{name: start})
        node, own = self.position[output], self.switching_volts(name, direction)
        first, at = self._v[node] > CROSSING_V, start
        if own is not None and sign * (own - start) > NEAR_V:
            at = own - sign * NEAR_V
            self.set(**{name: at})
            if (self._v[node] > CROSSING_V) != first:       # it follows something else
                self.set(**{name: start})
                first, at = self._v[node] > CROSSING_V, start
        while sign * (stop - at) > 0:
            at += sign * RAMP_V
            self.set(**{name: at})
            if (self._v[node] > CROSSING_V) != first:
                return at - sign * RAMP_V / 2
        return None

    def switching_volts(self, name: str, direction: str = "up") -> float | None:
        """Volts at the pin at which the chip's logic takes an input for the other level.

        Found by halving, with the logic held; None if it never does.  Needs no output.
        """
        low, high = -2.0, self.vcc + 1.0
        if not {self.position[name], self.circuit.vcc, self.circuit.gnd} & set(self.circuit.bonded):
            return -self._overdrive(name, 0.0, direction)
        if not self._overdrive(name, low, direction) < 0 < self._overdrive(name, high, direction):
            return None
        while high - low > 1e-6:
            middle = (low + high) / 2
            if self._overdrive(name, middle, direction) < 0:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def _overdrive(self, name: str, volts: float, direction: str) -> float:
        """Volts on the die of a pin held at `volts`, above the threshold there."""
        v, i = self.frozen(volts={name: volts})
        die = [v[n] - i[n] * self.circuit.bonded.get(n, 0.0)
               for n in (self.position[name], self.circuit.gnd, self.circuit.vcc)]
        up, down = self.circuit.thresholds[name]
        fraction = float(self.circuit.specimen.table.get("threshold_fraction", 0.0))
        wanted = (up if direction == "up" else down) + fraction * (die[2] - die[1] - 5.0)
        return die[0] - die[1] - wanted

    @contextmanager
    def at(self, vcc: float) -> Iterator[IdealBench]:
        """The same chip at another supply voltage, the logic keeping its state."""
        was, held = self.vcc, dict(self.held)
        self.held = {n: vcc if v == was else v for n, v in held.items()}
        self.vcc = vcc
        try:
            yield self
        finally:
            self.vcc, self.held = was, held
