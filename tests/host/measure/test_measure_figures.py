"""The DC parameter set of a whole sweep on an ideal fixture: figures that follow from the chip's by hand.

SPDX-License-Identifier: MIT
"""

import sys
from math import sqrt
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
from ideal import IdealChip, IdealDevice  # noqa: E402

from sagbench.measure.figures import Figures, measured  # noqa: E402
from sagbench.measure.line import Line, Point  # noqa: E402
from sagbench.measure.methods import METHODS  # noqa: E402
from sagbench.measure.uncertain import exact, uncertain  # noqa: E402
from sagbench.parts import load_part  # noqa: E402
from sagbench.plan.fixture import load_fixture  # noqa: E402
from sagbench.sweep import gather  # noqa: E402

DIP14 = {p: p if p <= 7 else p + 10 for p in range(1, 15)}
GATES_00 = {3: (1, 2), 6: (4, 5), 8: (9, 10), 11: (12, 13)}
ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture(scope="module")
def figures():
    """A NAND gate of 0.1 V and 7.5 ohm low, 3.6 V and 120 ohm high, inputs of 4.2 V behind 4 kohm, threshold 1.4 V."""
    chip = IdealChip(
        DIP14,
        14,
        7,
        lambda levels: {y: "L" if levels[a] and levels[b] else "H" for y, (a, b) in GATES_00.items()},
        lambda levels: 0.001 + 0.003 * sum(levels[a] and levels[b] for a, b in GATES_00.values()),
        emitters=dict.fromkeys((1, 2, 4, 5, 9, 10, 12, 13), 4000.0),
    )
    device = IdealDevice(chip)
    device.info.wiring_id = load_fixture("bench24").wiring_id
    evidence = gather(device, load_part("7400"))
    assert not evidence.problem and not device.powered
    return {(m.name, m.pin, m.state.split(",")[0] if m.name in ("ICC", "VOL") else ""): m for m in evidence.measured}


@pytest.mark.parametrize(
    ("name", "pin", "state", "expected", "within"),
    [
        # The ideal amplifier passes all of the current on, a real one 0.996 of it; its zero does not sag, 0.3 %.
        # Without noise the ideal converter rounds by up to half a code, 0.07 mA, in reading and zero.
        ("ICC", 0, "outputs low", 13.0e-3 * 1.004 * 1.003, 0.1e-3),
        ("ICC", 0, "worst: outputs low", 13.0e-3 * 1.004 * 1.003, 0.1e-3),
        # Eight low inputs at 0.977 mA * 300 ohm = 0.293 V would deliver 4.23 / 3.94 of that at 0 V: 0.073 mA more each.
        ("ICC", 0, "outputs high", 1.0e-3 + 8 * 0.073e-3, 0.1e-3),
        ("VOL", 3, "rated at 16 mA", 0.1 + 0.016 * 7.5, 0.002),
        ("VOH", 3, "", 3.6 - 0.42e-3 * 120, 0.006),
        ("ROL", 3, "", 7.5, 0.2),
        ("ROH", 3, "", 120.0, 6.0),
        ("IOS", 3, "", -3.6 / 120, 1.5e-3),
        ("IIL", 4, "", -0.95e-3, 0.005e-3),
        ("IIH", 4, "", 0.0, 0.5e-6),
        ("VT+", 4, "", 1.4, 0.03),
        ("NML", 0, "", 1.4 - 0.22, 0.03),
        ("NMH", 0, "", 3.55 - 1.4, 0.03),
    ],
)
def test_a_figure_follows_from_the_chip(figures, name, pin, state, expected, within):
    found = figures[name, pin, state]
    assert found.value.value == pytest.approx(expected, abs=within)


def test_every_figure_has_a_method_a_budget_that_adds_up_and_says_how_it_came_about(figures):
    for found in figures.values():
        assert found.method == METHODS[found.name] and found.how
        assert sum(c.u**2 for c in found.value.budget) == pytest.approx((found.value.u / 2) ** 2, rel=1e-6, abs=1e-18)


def test_the_short_circuit_current_is_said_to_be_extrapolated(figures):
    assert figures["IOS", 3, ""].how == "extrapolated"


def test_methods_stand_on_their_page():
    """METHODS.md has a row for each figure."""
    page = (ROOT / "host/sagbench/measure/METHODS.md").read_text()
    for name, text in METHODS.items():
        assert f"| {name} |" in page, name
        number = text.split(";")[0].removeprefix("MIL-STD-883 ")
        assert number == "common practice" or f"| {name} | {number} |" in page, name


def test_the_resistance_of_a_channel_is_that_at_the_supply_without_its_load():
    """A channel of 4 V overdrive and 60 ohm at 5 V, fed through 2 ohm: k = 1 / (60 ohm 4 V), I = k (W U - U^2 / 2), W = Vcc - 1 V.

    At a steady 5 V the chord from 0.6 to 7.5 mA has (0.4786 - 0.0362) V / 6.9 mA = 64.1 ohm; with the supply going down it has 2 ohm more, and 0.24 besides.
    """

    def high(amperes, vcc):
        overdrive = vcc - 1.0
        return vcc - (overdrive - sqrt(overdrive**2 - 2 * amperes * 240.0))

    def roh(path):
        points = tuple(
            Point(name, uncertain(high(i, 5.0 - path * i), 1e-4, name), exact(i))
            for name, i in (("weak", 0.6e-3), ("medium", 7.5e-3))
        )
        line = Line(3, False, points, exact(5.0), exact(5.0), channel=True)
        found = measured(load_part("74HC00"), Figures(lines=[line], path=exact(path)))
        return next(m.value for m in found if m.name == "ROH")

    steady, sagging = roh(0.0), roh(2.0)
    assert steady.value == pytest.approx(64.1, abs=0.1)
    assert sagging.value == pytest.approx(steady.value, abs=0.05)
    assert any(part.name == "channel's drive" for part in sagging.budget)


def test_a_high_level_that_noise_lets_rise_with_its_load_is_a_figure_and_no_exception():
    points = tuple(Point(n, uncertain(v, 1e-3, n), exact(i)) for n, v, i in (("a", 4.2, 1e-3), ("b", 4.204, 2e-3)))
    line = Line(3, False, points, exact(5.0), exact(5.0), channel=True)
    found = measured(load_part("74HC00"), Figures(lines=[line], path=exact(2.0)))
    ohms = next(m.value for m in found if m.name == "ROH")
    assert ohms.value == pytest.approx(-6, abs=0.1) and ohms.u > 0


@pytest.mark.parametrize("heaviest", [7.2e-3, 7.8e-3])
def test_a_level_led_on_past_the_knee_is_no_figure(heaviest):
    """A 74LS00 that gives way just below its 8 mA: led on, by a tenth or by a fortieth, its line comes to volts that no output has, with a doubt as large."""
    points = tuple(
        Point(n, uncertain(v, 0.01, n), uncertain(i, i / 200, n + "'s"))
        for n, v, i in (("weak", 0.29, 4e-4), ("medium", 0.43, 4e-3), ("reference", 0.51, heaviest - 1e-4), ("strong", 2.6, heaviest))
    )
    found = measured(load_part("74LS00"), Figures(lines=[Line(8, True, points, exact(0.25), exact(4.9))]))
    levels = [(m.at.value, m.value.value) for m in found if m.name == "VOL"]
    assert levels == [(0.004, pytest.approx(0.43, abs=0.01))]
