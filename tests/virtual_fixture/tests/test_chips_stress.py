"""Absolute maximum ratings, behaviour without power, and speed.

Ratings: makers' data books' absolute maximum tables, from memory (7 V supply and LS input,
5.5 V input of multi-emitter parts, 20 mA CMOS clamp current, 25 mA HC output); short-time
output currents are common practice.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations


import pytest

from virtual_fixture.chips import Chip, load, native


def powered(chip: Chip, **at: float) -> dict[int, float]:
    """All inputs high, outputs at 0.3 V, then `at` by pin name."""
    assert chip.circuit is not None
    volts = {chip.at(n): 5.0 for n in chip.circuit.part.input_names()}
    volts |= {chip.at(n): 0.3 for n in chip.output_states()}
    volts |= {chip.at("VCC"): 5.0, chip.at("GND"): 0.0}
    volts |= {chip.at(n.removeprefix("p")): v for n, v in at.items()}
    chip.settle(volts)
    return volts


@pytest.mark.parametrize("part", ["7400", "74LS00", "74S00", "74ALS00", "74F00"])
def test_nothing_wrong_in_normal_use(part: str) -> None:
    chip = load({"part": part}, 3)
    assert chip.overstress(powered(chip)) is None
    assert chip.overstress(powered(chip, p1A=0.0, p1Y=2.4)) is None


@pytest.mark.parametrize(("part", "at", "what", "pin"), [
    ("74LS00", {"p1Y": 3.0}, None, None),     # its drive gives out near 20 mA
    ("7400", {"p1Y": 3.0}, "output sinks too much", "1Y"),
    ("74S00", {"p2Y": 3.0}, "output sinks too much", "2Y"),
    ("7400", {"p1A": 6.0}, "input too high", "1A"),
    ("74LS00", {"p1A": 7.4}, "input too high", "1A"),
    ("7400", {"p1A": -1.4}, "clamp to GND carries too much", "1A"),
    ("74LS00", {"pVCC": 7.5}, "supply too high", "VCC"),
    ("74HC00", {"p1A": 6.5}, "clamp to VCC carries too much", "1A"),
    ("74HC00", {"p1Y": 4.0}, "output sinks too much", "1Y"),
    ("7400", {"pVCC": -1.5}, "supply reversed", "VCC"),
    ("7400", {"pVCC": -0.6}, None, None),
])
def test_ratings(part: str, at: dict[str, float], what: str | None, pin: str | None) -> None:
    chip = load({"part": part, "spread": 0, "parameters": {} if "HC" in part else {"beta": 45}}, 1)
    found = chip.overstress(powered(chip, **at))
    if what is None:
        assert found is None
    else:
        assert found is not None and pin is not None
        assert found[:2] == (chip.at(pin), what)


def test_unpowered_ttl_blocks_its_inputs() -> None:
    """A pin of a chip without supply, both rails at 0 V, takes microamperes at most."""
    chip = load({"part": "74LS00"}, 1)
    volts = dict.fromkeys(range(1, 25), 0.0)
    chip.settle(volts)
    assert set(chip.output_states().values()) == {"unpowered"}
    for name in ("1A", "1Y"):
        current = chip.currents(volts | {chip.at(name): 5.0})[0][chip.at(name)]
        assert 0 <= current < 5e-6


def test_unpowered_cmos_is_fed_through_its_clamp() -> None:
    chip = load({"part": "74HC00"}, 1)
    volts = dict.fromkeys(range(1, 25), 0.0)
    chip.settle(volts)
    currents, _ = chip.currents(volts | {chip.at("1A"): 1.0})
    assert currents[chip.at("1A")] > 1e-3 and currents[chip.at("VCC")] < -1e-3


def test_power_down_and_up_forgets() -> None:
    """A register comes up anew after the supply has been away."""
    chip, states = load({"part": "74LS374"}, 1), set()
    for _ in range(8):
        on = powered(chip, **{"OC/": 0.0})
        states.add(tuple(chip.output_states().items()))
        chip.settle(dict.fromkeys(on, 0.0))
    assert len(states) > 3


def test_hysteresis_of_a_schmitt_input() -> None:
    """74LS14: VT+ 1.4..1.9, VT- 0.5..1.0, at least 0.4 V between (TI data book, from memory)."""
    for seed in range(10):
        chip = load({"part": "74LS14"}, seed)
        turns = []
        for rising in (True, False):
            steps = range(0, 300) if rising else range(300, 0, -1)
            last = None
            for k in steps:
                powered(chip, p1A=k * 0.01)
                state = chip.output_states()["1Y"]
                if last and state != last:
                    turns.append(k * 0.01)
                last = state
        up, down = turns
        assert 1.4 <= up <= 1.9 and 0.5 <= down <= 1.0 and up - down >= 0.4


def test_shifted_threshold_moves_only_its_input() -> None:
    chip = load({"part": "74LS00", "fault": [
        {"kind": "threshold", "pin": "1A", "volts": 1.1}]}, 1)
    powered(chip, p1A=2.0, p2A=2.0)
    assert chip.output_states()["1Y"] == "high" and chip.output_states()["2Y"] == "low"


def test_callback_is_rare() -> None:
    """One call a crossing of an input, and none without one: each costs some 15 us, as much as many solutions of the network."""
    chip = load({"part": "74LS245"}, 1)
    assert chip.logic is not None
    volts = native.Row()
    for at, value in powered(chip).items():
        volts[at] = value
    calls = chip.logic.calls
    for _ in range(100):
        chip.library.chip_settle(chip.pointer, volts, 0.0)
    assert chip.logic.calls == calls
    for k in range(400):
        volts[chip.at("DIR")] = 5.0 * (k & 1)
        chip.library.chip_settle(chip.pointer, volts, 0.0)
    assert 399 <= chip.logic.calls - calls <= 400


def test_an_error_in_a_behaviour_comes_out() -> None:
    chip = load({"part": "7400"}, 1)
    assert chip.logic is not None
    chip.logic.part.evaluate = lambda v: {"9Y": 1}  # type: ignore[method-assign]
    with pytest.raises(KeyError):
        powered(chip)
