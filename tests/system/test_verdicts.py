"""Chips in the virtual fixture, the real firmware image, the command as a user types it: is the verdict right?

The figures of the first test are common practice (facts of the trade, no source).
SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from pathlib import Path

import pytest

from inprocess import sweep_here
from rig import ROOT, sagbench, virtual_port
from sagbench.wire.numbers import EventKind
from virtual_fixture.chips.chip import load
from virtual_fixture.inproc import Fixture

DEMO = ROOT / "tests" / "virtual_fixture" / "chips" / "demo"
MA = 1000


def swept(chip: Path | None, part: str, seed: int = 5, *options: str) -> tuple[int, dict]:
    """Exit code and record of one sweep; the fixture's own watch must have seen nothing."""
    with virtual_port(chip, seed) as port:
        done = sagbench("sweep", part, "--port", port, "--json", "-", *options)
    assert done.stdout.startswith("{"), done.stderr
    return done.returncode, json.loads(done.stdout)


def worst_supply(record: dict) -> float:
    """The largest supply current of the record, milliamperes."""
    return max(finding["value"]["value"] for finding in record["supply"] if finding["value"]) * MA


@pytest.mark.parametrize(("chip", "part", "milliamperes", "code"), [
    ("sound_74ls04", "74LS04", 4.9, 0),
    ("hungry_74ls04", "74LS04", 33.7, 1),
    ("sound_74s04", "74S04", 32.0, 0),
    ("sound_74ls112", "74LS112", 4.4, 0),
])
def test_supply_currents_of_the_trade_get_the_right_verdict(chip, part, milliamperes, code):
    returned, record = swept(DEMO / f"{chip}.toml", part)
    assert returned == code, record["reasons"]
    assert all(not run["misses"] for run in record["logic"]), "it passes every vector"
    assert worst_supply(record) == pytest.approx(milliamperes, rel=0.25)


def test_a_dying_chip_with_perfect_logic_is_named_by_its_weak_pin():
    code, record = swept(ROOT / "tests/demo/tired.toml", "SN74LS00N", 22)
    assert code == 1
    assert all(not run["misses"] for run in record["logic"])
    assert record["reasons"][0]["pin"] == 8


def test_the_sound_one_of_the_demonstration_is_sound():
    code, record = swept(ROOT / "tests/demo/sound.toml", "SN74LS00N", 21)
    assert (code, record["verdict"]) == (0, "sound"), record["reasons"]


SOUND = {"7400": "7400", "74s00": "74S00", "74hc00": "74HC00", "74ls138": "74LS138", "74ls245": "74LS245",
         "74ls74": "74LS74", "74181": "74181", "4011": "CD4011BE"}


@pytest.mark.parametrize("chip", SOUND)
@pytest.mark.parametrize("seed", [3, 8])
def test_a_sound_chip_is_never_condemned(chip, seed):
    code, record = swept(DEMO / f"sound_{chip}.toml", SOUND[chip], seed)
    assert code == 0, [reason["sentence"] for reason in record["reasons"]]


# chip file, part, pins of which one must stand first among the reasons, a word that must fall in it
FAULTS = [
    ("corroded_74ls00", "74LS00", {3, 6, 8, 11}, "series resistance"),
    ("dead_gate_7400", "7400", {8}, ""),
    ("deaf_input_7400", "7400", {2}, "dead inside"),
    ("leaky_74ls74", "74LS74", {2}, "leaky"),
    ("leaky_ohms_74ls00", "74LS00", {1}, "leaky"),
    ("open_input_7400", "7400", {1}, "open bond"),
    ("open_output_7400", "7400", {11}, "open bond"),
    ("open_vcc_74ls00", "74LS00", {14}, "open bond"),
    ("short_between_74ls00", "74LS00", {12, 13}, "shorted"),
    ("short_supply_74ls00", "74LS00", {7, 14}, "shorted"),
    ("short_to_gnd_74ls00", "74LS00", {6}, "shorted"),
    ("short_to_vcc_74ls00", "74LS00", {9}, "shorted"),
    ("stuck_high_74ls00", "74LS00", {3}, "stuck high"),
    ("stuck_low_74ls00", "74LS00", {3}, "stuck low"),
    ("tired_7400", "7400", {6}, ""),
    ("weak_pull_up_7400", "7400", {3}, ""),
    ("curve_7400", "7400", {3}, ""),
]


@pytest.mark.parametrize(("chip", "part", "pins", "word"), FAULTS)
def test_a_fault_is_named_with_its_pin(chip, part, pins, word):
    code, record = swept(DEMO / f"{chip}.toml", part)
    assert code == 1
    first = record["reasons"][0]
    assert first["pin"] in pins, first["sentence"]
    assert word in first["sentence"]


@pytest.mark.parametrize(("chip", "word"), [("reversed_7400", "wrong way round"), ("shifted_7400", "position"), ("empty", "empty")])
def test_a_chip_that_is_not_seated_right_gets_no_power_and_no_verdict(chip, word):
    code, record = swept(DEMO / f"{chip}.toml", "7400")
    assert (code, record["verdict"]) == (4, "not finished")
    assert all(finding["outcome"] == "not measured" for finding in record["supply"])
    assert word in json.dumps(record).lower()


def test_a_shorted_chip_is_not_abandoned():
    _, record = swept(DEMO / "short_to_gnd_74ls00.toml", "74LS00")
    others = [pin for pin in record["pins"] if pin["pin"] in (3, 8, 11)]
    assert all(pin["outcome"] == "within" and pin["loads"] for pin in others)
    shorted = next(pin for pin in record["pins"] if pin["pin"] == 6)
    assert shorted["outcome"] != "within"


@pytest.mark.parametrize(("chip", "part"), [("wrong_part_74ls02", "74LS00"), ("remarked_74ls04", "74S04")])
def test_another_part_under_a_right_marking_does_not_pass_as_sound(chip, part):
    code, record = swept(DEMO / f"{chip}.toml", part)
    assert code == 1, record["verdict"]


def test_an_input_that_no_line_can_drive_is_a_result():
    """A CMOS counter whose clock is shorted to its supply is never at rest: no rest is asked of it, and the short is named."""
    with Fixture(seed=2) as fixture:
        fixture.insert(load({"part": "4040", "fault": [{"kind": "short", "pin": "CLK", "to": "VCC", "ohms": 78.9}]}, seed=2))
        record = sweep_here(fixture, "4040").record
    assert record.verdict == "not sound" and "pin 10 (CLK)" in record.reasons[0].sentence


def test_a_pin_that_the_chip_forces_as_power_comes_on_is_a_result():
    """A register sold as a bus driver: its outputs come up as they like, and one meets the first level of a strong line.

    The contention is in the pass that follows power-on, before any test has begun (specimen 7 comes up so).
    """
    with Fixture(seed=7) as fixture:
        fixture.insert(load({"part": "74S374", "marking": "74S241"}, seed=7))
        done = sweep_here(fixture, "74S241")
    fight = next(k for k, one in enumerate(done.passes) if any(e.kind is EventKind.CONTENTION for e in one.events))
    assert [step.name for step in done.steps[fight - 1]][:2] == ["drive", "power_on"], "the pass before it switched on"
    assert "power_on" in {step.name for step in done.steps[fight + 1]}, "and power came on again"
    assert done.record.verdict == "not sound" and done.record.supply_volts is not None and done.record.logic
    assert "pin 19 (2G) was forced to the other level by the chip while it was driven" in {f.sentence for f in done.record.reasons}


QUAD, HEX, EIGHT = [f"{k}Y" for k in range(1, 5)], [f"{k}Y" for k in range(1, 7)], [f"Y{k}" for k in range(8)]


@pytest.mark.parametrize(("part", "outputs", "gain", "ohm", "ground"), [
    ("7400", QUAD, 5, 12, 7), ("74LS00", QUAD, 15, 12, 7), ("74S04", HEX, 4, 5, 7), ("74LS138", EIGHT, 10, 8, 8)])
def test_gain_lost_by_all_outputs_is_told_from_resistance_of_ground(part, outputs, gain, ohm, ground):
    """Both take the low level of all outputs; the one bends upward to a limit, the other rises from the first milliampere."""
    def first(*faults):
        with Fixture(seed=11) as fixture:
            fixture.insert(load({"part": part, "fault": list(faults)}, seed=5))
            return sweep_here(fixture, part).record.diagnoses[0]
    gone = first(*({"kind": "beta", "pin": pin, "beta": gain} for pin in outputs))
    assert (gone.kind, gone.pin) == ("sink transistor has lost gain", None) and f"all {len(outputs)} outputs" in gone.sentence
    lifted = first({"kind": "series", "pin": "GND", "ohms": ohm})
    assert (lifted.kind, lifted.pin) == ("added series resistance", ground)
