"""A chip's inputs: thresholds, base resistors, what ties them to the rails.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import random
from fnmatch import fnmatchcase
from typing import Any

from . import databook
from .description import Description
from .die import Die, pattern


class Inputs(Die):
    """A die with inputs, once `_inputs` has been called."""

    def __init__(self, library: ctypes.CDLL, description: Description, rng: random.Random, leak_rng: random.Random, logic: Any) -> None:
        super().__init__(library, description, rng, leak_rng, logic)
        self.base_high_a = self.base_low_a = 0.0   # base resistors, inputs high, low
        self.thresholds: dict[str, tuple[float, float]] = {}   # VT+, VT- at 5 V

    def _inputs(self) -> None:
        no_gate = {name for name, _ in self.part.switch_pairs()} | set(self.part.supplies.split())
        pulled_down = self._pulled_down()
        for name, pin, node in self._seated(self.part.input_names()):
            if name not in pulled_down:
                self._clamps(pin, node)
            self._threshold(name, pin, node)
            if name in pulled_down or self._input_curve(pin):
                continue         # of a curve the clamps and the base resistor act while unpowered
            if self.specimen.bipolar:
                self._leak(pin, node, "in_leak")
            else:
                self._leak(pin, node, "leak")
                if name not in no_gate:
                    self.lib.chip_add_through(
                        self.pointer, node, self.value(pin, "through_n_k"),
                        self.value(pin, "through_n_vt"), self.value(pin, "through_p_k"),
                        self.value(pin, "through_p_vt"))
        if self.specimen.bipolar:
            self._base_resistors()
            self._pull_ups()
            self._expanders()
            for name, pin, node in self._seated(list(pulled_down)):
                self._resistor(node, self.gnd, pulled_down[name] * self.value(pin, "in_ohm") / self.specimen.table["in_ohm"][0])

    def load(self, name: str) -> float:
        """Unit loads of an input."""
        own = next((units for key, units in self.part.loads.items() if fnmatchcase(name, key)), None)
        return databook.unit_loads(self.part.number, self.description.family, name) if own is None else own

    def _pulled_down(self) -> dict[str, float]:
        """Ohms to GND of the inputs that are nothing else."""
        return {name: ohm for name in self.part.input_names() for key, ohm in self.part.pull_downs.items() if fnmatchcase(name, key)}

    def _pull_ups(self) -> None:
        """Resistors inside to VCC: of one diffusion with the base resistors, so they deviate with them."""
        for name, pin, node in self._seated(self.names) if self.part.pull_ups else ():
            own = next((v for key, v in self.part.pull_ups.items() if fnmatchcase(name, key)), None)
            if own is not None:
                unit = self.specimen.table["in_ohm"][0]
                nominal = unit if own == "in_ohm" else float(own)
                self._resistor(node, self.vcc, nominal * self.value(pin, "in_ohm") / unit)

    def _expanders(self) -> None:
        """What an expander pin shows: the resistors at its node, the junction of their tub to the substrate (GND), and the junctions
        that keep it down.  That a level given there acts upon the gate is not modelled."""
        for name, pin, node in self._seated(self.part.analog.split()):
            up, down, junctions = next((v for key, v in self.part.expanders.items() if fnmatchcase(name, key)), (0.0, 0.0, 0))
            scale = self.value(pin, "in_ohm") / self.specimen.table["in_ohm"][0]
            if up:
                self._resistor(node, self.vcc, up * scale)
                self._diode(self.gnd, node, self.value(pin, "clamp_v"), 1.0, self.value(pin, "clamp_ohm"))
            if down:
                self._resistor(node, self.gnd, down * scale)
            if junctions:
                self._diode(node, self.gnd, junctions * self.value(pin, "clamp_v"), float(junctions), self.value(pin, "clamp_ohm"))

    def _input_curve(self, pin: int) -> bool:
        return any(pin in (k.pin, *k.shared) and k.state == "input"
                   for k in self.description.curves)

    def _threshold(self, name: str, pin: int, node: int) -> None:
        table = self.specimen.table
        up, down = self.threshold_span(name)
        forced = -1
        for f in self._faults("stuck"):
            if f["pin"] == pin and name not in self._output_names():
                forced = int(f["level"] == "high")
        self.thresholds[name] = (up, down)
        self.lib.chip_add_input(self.pointer, pin, node, (up + down) / 2, up - down,
                                float(table.get("threshold_fraction", 0.0)), forced)

    def threshold_span(self, name: str) -> tuple[float, float]:
        """Draw VT+ and VT- of an input at 5 V: of a Schmitt input, or nearly the same."""
        pin, table = self.part.pin(name), self.specimen.table
        centre, gap = self.value(pin, "threshold_v"), self.value(pin, "hysteresis_v")
        scale = self.value(pin, "hysteresis_scale")
        own = table["schmitt"].get(pattern(self.part.schmitt, name))
        if own is not None:
            centre += (own[0] + own[1]) / 2 - float(table["threshold_v"][0])
            gap = (own[0] - own[1]) * scale
        centre += sum(float(f["volts"]) for f in self._faults("threshold") if f["pin"] == pin)
        return centre + gap / 2, centre - gap / 2

    def _base_resistors(self) -> None:
        """One base resistor per input, or per group of inputs that share a transistor."""
        groups = [g.split() for g in self.part.shared.split(",") if g.strip()]
        grouped = {n for g in groups for n in g} | self._pulled_down().keys()
        groups += [[n] for n in self.part.input_names() if n not in grouped]
        for group in groups:
            seated = self._seated(group)
            if not seated:
                continue
            pin = seated[0][1]
            nodes = (ctypes.c_int * len(seated))(*(node for _, _, node in seated))
            vf = self.value(pin, "in_vf")
            # Input current changes over where the input switches.
            steer = sum(sum(self.thresholds[n]) / 2 for n, _, _ in seated) / len(seated)
            ohm = self.value(pin, "in_ohm") / self.load(group[0])
            if not all(self._input_curve(pin) for _, pin, _ in seated):
                self.base_high_a += (5.0 - steer - vf) / ohm
                self.base_low_a += (5.0 - vf) / ohm
            self.lib.chip_add_base(self.pointer, len(seated), nodes, ohm, vf,
                                   self.value(pin, "in_n"), steer,
                                   self.value(pin, "in_reverse_beta"))
