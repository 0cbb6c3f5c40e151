"""The limit table: resolved as the sheets have it, and every part of it kept by sound chips.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import pytest

from virtual_fixture.chips import databook
from virtual_fixture.chips.behaviour import PARTS
from virtual_fixture.chips.population import name_of
from virtual_fixture.chips.verdict import examine


def table(family: str) -> dict[str, list[float]]:
    return dict(databook.tables()["family"][family])


# Published fan-outs: 74 -> 74 10, 74 -> LS 20, LS -> LS 20, LS -> 74 5, S -> S 10, H -> H 10
# (TI and Motorola family pages, memory of them).
@pytest.mark.parametrize(("driver", "driven", "fan_out"), [
    ("TTL", "TTL", 10), ("TTL", "LS", 20), ("LS", "LS", 20), ("LS", "TTL", 5), ("S", "S", 10), ("H", "H", 10)])
def test_fan_out(driver: str, driven: str, fan_out: int) -> None:
    out, into = table(driver), table(driven)
    sink = out["vol"][-1][0] / into["iil"][1]                       # type: ignore[index]
    source = out["voh"][-1][0] * 1e3 / into["iih"][1]               # type: ignore[index]
    assert int(min(sink, source) + 1e-9) == fan_out


# Sheets read: Fairchild DM74LS74A, DM74LS112A, Motorola F109; mA of IIL.
@pytest.mark.parametrize(("number", "family", "pin", "milliamperes"), [
    ("74", "LS", "1CLR/", 0.8), ("74", "LS", "1D", 0.4), ("112", "LS", "2PRE/", 0.8), ("112", "LS", "1J", 0.4),
    ("109", "F", "1CLR/", 1.8), ("06", "LS", "1A", 0.2), ("181", "TTL", "CN", 8.0), ("25", "TTL", "1G", 6.4)])
def test_unit_loads(number: str, family: str, pin: str, milliamperes: float) -> None:
    iil = databook.limits(number, family).inputs[pin].iil
    assert iil is not None and iil[1] == pytest.approx(milliamperes * 1e-3)


def test_output_classes() -> None:
    """LS06: SL74LS06; F245: MC74F245; 4049: CD4049UBC (sheets read)."""
    assert databook.limits("06", "LS").outputs["1Y"].vol[-1] == pytest.approx((40e-3, 0.7))
    transceiver = databook.limits("245", "F").outputs
    assert transceiver["A1"].vol[-1][0] == pytest.approx(24e-3)
    assert transceiver["B1"].vol[-1] == pytest.approx((64e-3, 0.55))
    assert databook.limits("4049", "4000").outputs["1Y"].vol[-1] == pytest.approx((4e-3, 0.4))


def test_schmitt_limits_go_with_the_supply() -> None:
    """Rows of NXP's 74HC132 sheet, 30 August 2012 (read): VT+ at most 3.15 V at 4.5 V, 4.2 V at 6 V; between them a line."""
    inputs = databook.limits("132", "HC").inputs["1A"]
    assert [inputs.span("up", v)[1] for v in (2, 4.5, 6)] == pytest.approx([1.5, 3.15, 4.2])
    assert inputs.span("up", 4.9)[1] == pytest.approx(3.15 + 0.4 * 0.7)
    assert inputs.span("down", 2) == pytest.approx((0.3, 1.0))
    assert databook.limits("14", "HCT").inputs["1A"].span("up", 5.5) == pytest.approx((1.4, 2.1))
    assert databook.limits("14", "LS").inputs["1A"].span("up", 4.8) == databook.limits("14", "LS").inputs["1A"].span("up", 5)


@pytest.mark.parametrize(("volts", "broken"), [(0.65, False), (0.9, True)])
def test_a_threshold_is_held_against_the_limit_at_its_supply(volts: float, broken: bool) -> None:
    """At 4.9 V of supply VT+ may be 3.43 V, not only the 3.15 V of 4.5 V."""
    found = examine({"part": "74HC132", "spread": 0, "fault": [{"kind": "threshold", "pin": "1A", "volts": volts}]}, 1, vcc=4.9)
    up = found.figures["1A", "VT+"]
    assert up.value > 3.2
    assert (("1A", "VT+") in found.beyond) is broken and (up.value > 3.43) is broken


def test_names_in_the_table_fit_the_parts() -> None:
    """Every pattern of pins names at least one pin of its part: no limit hangs in the air."""
    from fnmatch import fnmatchcase
    for number, entry in databook.tables()["part"].items():
        inputs = PARTS[number].input_names()
        for table_of in entry.get("load", {}).values():
            for word in table_of.split():
                assert any(fnmatchcase(n, word.partition("=")[0]) for n in inputs), (number, word)
        if "schmitt" in entry:
            assert all(any(fnmatchcase(n, p) for n in inputs) for p in entry["schmitt"]["pins"].split())


MEMBERS = [(n, f) for n in sorted(PARTS) for f in databook.families_of(n)]


@pytest.mark.parametrize("share", range(6))
def test_sound_chips_of_every_part_keep_their_book(share: int) -> None:
    """All parts in all their families, each with another specimen: no limit broken, logic right."""
    for k, (number, family) in enumerate(MEMBERS):
        if k % 6 == share:
            found = examine({"part": name_of(number, family)}, 100 + k)
            assert found.sound, (found.part, [str(v) for v in found.violations[:3]])


def test_all_parts_have_limits_somewhere() -> None:
    assert {n for n, _ in MEMBERS} == {key for key in PARTS if not PARTS[key].families}
