"""Over-current: at what chip current, how fast, how much meanwhile.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware import tables
from hardware.spice.bench import COARSE, Bench
from hardware.spice.measures.deadman import _pumping
from hardware.spice.netlist import Setup
from hardware.spice.simulate import crossing

_MOST_MA = 300
_SHORT_S = 2e-3            # when the chip turns into a short
_OFF_A = 1e-3


def chip_ma_at_trip(bench: Bench) -> float:
    """Chip current at which the comparator turns, slowly approached."""
    setup = Setup(supply=[24], ground=[7], socket=["Ichip Z24 Z7 0"])
    found = bench.simulate(setup, f"dc Ichip 0.1 {_MOST_MA / 1000} 0.001", ["v(trip_out)"])
    return 1000 * crossing(found["scale"], found["v(trip_out)"], bench.supply_v / 2, rising=True)


def shunt_ma_at_trip(bench: Bench) -> float:
    """The same with what pedestal and switch draw: what the wiring file calls trip_ma."""
    setup = Setup(supply=[24], ground=[7], socket=["Ichip Z24 Z7 0"])
    found = bench.simulate(setup, f"dc Ichip 0.1 {_MOST_MA / 1000} 0.001", ["v(trip_out)", "v(VBUS)"])
    at = crossing(found["scale"], found["v(trip_out)"], bench.supply_v / 2, rising=True)
    bus = next(v for x, v in zip(found["scale"], found["v(VBUS)"], strict=True) if x >= at)
    shunt = tables.by_role(bench.fixture, "shunt")
    return 1000 * (bench.supply_v - bus) / bench.corner.toleranced("resistor", shunt["ohm"], shunt["tolerance"], shunt["ref"])


def _short(bench: Bench, ohms: float) -> tuple[list[float], list[float]]:
    """Seconds and amperes of a chip that turns into a short while the controller goes on pumping."""
    chip = [f"Bchip Z24 chip_a I = V(Z24,chip_a) * (0.007 + V(short) / {ohms:g})", "Vchip chip_a Z7 0",
            f"Vshort short 0 PWL(0 0 {_SHORT_S} 0 {_SHORT_S + 1e-7} 1)", ".ic v(ALIVE)=4"]
    setup = Setup(pins={"PUMP": _pumping(bench, 100e-6, 2 * _SHORT_S)}, supply=[24], ground=[7], enabled=None, socket=chip)
    found = bench.in_time(setup, 2e-6, 2 * _SHORT_S, ["i(vchip)"], COARSE)
    return found["scale"], found["i(vchip)"]


def trip_us(bench: Bench, ohms: float) -> float:
    """From the short to the switches off; infinity if they stay on."""
    seconds, amperes = _short(bench, ohms)
    return 1e6 * (crossing(seconds, amperes, _OFF_A, rising=False, after=_SHORT_S) - _SHORT_S)


def short_ma(bench: Bench, ohms: float, after_us: float) -> float:
    """The most that flows through the switches from so long after the short; before, the bus capacitors empty themselves."""
    seconds, amperes = _short(bench, ohms)
    return 1000 * max(a for s, a in zip(seconds, amperes, strict=True) if s > _SHORT_S + after_us * 1e-6)
