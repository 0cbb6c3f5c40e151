"""Truths about pins: bidirectional ones as inputs, bad bond wires, leaks, data inputs, no memory of loads.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import math
from typing import Any

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.truth import IdealBench
from virtual_fixture.chips.verdict import examine

from .hands import Hands


def broken(part: str, seed: int = 2, **fault: Any) -> set[tuple[str, str]]:
    return examine({"part": part, "fault": [fault]}, seed).beyond


@pytest.mark.parametrize("pin", ["A3", "B3"])
def test_a_bidirectional_pin_is_an_input_too(pin: str) -> None:
    """Whichever way the walk leaves the direction: leak, threshold and clamp of both sides are looked at."""
    assert (pin, "IIH") in broken("74LS245", kind="leak", pin=pin, to="GND", microamperes=100)
    assert (pin, "VT+") in broken("74LS245", kind="threshold", pin=pin, volts=1.0)
    sound = examine({"part": "74LS245"}, 2)
    assert sound.sound
    assert {(pin, q) for q in ("IIL", "IIH", "VIK", "VT+")} <= set(sound.figures)


@pytest.mark.parametrize("part", ["74HC00", "4011", "74LS00", "7400"])
def test_an_open_input_breaks_the_function(part: str) -> None:
    for ohms in ({}, {"ohms": 1e9}, {"ohms": 1e12}):
        assert ("1Y", "logic") in broken(part, kind="open", pin="1A", **ohms)


def test_a_bad_bond_wire_delays_a_cmos_input() -> None:
    """R x 5 pF (data books' typical input capacitance): 50 us at 10 megohms, within a slow step, beyond every book."""
    found = broken("74HC00", kind="open", pin="1A", ohms=1e7)
    assert ("1A", "tPD") in found and ("1Y", "logic") not in found
    assert not broken("74HC00", kind="series", pin="1A", ohms=50)


def test_a_lagging_input_crosses_its_threshold_on_the_way() -> None:
    """In the network: from 0 V to 5 V, threshold near 2.3 V: R C ln(5 / 2.7) after the edge."""
    chip = load({"part": "74HC00", "spread": 0, "fault": [{"kind": "open", "pin": "1A", "ohms": 4e6}]}, 1)
    hands = Hands(chip)
    hands.power("P24", "N7")
    hands.high("M2")
    hands.low("M1")
    hands.pump(20e-3)
    assert hands.volts(3) > 4
    begin = hands.bench.now_s
    hands.high("M1")
    while hands.volts(3) > 2.5:
        hands.bench.run(2e-7)
    assert hands.bench.now_s - begin == pytest.approx(4e6 * 5e-12 * math.log(4.95 / (4.95 - 2.29)), rel=0.05)


@pytest.mark.parametrize("part", ["74HC00", "74HCT00", "4011"])
@pytest.mark.parametrize("leak", [{"ohms": 1e4}, {"microamperes": 200.0}])
def test_a_leaking_output_shows_in_the_quiescent_current_of_one_state(part: str, leak: dict[str, float]) -> None:
    for to, seen_low in (("VCC", True), ("GND", False)):
        chip = load({"part": part, "fault": [{"kind": "leak", "pin": "1Y", "to": to, **leak}]}, 1)
        bench, icc = IdealBench(chip, 5.0), {}
        for low in (False, True):
            bench.set(**{n: 1 for n in bench.held})
            bench.set(**{"1A": int(low)})
            icc[low] = bench.icc()
        assert icc[seen_low] > 150e-6
        assert icc[not seen_low] < 1e-6


def test_data_inputs_of_a_clocked_part() -> None:
    assert ("1D", "VT+") in broken("74LS74", kind="threshold", pin="1D", volts=1.2)
    assert ("3D", "IIH") in broken("74LS175", kind="leak", pin="3D", to="GND", microamperes=100)
    assert any(q == "logic" for _, q in broken("74HC377", kind="stuck", pin="4D", level="low"))


@pytest.mark.parametrize("part", ["7400", "74LS00", "74S00", "74H00", "74L00", "74ALS00", "74HC00", "4011"])
def test_an_output_remembers_no_load(part: str) -> None:
    """Released, an output is back at its open level: at once by the equations, within 0.2 ms in time."""
    hands = Hands({"part": part}, 1, nominal=False)
    hands.power("P24", "N7")
    hands.low("M1", "M2")
    hands.pump(20e-3)
    settled, now = hands.volts(3), hands.bench.node(3, False)
    for channel in (0, 1, 2, 5):
        hands.sense(3, channel)
        for nets in (("M3",), ("S3",), ("M3", "S3")):
            for work in (hands.high, hands.low):
                work("LD", *nets)
                hands.pump(1e-3)
                hands.off("LD", *nets)
                hands.sense(3 if channel else 0, 0)
                hands.bench.run(500e-6)
                assert hands.volts(3) == pytest.approx(settled, abs=1e-3)
                assert hands.bench.node(3, False) == pytest.approx(now, abs=3e-3)
