"""Chips made of SPICE's tables do in the engine what SPICE says of the circuit (ngspice 39, Debian).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest
from ngspice_socket import LIGHT_A, RATED, Simulated, simulated

from virtual_fixture.chips import load
from virtual_fixture.chips.truth import IdealBench

CASES = [("7400", 40, 0.0), ("7400", 6, 0.0), ("7400", 40, 15.0), ("74LS00", 40, 0.0), ("74LS00", 15, 0.0),
         ("74LS00", 40, 30.0), ("74S00", 40, 0.0), ("74S00", 6, 0.0), ("74HC00", 40, 0.0), ("4011", 40, 0.0)]


def benches(made: Simulated) -> tuple[IdealBench, IdealBench]:
    """The chip with all outputs low, and with all high."""
    found = []
    for level in (1, 0):
        bench = IdealBench(load(made.description, 1), made.vcc)
        bench.set(**dict.fromkeys(bench.held, level))
        found.append(bench)
    return found[0], found[1]


@pytest.mark.parametrize(("part", "beta", "ohms"), CASES)
def test_the_engine_repeats_spice(part: str, beta: int, ohms: float) -> None:
    """VOL and VOH to 3 mV and a per cent, currents to 2 %, at the books' rated loads."""
    made = simulated(part, beta=beta, series_ohm=ohms)
    low, high = benches(made)
    iol, ioh = RATED[part]
    if made.vol is not None:
        assert low.output_volts("3Y", iol) == pytest.approx(made.vol, abs=3e-3, rel=0.01)
    assert made.voh is not None
    assert high.output_volts("2Y", -ioh) == pytest.approx(made.voh, abs=3e-3)
    assert high.output_volts("1Y", -LIGHT_A) == pytest.approx(made.voh_light, abs=0.015)
    assert -low.pin_current("1A", 0.4) == pytest.approx(made.iil, rel=0.02, abs=1e-8)
    assert high.short_current("4Y") == pytest.approx(made.ios, rel=0.02)
    assert low.icc() == pytest.approx(made.icc_low, rel=0.02, abs=2e-6)
    assert high.icc() == pytest.approx(made.icc_high, rel=0.02, abs=2e-6)
    assert high.threshold("1A", "1Y") is None         # 1B low
    up = low.threshold("1A", "1Y")
    assert up == pytest.approx(made.threshold, abs=4e-3)


def test_the_cases_are_worth_telling_apart() -> None:
    """By SPICE alone: lost gain lets VOL go, a bond's resistance adds its drop."""
    sound, tired, worn = (simulated("7400", beta=b, series_ohm=r) for b, r in ((40, 0), (6, 0), (40, 15)))
    assert sound.vol is not None and sound.vol < 0.3
    assert tired.vol is None or tired.vol > 0.6
    assert worn.vol is not None and worn.vol - sound.vol == pytest.approx(15 * 16e-3, abs=2e-3)
    assert sound.ios == pytest.approx(tired.ios, rel=0.05)
