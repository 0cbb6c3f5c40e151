"""The C engine: Kirchhoff, derivatives, continuity, bond wires, curves.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random

import pytest

from virtual_fixture.chips import Chip, load
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.families import every_name
from virtual_fixture.chips.families import names as family_names

FAULTY = {"part": "74LS00", "fault": [
    {"kind": "series", "pin": "GND", "ohms": 3.0}, {"kind": "series", "pin": "VCC", "ohms": 2.0},
    {"kind": "open", "pin": "2A"}, {"kind": "short", "pin": "3Y", "to": "3A", "ohms": 40},
    {"kind": "leak", "pin": "4A", "to": "GND", "microamperes": 300}]}
BY_NUMBER = {"DTL": "946", "93L": "93L11", "SP": "8T26", "S82": "8282"}     # families without a 74 in front
SPECIMENS: list[dict[str, object]] = [
    {"part": f"74{'' if f == 'TTL' else f}00"} for f in family_names() if f not in ("4000", *BY_NUMBER)]
SPECIMENS += [{"part": name} for name in BY_NUMBER.values()]
SHARED = {"part": "7400", "curve": [
    {"pin": "1A", "shared": ["1B"], "state": "input", "to": "VCC",
     "points": [[-5.7, -4e-3], [-5.0, -1.1e-3], [-3.6, -0.7e-3], [-3.5, 0.0], [0.0, 1e-6]]}]}
SPECIMENS += [SHARED, {"part": "4011"}, {"part": "74LS245"}, {"part": "74LS03"}, {"part": "7430"}, FAULTY]


def random_volts(rng: random.Random) -> dict[int, float]:
    return {k: rng.uniform(-1.5, 7.5) for k in range(1, 25)}


def powered(chip: Chip, rng: random.Random) -> dict[int, float]:
    volts = {k: rng.uniform(-0.8, 5.8) for k in range(1, 25)}
    volts |= {chip.at("VCC"): 5.0, chip.at("GND"): 0.0}
    chip.settle(volts)
    return volts


@pytest.mark.parametrize("spec", SPECIMENS, ids=lambda s: str(s["part"]))
def test_currents_sum_to_zero(spec: dict[str, object]) -> None:
    """Kirchhoff's current law: a chip returns through its terminals all that enters."""
    chip, rng = load(spec, 3), random.Random(5)
    for _ in range(50):
        currents, _ = chip.currents(random_volts(rng))
        assert abs(sum(currents)) < 1e-9 * max(1e-3, max(map(abs, currents)))


@pytest.mark.parametrize("spec", SPECIMENS, ids=lambda s: str(s["part"]))
def test_jacobian_is_the_derivative(spec: dict[str, object]) -> None:
    """Analytic slopes against central differences, powered and at arbitrary voltages."""
    chip, rng = load(spec, 3), random.Random(7)
    for trial in range(12):
        volts = powered(chip, rng) if trial % 2 else random_volts(rng)
        _, slopes = chip.currents(volts)
        for m in range(1, 25):
            h = 2e-6
            up, _ = chip.currents(volts | {m: volts[m] + h})
            down, _ = chip.currents(volts | {m: volts[m] - h})
            for k in range(1, 25):
                numeric = (up[k] - down[k]) / (2 * h)
                scale = max(abs(numeric), abs(slopes[k][m]), 1e-5)
                assert abs(numeric - slopes[k][m]) < 2e-3 * scale, (k, m, numeric, slopes[k][m])


@pytest.mark.parametrize("spec", SPECIMENS, ids=lambda s: str(s["part"]))
def test_currents_are_continuous(spec: dict[str, object]) -> None:
    """A 5 mV step moves a current by no more than the slopes at its two ends allow.

    A jump of a microampere would show.
    """
    step = 5e-3
    chip, rng = load(spec, 3), random.Random(9)
    volts = powered(chip, rng)
    outputs = [chip.at(n) for n in chip.output_states()]
    for node in {1, outputs[0], chip.at("VCC"), chip.at("GND")}:
        last = None
        for k in range(1700):
            now = chip.currents(volts | {node: -1.5 + k * step})
            if last is not None:
                for row in range(1, 25):
                    slope = max(abs(now[1][row][node]), abs(last[1][row][node]))
                    assert abs(now[0][row] - last[0][row]) < 1.3 * slope * step + 1e-6
            last = now


def test_open_bond_carries_nothing_and_floats_high() -> None:
    """TTL input with a broken bond: no current outside, logic sees a high."""
    chip = load({"part": "7400", "fault": [{"kind": "open", "pin": "1A"}]}, 1)
    volts = {k: 5.0 for k in range(1, 25)} | {chip.at("GND"): 0.0, chip.at("1A"): 0.0}
    chip.settle(volts)
    currents, _ = chip.currents(volts)
    assert abs(currents[chip.at("1A")]) < 1e-8
    assert chip.output_states()["1Y"] == "low"


def test_series_resistance_is_ohms_law() -> None:
    """Added series resistance shifts VOL by I R exactly."""
    sound = load({"part": "74LS00"}, 4)
    tired = load({"part": "74LS00", "fault": [{"kind": "series", "pin": "1Y", "ohms": 25}]}, 4)
    for amperes in (1e-3, 4e-3, 8e-3):
        shift = (tired.output_volts("1Y", "low", amperes)
                 - sound.output_volts("1Y", "low", amperes))
        assert shift == pytest.approx(25 * amperes, abs=1e-6)


def test_curve_replaces_the_model() -> None:
    """A piecewise-linear table gives back its points and the straight line between."""
    chip = load({"part": "7400", "curve": [
        {"pin": "1Y", "state": "low", "points": [[0.0, 0.0], [0.2, 0.010], [1.0, 0.020]]}]}, 1)
    assert chip.output_volts("1Y", "low", 0.010) == pytest.approx(0.2, abs=1e-4)
    assert chip.output_volts("1Y", "low", 0.015) == pytest.approx(0.6, abs=1e-4)


def test_empty_socket_draws_nothing() -> None:
    chip = load({"socket": "empty"}, 1)
    volts = {k: 0.2 * k for k in range(1, 25)}
    assert not chip.settle(volts)
    assert set(chip.currents(volts)[0]) == {0.0}


def test_every_part_builds_in_every_family() -> None:
    names = {name for _, _, name in every_name()}
    names |= {f"74{family}{number}" for number in PARTS if number.isdigit() and len(number) < 4 for family in ("", "LS", "S", "HC")}
    for name in sorted(names):
        assert load({"part": name}, 1).pointer


def test_every_part_is_made_in_some_family() -> None:
    """By its class or by the data book, and its class is that of its name."""
    made = every_name()
    assert {key for key, _, _ in made} == set(PARTS)
    for key, family, name in made:
        assert family in family_names(), (key, family)
        described = load({"part": name}, 1).description
        assert described.family == family and described.behaviour is PARTS[key], (key, family, name)


def test_input_curve_is_the_whole_input() -> None:
    """While powered an input's current is the table's; unpowered its clamp still acts."""
    chip = load({"part": "7400", "curve": [
        {"pin": "1A", "state": "input", "points": [[-1.0, -0.02], [0.0, -0.002], [5.0, 0.0]]}]}, 1)
    at = chip.at("1A")
    volts = {k: 5.0 for k in range(1, 25)} | {chip.at("GND"): 0.0}
    chip.settle(volts)
    for level, amperes in ((0.0, -2e-3), (2.5, -1e-3), (-0.5, -11e-3)):
        assert chip.currents(volts | {at: level})[0][at] == pytest.approx(amperes, abs=1e-9)
    unpowered = dict.fromkeys(volts, 0.0)
    chip.settle(unpowered)
    assert chip.currents(unpowered | {at: -0.9})[0][at] < -1e-3


def test_inputs_that_share_a_curve() -> None:
    """The lowest of two emitters carries the current, equal ones half each; nothing is lost."""
    chip = load(SHARED, 1)
    a, b = chip.at("1A"), chip.at("1B")
    volts = {k: 5.0 for k in range(1, 25)} | {chip.at("GND"): 0.0}
    chip.settle(volts)
    alone = chip.currents(volts | {a: 0.0})[0]
    assert alone[a] == pytest.approx(-1.1e-3, abs=1e-9) and abs(alone[b]) < 1e-9
    both = chip.currents(volts | {a: 0.0, b: 0.0})[0]
    # Two junctions side by side: 18 mV less over them, a little more current than one.
    assert both[a] == both[b] == pytest.approx((-1.1e-3 - 18e-3 * 2.9 / 700) / 2, rel=0.02)
    assert abs(sum(both)) < 1e-9
