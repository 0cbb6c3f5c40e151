"""The ideal bench and the verdict: what they say must follow from the chip, and from the books.

Typical values: Fairchild DM7400, DM74LS00 (read), the TI data book (memory).

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from typing import Any

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.truth import IdealBench
from virtual_fixture.chips.verdict import Verdict, examine, verdict

Chipfile = dict[str, Any]


def bench(vcc: float = 5.0, seed: int = 1, **description: Any) -> IdealBench:
    return IdealBench(load({"spread": 0, **description}, seed), vcc)


def broken(found: Verdict) -> set[tuple[str, str]]:
    return {(v.pin, v.quantity) for v in found.violations}


# ------------------------------------------------------------------- figures
# part, quantity -> (typical of the book, tolerance)
TYPICAL = [
    ("7400", "VOL 16 mA", 0.2, 0.03), ("7400", "VOH 0.4 mA", 3.4, 0.2), ("7400", "ICCH", 4e-3, 1e-3),
    ("7400", "ICCL", 12e-3, 1e-3), ("7400", "IIL", -1.0e-3, 0.1e-3), ("74LS00", "VOL 8 mA", 0.35, 0.05),
    ("74LS00", "VOH 0.4 mA", 3.4, 0.2), ("74LS00", "ICCH", 0.8e-3, 0.25e-3), ("74LS00", "ICCL", 2.4e-3, 0.2e-3),
    ("74S00", "VOH 1 mA", 3.4, 0.2), ("74S00", "ICCH", 10e-3, 1e-3), ("74S00", "ICCL", 20e-3, 1e-3),
    ("74H00", "ICCH", 10e-3, 1e-3), ("74H00", "ICCL", 26e-3, 1e-3),
]


@pytest.mark.parametrize(("part", "what", "expected", "tolerance"), TYPICAL)
def test_a_typical_chip_has_the_books_typical_figures(part: str, what: str, expected: float,
                                                      tolerance: float) -> None:
    b = bench(part=part)
    quantity, *rest = what.split()
    level = int(quantity in ("VOL", "ICCL"))
    b.set(**dict.fromkeys(b.held, level))
    amperes = float(rest[0]) * 1e-3 if rest else 0.0
    value = {"VOL": lambda: b.output_volts("1Y", amperes), "VOH": lambda: b.output_volts("1Y", -amperes),
             "ICCH": b.icc, "ICCL": b.icc, "IIL": lambda: b.pin_current("1A", 0.4, others=5.0)}[quantity]()
    assert value == pytest.approx(expected, abs=tolerance)


def test_the_bench_agrees_with_the_chip_alone() -> None:
    """The same figure by halving one pin's voltage (Chip.output_volts) and by Newton on all."""
    for part, amperes in (("7400", 16e-3), ("74LS00", 8e-3), ("74HC00", 4e-3)):
        b = bench(part=part, vcc=4.75)
        b.set(**dict.fromkeys(b.held, 1))
        assert b.output_volts("2Y", amperes) == pytest.approx(
            b.chip.output_volts("2Y", "low", amperes, 4.75), abs=1e-6)
        b.set(**{"2A": 0})
        assert b.output_volts("2Y", -amperes / 20) == pytest.approx(
            b.chip.output_volts("2Y", "high", -amperes / 20, 4.75), abs=1e-6)


def test_measuring_changes_nothing() -> None:
    """A register keeps its state through every measurement that is no threshold search."""
    b = bench(part="74LS74", seed=3)
    b.set(**{"1CLR/": 0})
    b.set(**{"1CLR/": 1, "1D": 1})
    before = b.chip.output_states()
    b.pin_current("1CLK", 0.4)
    b.clamp_volts("1CLK", 18e-3)
    b.short_current("1Q/")
    assert b.chip.output_states() == before and before["1Q"] == "low"
    b.pulse("1CLK")                  # held high: the pulse goes low and rises again
    assert b.state("1Q") == "high"


def test_output_resistance_is_the_bond_wire_when_that_is_all_there_is() -> None:
    sound, worn = (bench(part="74HC00", fault=faults) for faults in
                   ([], [{"kind": "series", "pin": "1Y", "ohms": 47}]))
    for b in (sound, worn):
        b.set(**dict.fromkeys(b.held, 1))
    assert (worn.resistance("1Y", 1e-3, 4e-3) - sound.resistance("1Y", 1e-3, 4e-3)) == pytest.approx(47, abs=1e-3)


def test_an_off_output_leaks_what_the_leak_leaks() -> None:
    """5 V over 100 kohm: 50 uA more than the sound output, by Ohm's law."""
    leaky, sound = (bench(part="74LS125", fault=faults) for faults in
                    ([{"kind": "leak", "pin": "1Y", "to": "GND", "ohms": 1e5}], []))
    currents = []
    for b in (leaky, sound):
        b.set(**{"1C/": 1})
        currents.append(b.pin_current("1Y", 2.4))
    assert currents[0] - currents[1] == pytest.approx(24e-6, abs=1e-8)


def test_it_says_when_a_pin_cannot_carry_a_current() -> None:
    b = bench(part="7400", fault=[{"kind": "open", "pin": "1Y"}])
    b.set(**dict.fromkeys(b.held, 1))
    with pytest.raises(ValueError, match="no voltage"):
        b.output_volts("1Y", 16e-3)


# ---------------------------------------------------------------- thresholds
@pytest.mark.parametrize(("part", "name", "output"), [
    ("7400", "1A", "1Y"), ("74LS04", "3A", "3Y"), ("74HC08", "2B", "2Y"), ("4011", "1A", "1Y"),
    ("74S32", "4A", "4Y"), ("74LS138", "A", "Y0")])
def test_threshold_through_an_output_is_the_inputs_own(part: str, name: str, output: str) -> None:
    """Ramp at an output, and halving at the die: two ways to the same voltage."""
    b = bench(part=part, seed=5)
    low = {"74S32": 0, "74LS138": 0}.get(part, 1)
    b.set(**dict.fromkeys(b.held, low))
    if part == "74LS138":
        b.set(**{"G1": 1})
    up = b.threshold(name, output, "up")
    assert up == pytest.approx(b.switching_volts(name, "up"), abs=2e-3)
    down = b.threshold(name, output, "down")
    assert down == pytest.approx(b.switching_volts(name, "down"), abs=2e-3)
    assert up is not None and down is not None and 0 <= up - down < 0.05


def test_no_threshold_without_a_path() -> None:
    b = bench(part="7400")
    b.set(**dict.fromkeys(b.held, 0))
    assert b.threshold("1A", "1Y") is None            # 1B low: the output stays high


def test_resistance_before_an_input_moves_its_threshold() -> None:
    """A TTL input turns while it still gives half its base current: the pin then stands lower
    than the die, by that current times the resistance (TI data book's schematic, memory)."""
    sound, worn = (bench(part="7400", fault=faults) for faults in
                   ([], [{"kind": "series", "pin": "1A", "ohms": 500}]))
    for b in (sound, worn):
        b.set(**dict.fromkeys(b.held, 1))
    drop = sound.threshold("1A", "1Y") - worn.threshold("1A", "1Y")  # type: ignore[operator]
    at = sound.switching_volts("1A")
    assert at is not None
    assert drop == pytest.approx(-sound.pin_current("1A", at) * 500, abs=5e-3)
    assert drop > 0.05


# VT+ and VT-: spans of the TI data book (memory); 74LS14, 7414, 74S132.
@pytest.mark.parametrize(("part", "output", "up", "down", "gap"), [
    ("7414", "1Y", (1.5, 2.0), (0.6, 1.1), 0.4), ("74LS14", "1Y", (1.4, 1.9), (0.5, 1.0), 0.4),
    ("74S132", "1Y", (1.6, 1.9), (1.1, 1.4), 0.2), ("7413", "1Y", (1.5, 2.0), (0.6, 1.1), 0.4)])
def test_schmitt_thresholds_through_an_output(part: str, output: str, up: tuple[float, float],
                                              down: tuple[float, float], gap: float) -> None:
    for seed in range(4):
        b = bench(part=part, seed=seed, spread=1.0)
        b.set(**dict.fromkeys(b.held, 1))
        rising, falling = b.threshold("1A", output, "up"), b.threshold("1A", output, "down")
        assert rising is not None and falling is not None
        assert up[0] <= rising <= up[1] and down[0] <= falling <= down[1]
        assert rising - falling >= gap


# ------------------------------------------------------------------ verdicts
# What to do to a chip so that just this limit breaks.
BREAKERS: list[tuple[Chipfile, str, str]] = [
    ({"part": "7400", "pin": {"2Y": {"sink_ohm": 30}}}, "2Y", "VOL"),
    ({"part": "7400", "pin": {"3Y": {"up_diode_v": 2.2}}}, "3Y", "VOH"),
    ({"part": "7400", "pin": {"1Y": {"up_ohm": 50, "up_base_ohm": 1}}}, "1Y", "IOS most"),
    ({"part": "74LS00", "pin": {"1Y": {"up_ohm": 300}}}, "1Y", "IOS"),
    ({"part": "7404", "pin": {"4A": {"in_ohm": 2200}}}, "4A", "IIL"),
    ({"part": "74LS00", "fault": [{"kind": "leak", "pin": "4B", "to": "GND", "microamperes": 40}]}, "4B", "IIH"),
    ({"part": "74LS00", "pin": {"4B": {"clamp_ohm": 90}}}, "4B", "VIK"),
    ({"part": "7403", "fault": [{"kind": "leak", "pin": "2Y", "to": "GND", "microamperes": 400}]}, "2Y", "ICEX"),
    ({"part": "74LS244", "fault": [{"kind": "leak", "pin": "1Y2", "to": "GND", "microamperes": 60}]}, "1Y2", "IOZ"),
    ({"part": "74HC00", "fault": [{"kind": "leak", "pin": "1A", "to": "GND", "microamperes": 1}]}, "1A", "II"),
    ({"part": "74LS00", "fault": [{"kind": "threshold", "pin": "2A", "volts": 1.1}]}, "2A", "VT+"),
    ({"part": "74HC00", "fault": [{"kind": "threshold", "pin": "2A", "volts": -1.1}]}, "2A", "VT-"),
    ({"part": "74LS14", "parameters": {"hysteresis_scale": 0.3}}, "1A", "hysteresis"),
    ({"part": "74LS74", "fault": [{"kind": "excess_supply", "milliamperes": 6}]}, "VCC", "ICC"),
]


@pytest.mark.parametrize(("description", "pin", "quantity"), BREAKERS, ids=lambda x: x if isinstance(x, str) else None)
def test_every_limit_can_be_broken_and_is_then_named(description: Chipfile, pin: str, quantity: str) -> None:
    found = examine({"spread": 0, **description}, 1)
    assert (pin, quantity) in broken(found)
    mine = next(v for v in found.violations if (v.pin, v.quantity) == (pin, quantity))
    assert mine.value is not None and mine.limit is not None and str(mine)
    assert not found.sound and found.margin() < 0


def test_the_rest_of_such_a_chip_keeps_its_limits() -> None:
    found = examine({"part": "7404", "spread": 0, "pin": {"4A": {"in_ohm": 2200}}}, 1)
    assert broken(found) == {("4A", "IIL")}


@pytest.mark.parametrize(("fault", "effect"), [
    ({"kind": "leak", "pin": "1A", "to": "GND", "microamperes": 5}, "none"),
    ({"kind": "leak", "pin": "1A", "to": "GND", "microamperes": 100}, "limit"),
    ({"kind": "series", "pin": "1Y", "ohms": 2}, "none"),
    ({"kind": "series", "pin": "1Y", "ohms": 40}, "limit"),
    ({"kind": "beta", "pin": "1Y", "beta": 50}, "none"),
    ({"kind": "beta", "pin": "1Y", "beta": 6}, "limit"),
    ({"kind": "weak_pull_up", "pin": "1Y", "ohms": 10}, "none"),
    ({"kind": "weak_pull_up", "pin": "1Y", "ohms": 9000}, "limit"),
    ({"kind": "threshold", "pin": "1A", "volts": 0.2}, "none"),
    ({"kind": "threshold", "pin": "1A", "volts": 1.0}, "limit"),
    ({"kind": "excess_supply", "milliamperes": 1}, "none"),
    ({"kind": "excess_supply", "milliamperes": 20}, "limit"),
    ({"kind": "stuck", "pin": "1Y", "level": "low"}, "logic"),
    ({"kind": "stuck", "pin": "1A", "level": "high"}, "logic"),
    ({"kind": "open", "pin": "1A"}, "logic"),
    ({"kind": "dead", "pin": "1Y"}, "logic"),
    ({"kind": "short", "pin": "1Y", "to": "GND", "ohms": 1}, "logic"),
    ({"kind": "reversed"}, "logic"), ({"kind": "shifted", "rows": 1}, "logic"),
], ids=lambda x: x["kind"] + str(x.get("ohms", x.get("microamperes", ""))) if isinstance(x, dict) else x)
def test_what_a_fault_does(fault: dict[str, Any], effect: str) -> None:
    """One fault in a typical 7400: harmless, beyond a limit, or wrong in its logic."""
    found = verdict({"part": "7400", "spread": 0, "fault": [fault]}, 1)
    [said] = found.faults
    assert (said.kind, said.pin, said.effect) == (fault["kind"], fault.get("pin", ""), effect)
    assert found.sound == (effect == "none")


def test_two_faults_are_told_apart() -> None:
    found = verdict({"part": "7400", "spread": 0, "fault": [
        {"kind": "beta", "pin": "2Y", "beta": 5}, {"kind": "series", "pin": "1Y", "ohms": 0.5}]}, 1)
    assert [f.effect for f in found.faults] == ["limit", "none"]
    assert broken(found) == {("2Y", "VOL")}


def test_a_remarked_chip_is_held_to_its_marking() -> None:
    """An LS00 sinks no 16 mA at 0.4 V; sold as a 7400 it breaks the 7400's VOL, all four outputs."""
    found = verdict({"part": "74LS00", "marking": "7400", "spread": 0}, 1)
    assert {(f"{k}Y", "VOL") for k in range(1, 5)} <= broken(found)
    assert verdict({"part": "74LS00", "spread": 0}, 1).sound
    wrong = verdict({"part": "74LS02", "marking": "74LS00", "spread": 0}, 1)
    assert [v.quantity for v in wrong.violations] == ["function"] and wrong.logic_wrong


def test_at_the_fixtures_supply() -> None:
    """Of a lower supply a high output is lower by as much (TTL), and the verdict knows it."""
    book = examine({"part": "7400", "spread": 0}, 1)
    here = examine({"part": "7400", "spread": 0}, 1, vcc=5.0)
    rise = here.figures["1Y", "VOH"].value - book.figures["1Y", "VOH"].value
    assert rise == pytest.approx(5.0 - 4.75, abs=0.02)


def test_a_part_the_book_does_not_have() -> None:
    with pytest.raises(KeyError, match="no limits for 181 of family H"):
        examine({"part": "74H181"}, 1)
