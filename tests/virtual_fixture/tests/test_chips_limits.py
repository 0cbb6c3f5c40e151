"""Sound specimens stay inside the data books' guaranteed limits, whatever the seed.

Limits of the 74 (0..70 C) series at 25 C.  Read in the makers' sheets: 74 (Fairchild
DM7400), H (ITT 74H30), LS (Fairchild DM74LS00, TI SDLS025B, Motorola), ALS and AS (TI
SDAS187A), F (Motorola MC74F10), HCT (Fairchild MM74HCT00), AC (Fairchild FACT),
4000B (National CD4011BC).  From memory: L, S input currents and short-circuit
current, HC, ACT.  Supply maxima: see each table.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest

from virtual_fixture.chips import Chip, load

SEEDS = range(12)
# family: VOL max, IOL mA, VOH min, IOH mA, IIL max mA, IIH max uA, IOS min and max mA,
# VIK V at mA.
BIPOLAR = {
    "": (0.4, 16, 2.4, 0.4, 1.6, 40, 18, 55, 1.5, 12),
    "L": (0.4, 3.6, 2.4, 0.2, 0.18, 10, 3, 15, None, None),
    "H": (0.4, 20, 2.4, 0.5, 2.0, 50, 40, 100, 1.5, 8),
    "S": (0.5, 20, 2.7, 1.0, 2.0, 50, 40, 100, 1.2, 18),
    "LS": (0.5, 8, 2.7, 0.4, 0.4, 20, 20, 100, 1.5, 18),
    "F": (0.5, 20, 2.7, 1.0, 0.6, 20, 60, 150, 1.2, 18),
}
# ALS and AS give VOH as VCC - 2 V, IO at 2.25 V instead of IOS.
ADVANCED = {"ALS": (0.5, 8, 0.4, 0.1, 20, 30, 112, 1.5, 18),
            "AS": (0.5, 20, 2.0, 0.5, 20, 30, 112, 1.2, 18)}
# At 4.5 V: VOL, IOL, VOH, IOH, VIL, VIH.
CMOS = {"HC": (0.26, 4, 3.98, 4, 1.35, 3.15), "HCT": (0.26, 4, 3.98, 4, 0.8, 2.0),
        "AC": (0.36, 24, 3.86, 24, 1.35, 3.15), "ACT": (0.36, 24, 3.86, 24, 0.8, 2.0)}


def idle(chip: Chip, vcc: float) -> dict[int, float]:
    """Inputs high, outputs at 1 V."""
    assert chip.circuit is not None
    part = chip.circuit.part
    volts = {chip.at(n): vcc for n in part.input_names()}
    volts |= {chip.at(n): 1.0 for n in chip.output_states()}
    return volts | {chip.at("VCC"): vcc, chip.at("GND"): 0.0}


def input_current(chip: Chip, name: str, volts: float, vcc: float = 5.25) -> float:
    at = chip.at(name)
    return chip.currents(idle(chip, vcc) | {at: volts})[0][at]


def short_current(chip: Chip, name: str, volts: float, vcc: float) -> float:
    chip.settle(idle(chip, vcc) | {chip.at("1A"): 0.0})
    at = chip.at(name)
    return -chip.currents(idle(chip, vcc) | {chip.at("1A"): 0.0, at: volts})[0][at]


def flips_between(chip: Chip, low: float, high: float, vcc: float) -> bool:
    """The gate takes `low` for a low and `high` for a high."""
    volts, at = idle(chip, vcc), chip.at("1A")
    chip.settle(volts | {at: low})
    as_low = chip.output_states()["1Y"]
    chip.settle(volts | {at: high})
    return as_low == "high" and chip.output_states()["1Y"] == "low"


@pytest.mark.parametrize("family", BIPOLAR)
def test_bipolar_gate(family: str) -> None:
    vol, iol, voh, ioh, iil, iih, ios_min, ios_max, vik, ik = BIPOLAR[family]
    for seed in SEEDS:
        chip = load({"part": f"74{family}00"}, seed)
        assert chip.output_volts("1Y", "low", iol * 1e-3, 4.75) <= vol
        assert chip.output_volts("1Y", "high", -ioh * 1e-3, 4.75) >= voh
        assert -input_current(chip, "1A", 0.4) <= iil * 1e-3
        assert input_current(chip, "1A", 2.7) <= iih * 1e-6
        assert ios_min <= short_current(chip, "1Y", 0.0, 5.25) * 1e3 <= ios_max
        assert flips_between(chip, 0.8, 2.0, 5.0)
        if vik is not None:
            assert input_current(chip, "1A", -vik, 4.75) < -ik * 1e-3


@pytest.mark.parametrize("family", ADVANCED)
def test_advanced_gate(family: str) -> None:
    vol, iol, ioh, iil, iih, io_min, io_max, vik, ik = ADVANCED[family]
    for seed in SEEDS:
        chip = load({"part": f"74{family}00"}, seed)
        assert chip.output_volts("1Y", "low", iol * 1e-3, 4.5) <= vol
        assert chip.output_volts("1Y", "high", -ioh * 1e-3, 4.5) >= 4.5 - 2
        assert -input_current(chip, "1A", 0.4, 5.5) <= iil * 1e-3
        assert input_current(chip, "1A", 2.7, 5.5) <= iih * 1e-6
        assert io_min <= short_current(chip, "1Y", 2.25, 5.5) * 1e3 <= io_max
        assert flips_between(chip, 0.8, 2.0, 5.0)
        assert input_current(chip, "1A", -vik, 4.5) < -ik * 1e-3


@pytest.mark.parametrize("family", CMOS)
def test_cmos_gate(family: str) -> None:
    vol, iol, voh, ioh, vil, vih = CMOS[family]
    for seed in SEEDS:
        chip = load({"part": f"74{family}00"}, seed)
        assert chip.output_volts("1Y", "low", iol * 1e-3, 4.5) <= vol
        assert chip.output_volts("1Y", "high", -ioh * 1e-3, 4.5) >= voh
        assert abs(input_current(chip, "1A", 0.0)) <= 0.1e-6
        assert abs(input_current(chip, "1A", 5.0, 5.0)) <= 0.1e-6
        assert flips_between(chip, vil, vih, 4.5)


def test_cmos_4000() -> None:
    """CD4011BC at 5 V: 0.44 mA at 0.4 V and 4.6 V; VIL 1.5, VIH 3.5."""
    for seed in SEEDS:
        chip = load({"part": "CD4011B"}, seed)
        assert chip.output_volts("1Y", "low", 0.44e-3) <= 0.4
        assert chip.output_volts("1Y", "high", -0.44e-3) >= 4.6
        assert flips_between(chip, 1.5, 3.5, 5.0)


# LS bus outputs: 24 mA at 0.5 V, VOH 2.4 V at 3 mA, 2.0 V at 15 mA; IIL 0.2 mA, hysteresis
# 0.2 V at least (Fairchild DM74LS244, read).
@pytest.mark.parametrize(("part", "output", "inputs"), [
    ("74LS240", "1Y1", ["1A1", "1G/"]), ("74LS244", "2Y4", ["2A4", "2G/"]),
    ("74LS245", "B1", ["DIR", "G/"])])
def test_ls_bus_driver(part: str, output: str, inputs: list[str]) -> None:
    for seed in SEEDS:
        chip = load({"part": part}, seed)
        assert chip.output_volts(output, "low", 24e-3, 4.75) <= 0.5
        assert chip.output_volts(output, "high", -3e-3, 4.75) >= 2.4
        assert chip.output_volts(output, "high", -15e-3, 4.75) >= 2.0
        for name in inputs:
            assert -input_current(chip, name, 0.4) <= 0.2e-3


# Unit loads beyond one: IIL in mA at 0.4 V.  74LS74A, 74LS112A: Fairchild sheets (read);
# 7474, 74181: from memory of the TI data book; 74S244 likewise (SDLS144, PNP data inputs),
# and 74148, 74LS148 (SDLS053: of the LS only inputs 1 to 7 are two unit loads).
@pytest.mark.parametrize(("part", "pin", "limit_ma"), [
    ("74LS74", "1D", 0.4), ("74LS74", "1CLR/", 0.8), ("74LS112", "1J", 0.4),
    ("74LS112", "1CLK", 0.8), ("74LS112", "2PRE/", 0.8), ("7474", "1CLR/", 3.2),
    ("7474", "1D", 1.6), ("74181", "A0", 4.8), ("74181", "S1", 6.4), ("74181", "CN", 8.0),
    ("74181", "M", 1.6), ("74S244", "1A1", 0.4), ("74S240", "2A4", 0.4), ("74S241", "2G", 2.0),
    ("74148", "EI", 3.2), ("74LS148", "EI", 0.4), ("74LS148", "I7", 0.8), ("74LS148", "I0", 0.4),
    ("74LS181", "A0", 1.2), ("74LS181", "CN", 2.0)])
def test_input_load(part: str, pin: str, limit_ma: float) -> None:
    for seed in SEEDS:
        draw = -input_current(load({"part": part}, seed), pin, 0.4)
        assert 0.4 * limit_ma < draw * 1e3 <= limit_ma


# Supply maxima in mA at 5.25 V, outputs low / high with all inputs high / low.  00, LS00:
# sheets read; the rest from memory of the TI data book.
SUPPLY_MAX = {"7400": (22, 8), "74LS00": (4.4, 1.6), "74S00": (36, 16), "7404": (33, 12),
              "74LS04": (6.6, 2.4), "74S04": (54, 24), "7420": (11, 4), "74LS20": (2.2, 0.8),
              "7430": (6, 2), "74LS30": (1.1, 0.5)}
SUPPLY_MAX_ONE = {"7474": 30, "74LS74": 8, "74LS109": 8, "74LS112": 6, "74LS138": 10,
                  "74LS139": 11, "74LS153": 10, "74LS157": 16, "74LS161": 32, "74LS164": 27,
                  "74LS174": 26, "74LS175": 18, "74181": 150, "74LS181": 37, "74LS373": 40,
                  "74LS374": 40, "74LS245": 95, "74LS244": 54, "74LS240": 50, "74LS86": 10,
                  "74LS32": 9.8, "74LS08": 8.8, "74LS02": 5.4, "74LS27": 6.8}


def supply_ma(chip: Chip, level: float) -> float:
    assert chip.circuit is not None
    volts = idle(chip, 5.25) | {chip.at(n): level for n in chip.circuit.part.input_names()}
    chip.settle(volts)
    for name, state in chip.output_states().items():
        if chip.pin(name) not in {chip.pin(n) for n in chip.circuit.part.input_names()}:
            volts[chip.at(name)] = (1.0 if state == "off"
                                    else chip.output_volts(name, state, 0.0, 5.25))
    return chip.currents(volts)[0][chip.at("VCC")] * 1e3


@pytest.mark.parametrize("part", SUPPLY_MAX)
def test_supply_of_gates(part: str) -> None:
    low, high = SUPPLY_MAX[part]
    for seed in SEEDS:
        chip = load({"part": part}, seed)
        assert 0.3 * low < supply_ma(chip, 5.0) <= low
        assert 0.3 * high < supply_ma(chip, 0.0) <= high


@pytest.mark.parametrize("part", SUPPLY_MAX_ONE)
def test_supply_of_others(part: str) -> None:
    for seed in SEEDS:
        chip = load({"part": part}, seed)
        assert 0.25 * SUPPLY_MAX_ONE[part] < supply_ma(chip, 5.0) <= SUPPLY_MAX_ONE[part]
