"""The GUM's evaluation of the measurement model against a Monte Carlo evaluation of the same expressions (JCGM 101).

Readings are fixed; what varies is everything the model assumes: 20,000 draws of each component.

SPDX-License-Identifier: MIT
"""

import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))
from draws import Maker  # noqa: E402

from sagbench.measure.model import Model  # noqa: E402
from sagbench.measure.uncertain import standard, value  # noqa: E402
from sagbench.plan.fixture import load_fixture  # noqa: E402
from sagbench.plan.recipe import Mark, Reading  # noqa: E402
from sagbench.wire.numbers import Reference  # noqa: E402

FINE = Reference.V1V1


def at(code, repeats=4, **mark):
    """A reading with this mean code."""
    return Reading(Mark("position", mark.pop("position", 6), repeats, **mark), round(code * repeats))


def prepared(model):
    """References and channels as a sweep learns them: AVcc 5.04 V, 1.1 V reference 1.09 V, channel 81 ohm."""
    model.learn_rail(at(508, 64))
    model.learn_2v56(at(998, 64, reference=Reference.V2V56))
    model.learn_1v1(at(190, 64), at(878, 64, reference=FINE))
    model.learn_channels([at(359, 8, reference=FINE, selector=1, up=True)], at(570, 8, reference=FINE, selector=7))
    return model


def low_at_16_ma(m):
    loaded, ground = at(206, reference=FINE, lines=2, up=True), at(12, reference=FINE)
    return m.pin_volts(loaded) - m.pin_volts(ground)


def resistance(m):
    """Between M and S, as measure/line.py has it."""
    medium, strong = (at(128, reference=FINE, lines=1, up=True), at(206, reference=FINE, lines=2, up=True))
    (v1, i1), (v2, i2) = m.point(medium), m.point(strong)
    return (v2 - v1) / (i2 - i1)


FIGURES = {
    "rail": lambda m: m.rail,
    "1.1 V reference": lambda m: m.references[FINE],
    "channel": lambda m: m.ron(6),
    "VOL": low_at_16_ma,
    "IOL, S": lambda m: m.load_amperes(at(206, reference=FINE, lines=2, up=True)),
    "IOL, both": lambda m: m.load_amperes(at(270, reference=FINE, lines=3, up=True)),
    "VOH, weak": lambda m: m.pin_volts(at(722, selector=1)) - m.pin_volts(at(3)),
    "IOH, weak": lambda m: m.load_amperes(at(722, selector=1)),
    "IIL, M": lambda m: m.load_amperes(at(110, 8, reference=FINE, lines=1)),
    "IIH": lambda m: m.load_amperes(at(1018, 8, selector=1, up=True)) + m.leakage(6),
    "ICC": lambda m: m.icc((at(254, 64, reference=Reference.V2V56),), (at(128, 64, reference=Reference.V2V56),)),
    "resistance": resistance,
}


@pytest.fixture(scope="module")
def both():
    fixture = load_fixture("bench24")
    return prepared(Model(fixture)), prepared(Model(fixture, make=Maker()))


@pytest.mark.parametrize("name", FIGURES)
def test_the_guide_and_draws_agree(both, name):
    """Standard uncertainties within 3 % (draws alone: 0.5 %), estimates within a tenth of it, k = 2 covers 95 %."""
    guide, drawn = FIGURES[name](both[0]), FIGURES[name](both[1])
    u = standard(guide)
    assert drawn.std_dev == pytest.approx(u, rel=0.03)
    assert abs(drawn.nominal_value - value(guide)) < 0.1 * u
    covered = np.mean(np.abs(drawn.values - value(guide)) <= 2 * u)
    assert 0.945 <= covered <= 0.975
