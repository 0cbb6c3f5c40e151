"""Propagation of uncertainty against outside referees: a general-purpose GUM package, and worked examples of the GUM.

SPDX-License-Identifier: MIT
"""

from math import cos, sin, sqrt

import GTC
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.measure.uncertain import exact, standard, uncertain, value

SIZES = st.floats(0.5, 50.0)
PORTIONS = st.floats(0.0, 0.1)
STEPS = st.lists(st.tuples(st.sampled_from("+-*/"), st.integers(0, 5), st.booleans()), min_size=1, max_size=8)


def combine(numbers, steps):
    """The same chain of operations on any kind of number; a step takes one of the inputs, before or behind."""
    result = numbers[0]
    for sign, which, first in steps:
        a, b = (numbers[which], result) if first else (result, numbers[which])
        if sign == "/" and abs(float(b.value if hasattr(b, "value") else b.x)) < 1e-3:
            continue
        result = {"+": lambda a, b: a + b, "-": lambda a, b: a - b, "*": lambda a, b: a * b, "/": lambda a, b: a / b}[
            sign
        ](a, b)
    return result


@given(st.lists(st.tuples(SIZES, PORTIONS), min_size=6, max_size=6), STEPS)
def test_any_chain_of_operations_agrees_with_the_referee(inputs, steps):
    """GTC (Measurement Standards Laboratory of New Zealand) carries correlation through expressions likewise."""
    ours = combine([uncertain(v, v * r) for v, r in inputs], steps)
    theirs = combine([GTC.ureal(v, v * r) for v, r in inputs], steps)
    assert value(ours) == pytest.approx(GTC.value(theirs), rel=1e-9)
    assert standard(ours) == pytest.approx(GTC.uncertainty(theirs), rel=1e-6, abs=1e-12)


def test_plain_numbers_may_stand_on_either_side():
    x = uncertain(4.0, 0.1)
    for ours, expected, u in (
        (x + 1, 5, 0.1),
        (1 + x, 5, 0.1),
        (x - 1, 3, 0.1),
        (1 - x, -3, 0.1),
        (2 * x, 8, 0.2),
        (x / 2, 2, 0.05),
    ):
        assert value(ours) == pytest.approx(expected) and standard(ours) == pytest.approx(u)
    assert value(8 / x) == pytest.approx(2) and standard(8 / x) == pytest.approx(8 / 16 * 0.1)
    assert standard(exact(3.0)) == standard(3.0) == 0.0 and value(3) == 3.0


def test_a_number_less_itself_is_nothing_surely():
    x = uncertain(4.0, 0.1)
    assert value(x - x) == 0 and standard(x - x) == 0 and standard(x / x) == 0
    assert standard(x - uncertain(4.0, 0.1)) == pytest.approx(0.1 * sqrt(2))


def test_the_end_gauge_of_the_guide_in_its_essentials():
    """GUM H.1 (from memory): the length of an end gauge by comparison.

    l = l_s + d, u(l_s) = 25 nm; u(d) is of 5.8, 3.9 and 6.7 nm; temperature terms of 2.9 and 16.6 nm; u_c = 32 nm.
    """
    standard_gauge, mean, random_1, random_2 = (
        uncertain(50.000623e-3, 25e-9),
        uncertain(215e-9, 5.8e-9),
        uncertain(0, 3.9e-9),
        uncertain(0, 6.7e-9),
    )
    expansion, difference = uncertain(0, 2.9e-9), uncertain(0, 16.6e-9)
    length = standard_gauge + mean + random_1 + random_2 - expansion - difference
    assert value(length) == pytest.approx(50.000838e-3, abs=0.5e-9)
    assert standard(length) == pytest.approx(32e-9, abs=0.5e-9)


def test_resistance_and_reactance_of_the_guide_with_correlated_readings():
    """GUM H.2 (data and results from memory, confirmed by computation): five simultaneous readings of V, I, phase.

    R = V cos(phi) / I, X = V sin(phi) / I, Z = V / I: 127.732 (0.071), 219.847 (0.295), 254.260 (0.236) ohm.
    The correlation of the means is made of independent components by Cholesky's decomposition.
    """
    volts, milliamps = (5.007, 4.994, 5.005, 4.990, 4.999), (19.663, 19.639, 19.640, 19.685, 19.678)
    phases = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)
    rows = (volts, [i / 1000 for i in milliamps], phases)
    means = [sum(row) / 5 for row in rows]
    cov = [
        [sum((a - ma) * (b - mb) for a, b in zip(x, y, strict=True)) / 20 for y, mb in zip(rows, means, strict=True)]
        for x, ma in zip(rows, means, strict=True)
    ]
    l11 = sqrt(cov[0][0])
    l21, l31 = cov[1][0] / l11, cov[2][0] / l11
    l22 = sqrt(cov[1][1] - l21**2)
    l32 = (cov[2][1] - l31 * l21) / l22
    l33 = sqrt(cov[2][2] - l31**2 - l32**2)
    e = [uncertain(0.0, 1.0) for _ in range(3)]
    v, i = means[0] + l11 * e[0], means[1] + l21 * e[0] + l22 * e[1]
    turn = l31 * e[0] + l32 * e[1] + l33 * e[2]  # the phase, about its mean
    cosine, sine = cos(means[2]) - sin(means[2]) * turn, sin(means[2]) + cos(means[2]) * turn
    for ours, expected, u in (
        (v * cosine / i, 127.732, 0.071),
        (v * sine / i, 219.847, 0.295),
        (v / i, 254.260, 0.236),
    ):
        assert value(ours) == pytest.approx(expected, abs=0.001) and standard(ours) == pytest.approx(u, abs=0.001)
