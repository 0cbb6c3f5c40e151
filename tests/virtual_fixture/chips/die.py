"""What every pin of a chip is made with: the specimen's values, positions in the socket, single elements.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import ctypes
import random
from collections.abc import Iterator, Mapping
from fnmatch import fnmatchcase
from typing import Any

from . import families
from .behaviour import Part
from .description import Description
from .seating import position

LEAK_N = (1.0, 2.0)              # emission coefficients: diffusion .. generation (semiconductor physics)


def pattern(table: Mapping[str, str], name: str) -> str:
    """The value of the first pattern that fits a pin name, or an empty text."""
    return next((value for key, value in table.items() if fnmatchcase(name, key)), "")


class Die:
    """A chip without elements yet; `pointer` is the C chip."""

    def __init__(self, library: ctypes.CDLL, description: Description, rng: random.Random, leak_rng: random.Random, logic: Any) -> None:
        assert description.behaviour is not None
        self.lib, self.description = library, description
        self.part: type[Part] = description.behaviour
        self.names = self.part.pin_names()
        self.specimen = families.Specimen(description.family, rng, description.parameters, description.spread, description.centre)
        self.leak_rng = leak_rng
        self.leak_n = leak_rng.uniform(*LEAK_N)    # of the chip's own junctions: one wafer
        turned = any(f["kind"] == "reversed" for f in description.faults)
        shift = sum(f["rows"] for f in self._faults("shifted"))
        self.positions = {pin: position(pin, len(self.names), turned, shift) for pin in range(1, len(self.names) + 1)}
        self.vcc = self.positions[self.part.pin(self.part.vcc)]
        self.gnd = self.positions[self.part.pin(self.part.gnd)]
        self.pointer = self.lib.chip_new(self.vcc, self.gnd, logic)

    def _faults(self, *kinds: str) -> Iterator[dict[str, Any]]:
        return (f for f in self.description.faults if f["kind"] in kinds)

    def _seated(self, names: list[str]) -> list[tuple[str, int, int]]:
        """(name, pin, position) of those that touch a contact."""
        pins = [(n, self.part.pin(n)) for n in names]
        return [(n, p, self.positions[p]) for n, p in pins if self.positions[p]]

    def value(self, pin: int, name: str) -> float:
        own = self.description.pins.get(pin, {})
        return own[name] if name in own else self.specimen.value(name)

    def _set(self, name: str, value: float) -> None:
        if self.lib.chip_set(self.pointer, name.encode(), value) != 0:
            raise KeyError(name)

    def _diode(self, anode: int, cathode: int, vf: float, n: float, ohm: float) -> None:
        self.lib.chip_add_diode(self.pointer, anode, cathode, vf, n, ohm)

    def _resistor(self, a: int, b: int, ohm: float) -> None:
        self.lib.chip_add_resistor(self.pointer, a, b, ohm)

    def _leak(self, pin: int, node: int, name: str) -> None:
        """Leakage to GND: a film on the surface (a resistance) and a junction (a current)."""
        self._resistor(node, self.gnd, self.value(pin, f"{name}_ohm"))
        self._leak_path(node, self.gnd, self.value(pin, f"{name}_ua") * 1e-6, 1.0, self.leak_n)

    def _leak_path(self, a: int, b: int, amperes: float, junction_share: float, n: float) -> None:
        self.lib.chip_add_leak(self.pointer, a, b, amperes, junction_share, n)

    def _clamps(self, pin: int, node: int, volts: str = "clamp_v") -> None:
        clamp = [self.value(pin, name) for name in (volts, "clamp_n", "clamp_ohm")]
        self._diode(self.gnd, node, *clamp)
        if not self.specimen.bipolar and (self.part.upper_clamps or volts != "clamp_v"):
            self._diode(node, self.vcc, *clamp)

    def _output_names(self) -> list[str]:
        return [n.removeprefix("<>") for n in self.part.output_names()]
