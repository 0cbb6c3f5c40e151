"""From a description and a seed to the list of elements in C: supply, outputs, timing and faults beside the inputs.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import random
from typing import Any

from . import families, timing
from .behaviour.monostables import Monostable
from .description import Description
from .die import LEAK_N, pattern
from .inputs import Inputs

LOW, HIGH, OFF_STATE, UNPOWERED = range(4)
STATE_NUMBERS = {"low": LOW, "high": HIGH, "off": OFF_STATE}
OPEN_OHM = 1e9                   # a broken bond wire
SHORT_OHM = 1.0                  # a short that gives no figure
INPUT_F = 5e-12                  # HC and 4000 data books: 3.5 to 5 pF typical
CX_OHM = 10.0                    # from a grounded CX to the chip's ground: a track on the die
EXCESS_ON_V = 1.6                # excess supply current flows through junctions, not a resistor

SINK = ("sat_v", "sat_n", "sat_a", "ohm", "drive_a", "drive_v", "early_v")
PULL_UP = ("ohm", "base_ohm", "vbe", "n", "diode_v", "diode_n", "shunt_ohm", "sat_v")
CHANNELS = ("n_k", "n_vt", "n_lambda", "p_k", "p_vt", "p_lambda")


class Circuit(Inputs):
    """Puts one chip together.  After __init__, `pointer` is the C chip."""

    def __init__(self, library: ctypes.CDLL, description: Description, rng: random.Random, leak_rng: random.Random, logic: Any) -> None:
        super().__init__(library, description, rng, leak_rng, logic)
        self.output_index: dict[int, int] = {}
        self.bonded: dict[int, float] = {}         # ohms of bond wires by position
        self.lags: dict[int, float] = {}           # seconds by which inputs follow their pins
        self.cells: list[timing.Cell] = []         # of a monostable
        if not (self.vcc and self.gnd):
            return               # a supply pin hangs in the air: what is left carries nothing
        self._supply()
        self._inputs()
        self._outputs()
        self._timing()
        self._element_faults()
        self._curves()

    def _supply(self) -> None:
        s, table = self.specimen, self.specimen.table
        for name in ("supply_on_v", "logic_on_v", "logic_off_v"):
            self._set(name, s.value(name))
        rating = table["rating"]
        for name, key, scale in (("in_max_v", "in_max_v", 1), ("in_above_vcc_v", "above_vcc_v", 1),
                                 ("clamp_a", "clamp_ma", 1e-3), ("supply_v", "supply_v", 1),
                                 ("reverse_a", "reverse_ma", 1e-3)):
            self._set(f"rating.{name}", rating[key] * scale)
        self._diode(self.gnd, self.vcc, s.value("sub_vcc_v"), 1.0, s.value("sub_ohm") / 4)

    # ----------------------------------------------------------------- outputs
    def _outputs(self) -> None:
        names = self._output_names()
        shares = self._supply_shares(len(names))
        switched = {name for _, name in self.part.switch_pairs()}
        for name, pin, node in self._seated(names):
            open_collector = name in self.part.open_collector.split()
            index = self.lib.chip_add_output(
                self.pointer, pin, node, int(self.specimen.bipolar), int(not open_collector),
                self._forced_state(pin))
            self.output_index[pin] = index
            drive = self.part.drive
            kind = drive if isinstance(drive, str) else pattern(drive, name)
            stage = self._stage(pin, *self.specimen.drive(kind))
            if name in switched and self._forced_state(pin) not in (LOW, HIGH):
                stage |= {"n_k": 0.0, "p_k": 0.0}        # no transistors but the switch's own, unless they have broken through
            for key, value in stage.items():
                self._set_output(index, key, value)
            for key, amperes in shares.items():
                self._set_output(index, key, amperes)
            self._output_junctions(name, pin, node)
        self._switches()

    def _switches(self) -> None:
        """Both transistors of a switch as one resistance: how it rises in the middle of the supply is not modelled."""
        for names in self.part.switch_pairs():
            pins = [self.part.pin(name) for name in names]
            a, b = (self.positions[pin] for pin in pins)
            if a and b and self._forced_state(pins[1]) != OFF_STATE:        # one that is dead never closes
                self.lib.chip_add_switch(self.pointer, pins[0], a, b, self.value(pins[0], "switch_ohm") * self.part.switch)

    def _set_output(self, index: int, name: str, value: float) -> None:
        if self.lib.chip_set_output(self.pointer, index, name.encode(), value) != 0:
            raise KeyError(name)

    def _forced_state(self, pin: int) -> int:
        for f in self._faults("stuck", "dead"):
            if f["pin"] == pin:
                return STATE_NUMBERS[f.get("level", "off")]
        return -1

    def _stage(self, pin: int, sink: float, source: float) -> dict[str, float]:
        """Parameters of an output's transistors, so many times the family's gate outputs."""
        rating = self.specimen.table["rating"]
        ratings = {"sink_max": rating["sink_ma"] * 1e-3 * sink,
                   "source_max": rating["source_ma"] * 1e-3 * source}
        if not self.specimen.bipolar:
            out = {k: self.value(pin, k) for k in CHANNELS}
            out["n_k"] *= sink
            out["p_k"] *= source
            return out | ratings
        out = {f"sink_{k}": self.value(pin, f"sink_{k}") for k in SINK}
        out |= {f"up_{k}": self.value(pin, f"up_{k}") for k in PULL_UP}
        beta = self.value(pin, "beta")
        for f in self._faults("beta", "weak_pull_up"):
            if f["pin"] == pin and f["kind"] == "beta":
                beta = f["beta"]
            elif f["pin"] == pin:
                out["up_extra_ohm"] = f["ohms"]
        out["sink_beta"] = 1 / (1 / beta + self.value(pin, "sink_beta_loss"))
        out["sink_ohm"] += self.value(pin, "sink_base_ohm") / (1 + beta)
        out["sink_drive_a"] *= sink
        out["sink_ohm"] /= sink
        out["up_ohm"] /= source
        out["up_base_ohm"] /= source
        return out | ratings

    def _output_junctions(self, name: str, pin: int, node: int) -> None:
        if name in self.part.input_names():
            return               # a bidirectional pin has its clamps already
        if self.specimen.bipolar:
            self._diode(self.gnd, node, self.value(pin, "sub_v"), 1.0, self.value(pin, "sub_ohm"))
            self._leak(pin, node, "off_leak")
        else:
            self._clamps(pin, node, "out_clamp_v")
            self._leak(pin, node, "leak")

    def _timing(self) -> None:
        """A monostable's cells, their pins' junctions, and the internal timing resistor."""
        part = self.part
        if not issubclass(part, Monostable):
            return
        rng, spread = self.specimen.rng, self.description.spread
        self.cells = timing.draw(part, self.description.family, rng, spread,
                                 list(self._faults("silent", "endless", "width")))
        for cell, (rcx, cx) in zip(self.cells, part.timing_pins(), strict=True):
            node, other = (self.positions[part.pin(n)] for n in (rcx, cx))
            index = self.lib.chip_add_timer(self.pointer, node, other, int(cell.coupled),
                                            int(cell.endless))
            for name, value in cell.values().items():
                if self.lib.chip_set_timer(self.pointer, index, name.encode(), value) != 0:
                    raise KeyError(name)
            if node:
                self._timing_pin(part.pin(rcx), node, cell)
            if other and not cell.coupled:
                self._resistor(other, self.gnd, CX_OHM)
        if part.resistor and (at := self.positions[part.pin(part.resistor)]) and node:
            self._resistor(at, node, timing.resistor_ohm(part, rng, spread))

    def _timing_pin(self, pin: int, node: int, cell: timing.Cell) -> None:
        prefix = "sub" if self.specimen.bipolar else "clamp"
        volts, ohm = (self.value(pin, f"{prefix}_{k}") for k in ("v", "ohm"))
        self._diode(self.gnd, node, volts, 1.0, ohm)
        if not self.specimen.bipolar:
            self._diode(node, self.vcc, volts, 1.0, ohm)
        self._leak(pin, node, "off_leak" if self.specimen.bipolar else "leak")
        self._leak_path(node, self.gnd, cell.bias_a, 1.0, 1.0)    # a base current

    @property
    def silent(self) -> set[int]:
        """Numbers of the cells that are never started."""
        return {k for k, cell in enumerate(self.cells) if cell.silent}

    def _supply_shares(self, outputs: int) -> dict[str, float]:
        """Each output's part of the package current, without what the base resistors draw.

        The books give the current with the inputs that make the state: the base
        resistors' part differs with them.  Where they give one figure for all states it
        is taken between inputs high and low.  Unpowered, floating inputs count as high.
        """
        number = families.split_name(self.description.part or "")
        assert number is not None
        low, high, off = self.specimen.supply_a(number[1])
        if self.description.supply_ma:
            low, high, off = (ma * 1e-3 for ma in self.description.supply_ma)
        unpowered, by_state = low, low != high
        if self.specimen.bipolar:
            mean = (self.base_high_a + self.base_low_a) / 2
            base_low = self.base_high_a if by_state else mean
            base_high = (mean if not by_state else
                         self.base_low_a if self._inverting() else self.base_high_a)
            low = max(low - base_low, 0.05 * low)
            off = max(off - base_low, 0.05 * off)
            high = max(high - base_high, 0.05 * high)
        return {"supply_low": low / outputs, "supply_high": high / outputs,
                "supply_off": off / outputs, "supply_unpowered": unpowered / outputs}

    def _inverting(self) -> bool:
        """True if all outputs are high with all inputs low, so that ICCH is taken so."""
        part = self.part(random.Random(0))
        part.power_up()
        part.now = part.before = dict.fromkeys(self.part.input_names(), 0)
        return all(level == 1 for level in part.evaluate(part.now).values())

    # ------------------------------------------------------------------ faults
    def _element_faults(self) -> None:
        for f in self._faults("open", "series"):
            node = self.positions[f["pin"]]
            if node:
                self.bonded[node] = f.get("ohms", OPEN_OHM)
                self.lib.chip_set_series(self.pointer, node, self.bonded[node])
                self._lag(f["pin"], node)
        for f in self._faults("short", "leak"):
            a, b = self.positions[f["pin"]], self.positions[f["to"]]
            if not (a and b) or a == b:
                continue
            if "microamperes" in f:
                # What share of a defect is junction and what surface nobody knows: any.
                self._leak_path(a, b, f["microamperes"] * 1e-6, self.leak_rng.random(),
                                self.leak_rng.uniform(*LEAK_N))
            else:
                self._resistor(a, b, f.get("ohms", SHORT_OHM))
        for f in self._faults("excess_supply"):
            self._set("excess_a", f["milliamperes"] * 1e-3)
            self._set("excess_on_v", EXCESS_ON_V)

    def _lag(self, pin: int, node: int) -> None:
        """A CMOS gate behind a bad bond wire is charged through it; a bipolar input's own current is quicker."""
        if self.names[pin - 1] in self.part.input_names() and not self.specimen.bipolar:
            self.lags[pin] = self.bonded[node] * INPUT_F
            self.lib.chip_set_lag(self.pointer, node, self.lags[pin])

    def _curves(self) -> None:
        for curve in self.description.curves:
            node = self.positions[curve.pin]
            if not node:
                continue
            count = len(curve.points)
            volts = (ctypes.c_double * count)(*(v for v, _ in curve.points))
            amperes = (ctypes.c_double * count)(*(a for _, a in curve.points))
            rail = self.vcc if curve.rail == "VCC" else self.gnd
            index = -1 if curve.state == "input" else self.output_index[curve.pin]
            state = STATE_NUMBERS.get(curve.state, 0)
            self.lib.chip_add_curve(self.pointer, index, node, state, rail, count, volts, amperes)
            for other in curve.shared:
                self.lib.chip_share_curve(self.pointer, node, self.positions[other])
