"""The demonstration chips: that each is what its first line says.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from pathlib import Path

import pytest

from virtual_fixture.chips import Chip, load
from virtual_fixture.chips.description import FAULTS, read

DEMO = Path(__file__).parents[1] / "chips" / "demo"
FILES = sorted(DEMO.glob("*.toml"))


def supply_ma(chip: Chip, high: str | None = None) -> float:
    """Supply current with all inputs at 5 V, outputs at their no-load voltages."""
    assert chip.circuit is not None
    part = chip.circuit.part
    volts = {chip.at(n): 5.0 for n in part.input_names()}
    volts |= {chip.at(part.vcc): 5.0, chip.at(part.gnd): 0.0}
    chip.settle(volts)
    for name, state in chip.output_states().items():
        volts[chip.at(name)] = chip.output_volts(name, state, 0.0) if state != "off" else 1.0
    return chip.currents(volts)[0][chip.at(part.vcc)] * 1e3


@pytest.mark.parametrize("path", FILES, ids=lambda p: p.stem)
def test_file_loads_and_survives_power(path: Path) -> None:
    chip = load(path, 1)
    volts = {k: 1.0 for k in range(1, 25)} | {24: 5.0, 7: 0.0}
    chip.settle(volts)
    currents, _ = chip.currents(volts)
    assert abs(sum(currents)) < 1e-9
    assert chip.truth()["sound"] == path.stem.startswith("sound")


def test_every_fault_kind_has_a_demo() -> None:
    shown = {f["kind"] for p in FILES for f in read(p).faults}
    assert shown == set(FAULTS)


# Figures of sound and of one hungry specimen: common practice, no published source.
@pytest.mark.parametrize(("name", "expected_ma", "tolerance_ma"), [
    ("sound_74ls04", 4.9, 0.3), ("hungry_74ls04", 33.7, 0.4),
    ("sound_74s04", 32.0, 1.5), ("sound_74ls112", 4.4, 0.3)])
def test_supply_current(name: str, expected_ma: float, tolerance_ma: float) -> None:
    for seed in range(5):
        assert supply_ma(load(DEMO / f"{name}.toml", seed)) == pytest.approx(
            expected_ma, abs=tolerance_ma)


def test_lost_gain_is_a_cliff_between_half_and_full_load() -> None:
    """At 8 mA the tired 7400 looks fine, at some 16 mA it has let go (limit 0.4 V, data book)."""
    chip = load(DEMO / "tired_7400.toml", 2)
    assert chip.output_volts("2Y", "low", 8e-3) < 0.25
    assert chip.loaded_volts("2Y", "low", 297, 5.0) > 0.6
    assert chip.output_volts("1Y", "low", 16e-3) < 0.4


def test_lost_gain_ls() -> None:
    """Limit at 8 mA is 0.5 V (data book, LS family): this one lets go at about 7 mA."""
    chip = load(DEMO / "tired_74ls00.toml", 2)
    assert chip.output_volts("3Y", "low", 4e-3) < 0.45
    assert chip.loaded_volts("3Y", "low", 560, 5.0) > 0.55
    assert chip.loaded_volts("3Y", "low", 297, 5.0) > 2.0
    assert chip.loaded_volts("1Y", "low", 587, 5.0) < 0.5


def test_weak_pull_up_fails_only_under_load() -> None:
    chip = load(DEMO / "weak_pull_up_7400.toml", 2)
    assert chip.output_volts("1Y", "high", -10e-6) > 3.4
    assert chip.output_volts("1Y", "high", -0.4e-3) < 2.4


def test_hungry_chip_is_no_resistor() -> None:
    """Excess supply current flows through junctions: a pre-power look sees no short."""
    chip = load(DEMO / "hungry_74ls04.toml", 1)
    currents, _ = chip.currents({chip.at("VCC"): 0.25, chip.at("GND"): 0.0})
    assert abs(currents[chip.at("VCC")]) < 50e-6


def test_reversed_and_shifted_sit_elsewhere() -> None:
    """Top seating: pin 14 in position 24, pin 7 in position 7."""
    assert load(DEMO / "sound_7400.toml", 1).positions[14] == 24
    turned = load(DEMO / "reversed_7400.toml", 1).positions
    assert (turned[14], turned[7], turned[1]) == (7, 24, 18)
    low = load(DEMO / "shifted_7400.toml", 1).positions
    assert (low[1], low[7], low[8], low[14]) == (2, 8, 17, 23)
