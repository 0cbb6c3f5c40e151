"""How far node K, the positions and the level drive are from rest when they are looked at: codes of the converter, volts.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware import tables
from hardware.spice.bench import COARSE, Bench
from hardware.spice.netlist import Setup

_SAMPLE_CLOCKS = 1.5       # from the start of a conversion to the hold (ATmega2560 data sheet, "Prescaling and Conversion Timing")
_PWM_HZ = 15625            # 16 MHz / 1024: fast PWM of 10 bits (ATmega2560 data sheet)


def _code_v(bench: Bench) -> float:
    return bench.supply_v / 1024


def node_codes(bench: Bench, channel: int) -> float:
    """What a conversion holds of a position that was at the other rail before the firmware's wait for this load began.

    The converter is at rest meanwhile, and its sampling capacitor on node K (data sheet, "Analog Input Circuitry": the
    source of the channel selected drives it).
    """
    return _held(bench, channel, tables.settle_us(bench.fixture)[channel] * 1e-6, "1")


def scanned_codes(bench: Bench, channel: int, conversions: int = 1) -> float:
    """The same where the capacitor comes from the conversion of another position and brings that one's charge, as in a scan:
    in the first conversion after the firmware's wait, or in a later one."""
    converter = bench.fixture["adc"]
    wait_s = tables.settle_us(bench.fixture)[channel] * 1e-6
    wait_s += (conversions - 1) * converter["clocks_per_conversion"] / converter["clock_hz"]
    began = tables.settle_us(bench.fixture)[channel] * 1e-6
    return _held(bench, channel, wait_s, f"PWL(0 0 {began:.9g} 0 {began + 1e-8:.9g} 1)")


def _held(bench: Bench, channel: int, wait_s: float, sampling: str) -> float:
    """Codes between what is held by a conversion that begins after a wait, and where it would end."""
    falls = channel not in (4, 6)                      # the level drive and the reference pull up from ground
    pins = {"LD": 0, "PWM": 1, **({"M1": 0} if channel == 0 else {})}
    start = bench.supply_v if falls else 0.0
    held_s = wait_s + _SAMPLE_CLOCKS / bench.fixture["adc"]["clock_hz"]
    setup = Setup(pins=pins, sense=1, load=channel, socket=[f".ic v(K)={start} v(Z1)={start} v(sample)={start}"], sampling=sampling)
    found = bench.in_time(setup, held_s / 100, 5 * held_s + 1e-4, ["v(sample)"])
    held = next(v for s, v in zip(found["scale"], found["v(sample)"], strict=True) if s >= held_s)
    return abs(held - found["v(sample)"][-1]) / _code_v(bench)


def discharge_v(bench: Bench, nf: float, us: float) -> float:
    """What is left on a position with this capacitance, full at first, after its S line was low for so long."""
    setup = Setup(pins={"S24": 0}, socket=[f"Cchip Z24 0 {nf}n", f".ic v(Z24)={bench.supply_v}"])
    return bench.in_time(setup, us * 1e-6 / 200, us * 1e-6, ["v(Z24)"])["v(Z24)"][-1]


def level_codes(bench: Bench, ms: float) -> float:
    """The level drive so long after a step over half the scale."""
    half = bench.supply_v / 2
    found = bench.in_time(Setup(pins={"PWM": f"PWL(0 0 1u {half})"}), ms * 1e-3 / 100, 5 * ms * 1e-3, ["v(VDAC)"], COARSE)
    at = next(v for s, v in zip(found["scale"], found["v(VDAC)"], strict=True) if s >= ms * 1e-3)
    return abs(at - found["v(VDAC)"][-1]) / _code_v(bench)


def level_lag_ms(bench: Bench) -> float:
    """How far the level drive is behind a steady ramp."""
    found = bench.in_time(Setup(pins={"PWM": f"PWL(0 0 100m {bench.supply_v})"}), 2e-4, 0.08, ["v(VDAC)"], COARSE)
    slope = bench.supply_v / 0.1
    return 1000 * (found["scale"][-1] - found["v(VDAC)"][-1] / slope)


def ripple_codes(bench: Bench) -> float:
    """Ripple of the level drive at half the scale, peak to peak."""
    period = 1 / _PWM_HZ
    pulse = f"PULSE(0 {bench.supply_v} 0 0.1u 0.1u {period / 2:.6g} {period:.6g})"
    half = bench.supply_v / 2
    setup = Setup(pins={"PWM": pulse}, socket=[f".ic v(F1)={half} v(F2)={half}"])
    found = bench.in_time(setup, period / 40, 20 * period, ["v(VDAC)"])
    late = [v for s, v in zip(found["scale"], found["v(VDAC)"], strict=True) if s > 18 * period]
    return (max(late) - min(late)) / _code_v(bench)
