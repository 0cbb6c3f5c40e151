"""The dead-man: times of its pump, and what it leaves off.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""
from __future__ import annotations

from hardware.spice.bench import COARSE, Bench, driver
from hardware.spice.netlist import Setup
from hardware.spice.simulate import crossing

_CHIP = ("Rchip Z24 chip_a 143", "Vchip chip_a Z7 0")       # 35 mA
_OFF_A = 1e-3


def _pumping(bench: Bench, turn_s: float, stop_s: float, last: int = 0) -> str:
    """PUMP toggled once a turn of the main loop, then still at level `last`."""
    toggles = int(stop_s / turn_s) // 2 * 2 + last
    points = ["0 0"]
    for index in range(toggles):
        at = index * turn_s + turn_s / 2
        points += [f"{at:.9g} {bench.supply_v * (index % 2)}", f"{at + 1e-7:.9g} {bench.supply_v * (1 - index % 2)}"]
    return f"PWL({' '.join(points)})"


def _pumped(bench: Bench, turn_s: float, pump_s: float, stop_s: float, last: int = 0, charged: bool = False) -> dict[str, list[float]]:
    start = [f".ic v(ALIVE)={bench.supply_v - 1}"] if charged else []
    setup = Setup(pins={"PUMP": _pumping(bench, turn_s, pump_s, last)}, supply=[24], ground=[7], enabled=None,
                  socket=[*_CHIP, *start])
    return bench.in_time(setup, stop_s / 300, stop_s, ["v(OE_N)", "v(ALIVE)", "i(vchip)", driver("PUMP")], COARSE)


def off_ms(bench: Bench, last: int, turn_us: float) -> float:
    """From PUMP's last edge, stuck at level `last`, until no current flows in the chip."""
    pump_s = 40 * turn_us * 1e-6
    found = _pumped(bench, turn_us * 1e-6, pump_s, pump_s + 0.1, last, charged=True)
    stuck_s = pump_s + (last - 0.5) * turn_us * 1e-6
    return 1000 * (crossing(found["scale"], found["i(vchip)"], _OFF_A, rising=False, after=stuck_s) - stuck_s)


def on_ms(bench: Bench, turn_us: float) -> float:
    """From the first edge until the switches are on."""
    found = _pumped(bench, turn_us * 1e-6, 0.02, 0.02)
    return 1000 * (crossing(found["scale"], found["i(vchip)"], 0.03, rising=True) - turn_us * 0.5e-6)


def held_v(bench: Bench, turn_us: float) -> float:
    """The highest OE_N once it has come on, pumped at this pace."""
    found = _pumped(bench, turn_us * 1e-6, 0.04, 0.04)
    return max(v for s, v in zip(found["scale"], found["v(OE_N)"], strict=True) if s > 0.02)


def never_pumped_ua(bench: Bench, last: int) -> float:
    """Chip current with every switch told to be on, and PUMP still since ever."""
    power = bench.fixture["power"]
    setup = Setup(pins={"PUMP": last}, supply=power["supply_positions"], ground=power["ground_positions"], enabled=None, socket=_CHIP)
    return 1e6 * abs(bench.at_rest(setup, ["i(vchip)"])["i(vchip)"])


def pump_over_us(bench: Bench, ma: float) -> float:
    """How long PUMP gives more than so many milliamperes at the first edge into the empty pump."""
    setup = Setup(pins={"PUMP": f"PWL(0 0 10u 0 10.1u {bench.supply_v})"}, enabled=None)
    found = bench.in_time(setup, 1e-7, 60e-6, [driver("PUMP")])
    ends = [s for s, a in zip(found["scale"], found[driver("PUMP")], strict=True) if abs(a) > ma / 1000]
    return 1e6 * (max(ends) - min(ends)) if ends else 0.0


def pump_rms_ma(bench: Bench, turn_us: float) -> float:
    """Root mean square of PUMP's current at this pace, once it holds."""
    turn = turn_us * 1e-6
    found = _pumped(bench, turn, 60 * turn, 60 * turn, charged=True)
    s, a = found["scale"], found[driver("PUMP")]
    late = [(s1 - s0, (a0 * a0 + a1 * a1) / 2) for s0, s1, a0, a1 in zip(s, s[1:], a, a[1:], strict=False) if s0 > 30 * turn]
    return 1000 * float((sum(dt * sq for dt, sq in late) / sum(dt for dt, _ in late)) ** 0.5)
