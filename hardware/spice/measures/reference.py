"""Errors of the reference and of the supply current's amplifier, before any calibration.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware import tables
from hardware.spice.bench import Bench
from hardware.spice.corner import Corner
from hardware.spice.netlist import Setup


def reference_percent(bench: Bench) -> float:
    """The 2.5 V reference against its nominal value."""
    volts = bench.at_rest(Setup(), ["v(VREF)"])["v(VREF)"]
    return 100 * abs(volts / tables.by_role(bench.fixture, "2.5 V reference")["volts"] - 1)


def _icc_v(bench: Bench, ma: float, ground: tuple[int, ...] = (7,)) -> float:
    setup = Setup(supply=[24], ground=ground, socket=[f"Ichip Z24 {'Z7' if ground else '0'} {ma / 1000:g}"])
    return bench.at_rest(setup, ["v(ICC)"])["v(ICC)"]


def _icc_ma(bench: Bench, ma: float) -> float:
    """As it is taken: less the zero with the ground switch off, by the nominal gain."""
    return 1000 * (_icc_v(bench, ma) - _icc_v(bench, 0, ())) / tables.icc_gain(bench.fixture)


def icc_error_percent(bench: Bench, ma: float) -> float:
    """Of the chip's current."""
    return 100 * abs(_icc_ma(bench, ma) / ma - 1)


def icc_offset_ma(bench: Bench, ma: float) -> float:
    """What the amplifier's offset, from its least to its most, does to a current that was zeroed in place."""
    low, high = (_icc_ma(Bench(Corner(end, {**bench.corner.ends, "offset": end})), ma) for end in ("min", "max"))
    return abs(high - low)


def icc_zero_mv(bench: Bench) -> float:
    """The amplifier's output with the supply switch on and no chip current: above 0, or it would not be linear there."""
    return 1000 * _icc_v(bench, 0, ())


def icc_settle_us(bench: Bench, ma: float) -> float:
    """Until the amplifier is within half a per cent of a step of the chip's current."""
    setup = Setup(supply=[24], ground=[7], socket=[f"Ichip Z24 Z7 PWL(0 0 100u 0 101u {ma / 1000:g})"])
    found = bench.in_time(setup, 2e-6, 3e-3, ["v(ICC)"])
    first, last = found["v(ICC)"][0], found["v(ICC)"][-1]
    off = [s for s, v in zip(found["scale"], found["v(ICC)"], strict=True) if abs(v - last) > 0.005 * (last - first)]
    return 1e6 * (max(off) - 100e-6)
