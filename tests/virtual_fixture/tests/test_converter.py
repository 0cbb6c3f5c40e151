"""The converter's errors, by their statistics.

Limits: ATmega2560 data sheet, ADC characteristics: absolute accuracy 2 LSB typical, integral
non-linearity 1 LSB; noise of 0.4 LSB is common practice, as in hardware/wiring.toml.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import statistics

import pytest

from virtual_fixture.bench import PlainChip

from .hands import PIN_OF, Hands


def settled(hands: Hands, reference: int) -> None:
    hands.read("K", reference)
    hands.bench.run(0.025)


def test_nominal_code_is_volts_by_reference_times_1024() -> None:
    hands = Hands(PlainChip().resistor(3, 0, 470))
    hands.high("S3")
    hands.sense(3)
    settled(hands, 1)
    mean = statistics.fmean(hands.read(n=400))
    assert mean + 0.5 == pytest.approx(hands.volts("K") / hands.volts("V5") * 1024, abs=0.08)


@pytest.mark.parametrize(("reference", "volts"), [(2, 1.1), (3, 2.56)])
def test_internal_references(reference: int, volts: float) -> None:
    hands = Hands(PlainChip().resistor(3, 0, 56))
    hands.high("S3")
    hands.sense(3)
    settled(hands, reference)
    mean = statistics.fmean(hands.read("K", reference, 400))
    assert mean + 0.5 == pytest.approx(hands.volts("K") / volts * 1024, abs=0.15)


def test_noise_has_the_stated_size_and_no_memory() -> None:
    hands = Hands(seed=4)
    settled(hands, 1)
    codes = hands.read("VREF", n=4000)
    # 0.4 LSB of noise and 1/sqrt(12) of rounding
    assert statistics.pstdev(codes) == pytest.approx((0.4 ** 2 + 1 / 12) ** 0.5, rel=0.08)
    mean = statistics.fmean(codes)
    lag = statistics.fmean((a - mean) * (b - mean) for a, b in zip(codes, codes[1:], strict=False))
    assert abs(lag) < 0.02


def test_noise_depends_on_the_index_of_the_conversion_only() -> None:
    first, second = Hands(seed=9), Hands(seed=9)
    second.bench.run(0.0123)
    for hands in (first, second):
        settled(hands, 1)
    assert first.read("VREF", n=200) == second.read("VREF", n=200)
    assert Hands(seed=10).read("VREF", n=50) != Hands(seed=9).read("VREF", n=50)


@pytest.mark.parametrize("seed", range(12))
def test_errors_stay_within_the_data_sheet(seed: int) -> None:
    """Against the true voltage over the rail: within 2 LSB absolute, 1 LSB from a straight line."""
    hands = Hands(seed=seed, nominal=False)
    errors, codes = [], []
    hands.sense(0, 4)
    settled(hands, 1)
    for n in range(1, 24):
        hands.bench.duty(n / 24)
        hands.bench.run(0.03)
        truth = hands.bench.pin_v(PIN_OF["VDAC"]) / hands.volts("V5") * 1024
        codes.append(truth)
        errors.append(statistics.fmean(hands.read("VDAC", n=100)) + 0.5 - truth)
    assert max(map(abs, errors)) < 2.0
    slope, offset = statistics.linear_regression(codes, errors)
    assert max(abs(e - slope * c - offset) for e, c in zip(errors, codes, strict=True)) < 1.0
    assert max(map(abs, errors)) > 0.1      # a specimen is never perfect


def test_reference_change_takes_its_time() -> None:
    hands = Hands()
    settled(hands, 1)
    want = hands.read("VREF", 1, 5)
    hands.read("VREF", 3)
    hands.bench.run(0.025)
    assert all(c > 990 for c in hands.read("VREF", 3, 5))
    early = hands.read("VREF", 1, 1)[0]      # AREF still near 2.56 V
    assert early > statistics.fmean(want) + 100
    hands.bench.run(0.020)
    assert statistics.fmean(hands.read("VREF", 1, 20)) == pytest.approx(statistics.fmean(want), abs=0.8)


def test_reference_spreads_within_the_data_sheet() -> None:
    values = {"v1v1": [], "v2v56": []}
    for seed in range(60):
        drawn = Hands(seed=seed, nominal=False).bench.drawn
        for name, found in values.items():
            found.append(drawn[f"adc.{name}_v"])
    assert 1.0 <= min(values["v1v1"]) < 1.04 and 1.16 < max(values["v1v1"]) <= 1.2
    assert 2.4 <= min(values["v2v56"]) < 2.48 and 2.72 < max(values["v2v56"]) <= 2.8


def test_clips_at_both_ends() -> None:
    hands = Hands()
    hands.sense(0, 7)
    settled(hands, 1)
    assert set(hands.read(n=50)) <= {0, 1}
    hands.sense(0, 6)
    settled(hands, 2)
    assert set(hands.read("K", 2, 50)) == {1023}


def test_a_high_impedance_source_reads_wrong_after_a_jump() -> None:
    """Sample capacitor and 100 kohm: the charge of the last channel is not gone after 12 us."""
    hands = Hands()
    hands.sense(0, 2)
    hands.high("LD")
    settled(hands, 1)
    hands.bench.run(0.001)
    steady = statistics.fmean(hands.read("K", 1, 50))
    disturbed = []
    for _ in range(50):
        hands.bench.convert(int(PIN_OF["ICC"][2]), 1)   # nearly 0 V on the capacitor
        disturbed.append(hands.read("K")[0])
        hands.bench.run(0.001)
    assert 5 < steady - statistics.fmean(disturbed) < 80


def test_a_node_that_still_moves_is_read_where_it_is() -> None:
    hands = Hands()
    hands.sense(0, 7)
    settled(hands, 1)
    hands.sense(0, 2)
    hands.high("LD")
    early = hands.bench.convert(0, 1)
    hands.bench.run(0.001)
    assert early < 100 < 1000 < hands.read("K", n=6)[-1]
