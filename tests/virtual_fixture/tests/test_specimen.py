"""Drawn fixtures stay within the wiring file's spans, differ by seed, and miss no part.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import copy

import pytest

from hardware.wiring import WiringError, load
from virtual_fixture.specimen import build

FIXTURE = load()


def test_same_seed_same_fixture() -> None:
    a, b, c = build(3), build(3), build(4)
    assert bytes(a[0]) == bytes(b[0]) and a[1] == b[1]
    assert bytes(a[0]) != bytes(c[0])


@pytest.mark.parametrize("seed", range(20))
def test_every_resistor_and_capacitor_is_within_its_tolerance(seed: int) -> None:
    drawn = build(seed)[1]
    for part in FIXTURE["part"]:
        unit, scale = ("ohm", 1.0) if part["kind"] == "resistor" else ("nf", 1e-9)
        value = drawn.get(f"{part['ref']}.{unit}")
        if value is not None:
            assert abs(value / (part[unit] * scale) - 1) <= part["tolerance"]


def test_spread_fills_its_span() -> None:
    values = [build(seed)[1]["R101.ohm"] for seed in range(300)]
    assert min(values) < 267.5 and max(values) > 272.5
    assert sum(values) / len(values) == pytest.approx(270, abs=0.3)


def test_the_rail_at_rest_is_a_legal_supply() -> None:
    for seed in range(50):
        specimen, drawn = build(seed)
        rest = specimen.usb_v - specimen.usb_ohm * (specimen.board_a + 0.007)
        assert FIXTURE["supply"]["min_v"] <= rest <= FIXTURE["supply"]["max_v"]
        assert drawn["usb.v"] == specimen.usb_v


def test_multiplexer_channels_match_within_a_package() -> None:
    specimen, _ = build(11)
    for package in specimen.sense_ron_ohm:
        assert max(package) / min(package) < 1.12


def without(**wanted: str) -> object:
    fixture = copy.deepcopy(FIXTURE)
    fixture["part"] = [p for p in fixture["part"] if any(p.get(k) != v for k, v in wanted.items())]
    return fixture


def test_a_part_missing_from_the_wiring_is_said() -> None:
    with pytest.raises(WiringError, match="no resistor joins S7 and Z7"):
        build(1, fixture=without(ref="R107"))


def test_a_part_the_network_does_not_know_is_said() -> None:
    fixture = copy.deepcopy(FIXTURE)
    fixture["part"].append({"ref": "R999", "kind": "resistor", "ohm": 1, "tolerance": 0.1,
                            "pins": {"1": "Z1", "2": "Z2"}})
    with pytest.raises(WiringError, match="R999"):
        build(1, fixture=fixture)


def test_lines_are_found_by_net_not_by_name() -> None:
    """Swap two wires in the wiring file: the virtual fixture is swapped as well."""
    fixture = copy.deepcopy(FIXTURE)
    wires = fixture["controller"]["wires"]
    wires["D22"]["net"], wires["D23"]["net"] = wires["D23"]["net"], wires["D22"]["net"]
    plain, swapped = build(1)[0], build(1, fixture=fixture)[0]
    assert (plain.strong_pin[24], plain.medium_pin[24]) == (swapped.medium_pin[24], swapped.strong_pin[24])
