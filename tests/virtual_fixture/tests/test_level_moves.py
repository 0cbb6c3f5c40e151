"""A moving level drive: node and chip follow it, however often they are looked at.

SPDX-License-Identifier: GPL-3.0-or-later
"""
import math

import pytest

from virtual_fixture.bench import PlainChip

from .hands import PIN_OF, Hands

POSITION, OUT = 2, 3


def ramping(look_s: float, chip: PlainChip | None = None) -> tuple[Hands, list[tuple[float, float, bool]]]:
    """The level drive rises on a position; time, volts at the position, level at the watched output."""
    hands = Hands(chip)
    hands.power("P24", "N7")
    hands.pump(0.02)
    hands.sense(POSITION, 4)
    start, seen = hands.bench.now_s, []
    hands.bench.duty(0.6)
    port = PIN_OF[f"M{OUT}"]
    while hands.bench.now_s - start < 7e-3:
        hands.bench.run(look_s)
        high = bool(hands.bench.pins(port[1]) >> int(port[2]) & 1)
        seen.append((hands.bench.now_s - start, hands.volts(POSITION), high))
    return hands, seen


def two_stages(t: float) -> float:
    """Step response of two equal RC stages in a row, the second loading the first (any textbook on filters):
    poles at (3 -+ sqrt 5) / 2 of 1 / RC."""
    rc = 10e3 * 100e-9
    slow, fast = (3 - math.sqrt(5)) / 2 / rc, (3 + math.sqrt(5)) / 2 / rc
    return 1 - (fast * math.exp(-slow * t) - slow * math.exp(-fast * t)) / (fast - slow)


@pytest.mark.parametrize("look_s", [4e-6, 50e-6, 700e-6])
def test_the_position_follows_the_filter(look_s: float) -> None:
    """Through 680 ohm and two channels into 10 kohm: a divider of what the filter gives; the buffer gives no
    less than 10 mV."""
    hands, seen = ramping(look_s, PlainChip().resistor(POSITION, 0, 1e4))
    top = hands.volts("V5") * 0.6
    divider = 1e4 / (1e4 + 680 + 2 * 70 * 1.1)
    for t, volts, _ in seen[::max(1, len(seen) // 40)]:
        assert volts == pytest.approx(two_stages(t) * top * divider, rel=0.01, abs=0.011)


def test_a_chip_switches_at_the_same_level_however_often_it_is_looked_at() -> None:
    """An inverter that switches at half its supply. In 4 us the level moves at most 3 mV here."""
    moments = []
    for look_s in (1e-6, 4e-6, 20e-6):
        hands, seen = ramping(look_s, PlainChip().inverter(POSITION, OUT, 24, 7, 100))
        half = (hands.volts(24) + hands.volts(7)) / 2
        first = next(n for n, (_, _, high) in enumerate(seen) if not high)
        # at the look at which it switches, its output is still where it was
        assert seen[first - 2][1] <= half + 2e-4 and seen[first][1] >= half - 2e-4
        moments.append(seen[first][0])
    assert max(moments) - min(moments) < 55e-6      # the network looks by itself every 50 us


def test_far_fewer_solutions_than_looks() -> None:
    hands, seen = ramping(4e-6, PlainChip().inverter(POSITION, OUT, 24, 7, 100))
    before = hands.bench.figures.solves
    assert len(seen) > 1500 and before < 700


def test_a_converter_sample_is_exact_while_the_level_moves() -> None:
    """The same moment, looked at a thousand times before or not at all: the same code."""
    codes = []
    for look_s in (4e-6, 7e-3):
        hands, _ = ramping(look_s, PlainChip().resistor(POSITION, 0, 1e4))
        hands.bench.run(7.1e-3 + 0.02 + 0.1 - hands.bench.now_s)
        codes.append([hands.bench.convert(channel) for channel in (0, 2)])
    assert codes[0] == codes[1]
