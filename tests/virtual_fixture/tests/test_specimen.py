"""Drawn fixtures stay within the wiring file's spans, differ by seed, and miss no part.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import copy
import math
import statistics
from functools import cache

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


@cache
def drawn(seed: int, spread: str | None = None) -> dict[str, float]:
    return build(seed, spread=spread)[1]


SPANS = {f"R{k}.ohm": (267.3, 272.7) for k in range(101, 125)} | {
    "U1.ron_ohm": (50, 160), "Q124.beta": (150, 600), "U8A.offset_v": (-4.5e-3, 4.5e-3), "adc.v2v56_v": (2.4, 2.8),
    "PA0.driver_high_ohm": (20, 40), "PA0.driver_low_ohm": (20, 40), "adc.offset_lsb": (-0.25, 0.25)}


def standardized(spread: str | None) -> list[float]:
    """Distance of drawn values from the middle of their span, in half spans: 300 fixtures, 31 values each."""
    return [(drawn(seed, spread)[name] - (low + high) / 2) / ((high - low) / 2) for seed in range(300)
            for name, (low, high) in SPANS.items()]


def test_values_are_normal_about_the_middle_and_cut_at_the_ends() -> None:
    """The normal distribution cut at +-2 sigma has the variance 1 - 2 * 2 phi(2) / (Phi(2) - Phi(-2)) = 0.774 (0.8796 squared),
    and 0.6827 / 0.9545 = 71.5 % of it lie within 1 sigma; from the table of phi and Phi, as any textbook prints it."""
    assert (FIXTURE["specimen"]["shape"], FIXTURE["specimen"]["span_sigmas"]) == ("normal", 2.0)
    values = standardized(None)
    assert max(map(abs, values)) <= 1
    assert statistics.fmean(values) == pytest.approx(0, abs=0.02)
    assert statistics.pstdev(values) == pytest.approx(0.8796 / 2, rel=0.02)
    assert sum(abs(v) < 0.5 for v in values) / len(values) == pytest.approx(0.715, abs=0.015)


def test_even_spread_on_demand() -> None:
    values = standardized("even")
    assert max(map(abs, values)) <= 1
    assert statistics.pstdev(values) == pytest.approx(1 / math.sqrt(3), rel=0.02)      # of an even distribution
    assert sum(abs(v) < 0.5 for v in values) / len(values) == pytest.approx(0.5, abs=0.02)


def test_leakage_is_half_a_normal_distribution_with_its_maximum_at_four_sigmas() -> None:
    assert FIXTURE["specimen"]["leak_sigmas"] == 4.0
    most = FIXTURE["kind"]["hc4051"]["leak_off_ua"]["max"] * 1e-6
    values = [drawn(seed)[f"Z{k}.mux_leak_up_a"] / most for seed in range(300) for k in range(1, 25)]
    assert 0 <= min(values) and max(values) <= 1
    assert statistics.fmean(values) == pytest.approx(math.sqrt(2 / math.pi) / 4, rel=0.05)     # mean of a half-normal


def test_converter_errors_are_within_what_the_wiring_says() -> None:
    peaks = []
    for seed in range(200):
        specimen = build(seed)[0]
        bend = [sum(a * (math.sin(2 * math.pi * (n + 1) * x / 500 + p) - math.sin(p))
                    for n, (a, p) in enumerate(zip(specimen.adc_inl_lsb, specimen.adc_inl_phase, strict=True)))
                for x in range(500)]
        peaks.append(max(map(abs, bend)))
        assert specimen.adc_noise_lsb == FIXTURE["adc"]["noise_lsb"]
        assert abs(specimen.adc_offset_lsb) + abs(specimen.adc_gain - 1) * 1024 <= 0.5      # 2 - 1 - 1/2
    assert max(peaks) < FIXTURE["adc"]["inl_lsb"] * 1.01 and statistics.fmean(peaks) > 0.4


def test_values_of_different_parts_are_independent() -> None:
    a, b = ([drawn(seed)[f"R{k}.ohm"] for seed in range(300)] for k in (101, 102))
    assert abs(statistics.correlation(a, b)) < 0.2


@pytest.mark.parametrize(("field", "value"), [("shape", "round"), ("span_sigmas", 0), ("leak_sigmas", -1)])
def test_a_spread_that_is_none_is_said(field: str, value: object) -> None:
    fixture = copy.deepcopy(FIXTURE)
    fixture["specimen"][field] = value
    with pytest.raises(WiringError, match="draws normal or even"):
        build(1, fixture=fixture)


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
