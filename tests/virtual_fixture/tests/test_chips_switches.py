"""Analog switches: resistances that the logic closes.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest

from virtual_fixture.chips import load
from virtual_fixture.chips.truth import IdealBench


def bench(part: str, *faults: dict[str, object]) -> IdealBench:
    chip = IdealBench(load({"part": part, "fault": list(faults)}, 7))
    chip.set(**{name: 0 for name in chip.part.input_names()})
    return chip


@pytest.mark.parametrize(("part", "ohms"), [("4066", 1050), ("74HC4066", 150)])
def test_a_closed_switch_carries_both_ways(part: str, ohms: float) -> None:
    """ohms: most at 5 V and 25 C (data books: TI CD4066B 1050, CD74HC4066 at 4.5 V 142, from memory)."""
    chip = bench(part)
    chip.set(**{"1X": 2.0, "1C": 1})
    down, up = (chip.output_volts("1Y", amperes) for amperes in (-1e-4, 1e-4))
    assert 0 < 2.0 - down < 1e-4 * ohms
    assert up - 2.0 == pytest.approx(2.0 - down, rel=1e-3)


def test_an_open_switch_leaks_nanoamperes() -> None:
    chip = bench("4066")
    chip.set(**{"1X": 1})
    assert abs(chip.pin_current("1Y", 0.0)) < 1e-7             # 0.1 uA, TI CD4066B (memory)


def test_one_of_sixteen() -> None:
    chip = bench("4067")
    for k in range(16):
        chip.set(**{n: k >> bit & 1 for bit, n in enumerate("ABCD")} | {f"X{j}": 0.25 * j for j in range(16)})
        assert chip.volts("X") == pytest.approx(0.25 * k, abs=1e-3)
    chip.set(INH=1)
    assert chip.state("X") == "off"


CHANNELS = {"4051": ("X", "ABC", 8), "4052": ("XY", "AB", 4), "4053": ("XYZ", "", 2)}     # commons, address, channels of each


@pytest.mark.parametrize(("part", "number"), [("4051", "4051"), ("4052", "4052"), ("4053", "4053"), ("74HC4051", "4051"), ("74HC4053", "4053")])
def test_each_common_has_the_channel_that_is_addressed(part: str, number: str) -> None:
    """Function tables of TI's CD4051B, CD4052B, CD4053B (from memory; HEF4051B's read)."""
    commons, address, count = CHANNELS[number]
    chip = bench(part)
    given = {f"{x}{k}": 0.3 * k + 0.1 * "XYZ".index(x) for x in commons for k in range(count)}
    for k in range(count):
        for addresses in ([address] if address else "ABC"):
            chip.set(**given | {n: k >> bit & 1 for bit, n in enumerate(addresses)})
        for x in commons:
            assert chip.volts(x) == pytest.approx(given[f"{x}{k}"], abs=1e-3)
    chip.set(INH=1)
    assert {chip.state(x) for x in commons} == {"off"}


def test_each_address_of_the_4053_has_its_own_switch() -> None:
    for address, common, pins in (("A", "X", (12, 13, 14)), ("B", "Y", (2, 1, 15)), ("C", "Z", (5, 3, 4))):   # TI CD4053B, from memory
        chip = bench("4053")
        assert [chip.part.pin(n) for n in (f"{common}0", f"{common}1", common)] == list(pins)
        chip.set(**{f"{x}1": 1 for x in "XYZ"}, **{address: 1})
        assert {x: chip.state(x) for x in "XYZ"} == {x: "high" if x == common else "low" for x in "XYZ"}


def test_a_multiplexer_has_the_resistance_of_its_sheet() -> None:
    """Nexperia 74HC4051 at 4.5 V and 25 C: 80 ohm typical, 140 at most at ground (read); CD4051B at 5 V: 1050 at most (memory)."""
    for part, least, most in (("74HC4051", 40, 140), ("4051", 150, 1050)):
        chip = bench(part)
        assert least < -chip.output_volts("X", -1e-4) / 1e-4 < most


def test_a_dead_switch_never_closes_and_a_stuck_one_has_broken_through() -> None:
    dead = bench("4066", {"kind": "dead", "pin": "1Y"})
    dead.set(**{"1X": 1, "1C": 1})
    assert abs(dead.pin_current("1Y", 0.0)) < 1e-7
    stuck = bench("4066", {"kind": "stuck", "pin": "1Y", "level": "low"})
    assert stuck.output_volts("1Y", 1e-4) < 0.15
    stuck.set(**{"1X": 1, "1C": 1})
    assert stuck.volts("1Y") < 4.5                               # the two transistors divide the supply
