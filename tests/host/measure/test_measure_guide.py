"""Worked examples of the GUM (JCGM 100:2008) and of its supplement on Monte Carlo (JCGM 101:2008).

The documents' text was not at hand: data and results are from memory, and confirmed by computing them.

SPDX-License-Identifier: MIT
"""

from collections.abc import Sequence
from math import cos, sin, sqrt

import numpy as np
import pytest

from sagbench.measure.uncertain import standard, uncertain, value


def correlation(a, b) -> float:
    """Of two numbers, by the uncertainty of their sum."""
    return (standard(a + b) ** 2 - standard(a) ** 2 - standard(b) ** 2) / (2 * standard(a) * standard(b))


def correlated(means: Sequence[float], covariance: np.ndarray) -> list:
    """Numbers with this covariance, made of independent components (Cholesky's decomposition)."""
    components = [uncertain(0.0, 1.0) for _ in means]
    return [
        m + sum(float(x) * c for x, c in zip(row, components, strict=True))
        for m, row in zip(means, np.linalg.cholesky(covariance), strict=True)
    ]


def test_the_end_gauge_of_the_guide_in_its_essentials():
    """GUM H.1: the length of an end gauge by comparison.

    l = l_s + d, u(l_s) = 25 nm; u(d) is of 5.8, 3.9 and 6.7 nm; temperature terms of 2.9 and 16.6 nm; u_c = 32 nm.
    """
    gauge, mean = uncertain(50.000623e-3, 25e-9), uncertain(215e-9, 5.8e-9)
    random_1, random_2 = uncertain(0, 3.9e-9), uncertain(0, 6.7e-9)
    expansion, difference = uncertain(0, 2.9e-9), uncertain(0, 16.6e-9)
    length = gauge + mean + random_1 + random_2 - expansion - difference
    assert value(length) == pytest.approx(50.000838e-3, abs=0.5e-9)
    assert standard(length) == pytest.approx(32e-9, abs=0.5e-9)


def test_resistance_and_reactance_of_the_guide_with_correlated_readings():
    """GUM H.2: five simultaneous readings of V, I and phase.

    R = V cos(phi) / I, X = V sin(phi) / I, Z = V / I: 127.732 (0.071), 219.847 (0.295), 254.260 (0.236) ohm;
    r(R, X) = -0.588, r(R, Z) = -0.485, r(X, Z) = 0.993.
    """
    volts = [5.007, 4.994, 5.005, 4.990, 4.999]
    amperes = [i / 1000 for i in (19.663, 19.639, 19.640, 19.685, 19.678)]
    phases = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433]
    rows = np.array([volts, amperes, phases])
    means = rows.mean(axis=1)
    v, i, phi = correlated([float(m) for m in means], np.cov(rows) / 5)
    turn = phi - float(means[2])
    cosine = cos(means[2]) - sin(means[2]) * turn
    sine = sin(means[2]) + cos(means[2]) * turn
    r, x, z = v * cosine / i, v * sine / i, v / i
    for ours, expected, u in ((r, 127.732, 0.071), (x, 219.847, 0.295), (z, 254.260, 0.236)):
        assert value(ours) == pytest.approx(expected, abs=0.001) and standard(ours) == pytest.approx(u, abs=0.001)
    assert correlation(r, x) == pytest.approx(-0.588, abs=0.005)
    assert correlation(r, z) == pytest.approx(-0.485, abs=0.005)
    assert correlation(x, z) == pytest.approx(0.993, abs=0.001)


def test_the_thermometer_of_the_guide_whose_intercept_and_slope_hang_together():
    """GUM H.3: a line through eleven corrections b(t) = y1 + y2 (t - 20 C) of a thermometer, by least squares.

    y1 = -0.1712 (0.0029) C, y2 = 0.00218 (0.00067), r = -0.930, s = 0.0035 C; at 30 C b = -0.1494 (0.0041) C.
    """
    t = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]) - 20
    b = -np.array([0.171, 0.169, 0.166, 0.159, 0.164, 0.165, 0.156, 0.157, 0.159, 0.161, 0.160])
    design = np.stack([np.ones(11), t], axis=1)
    inverse = np.linalg.inv(design.T @ design)
    fit = inverse @ design.T @ b
    s = sqrt(float(np.sum((b - design @ fit) ** 2)) / 9)
    assert s == pytest.approx(0.0035, abs=0.00005)
    y1, y2 = correlated([float(f) for f in fit], inverse * s**2)
    assert value(y1) == pytest.approx(-0.1712, abs=5e-5) and standard(y1) == pytest.approx(0.0029, abs=5e-5)
    assert value(y2) == pytest.approx(0.00218, abs=5e-6) and standard(y2) == pytest.approx(0.00067, abs=5e-6)
    assert correlation(y1, y2) == pytest.approx(-0.930, abs=0.0005)
    at_30 = y1 + y2 * 10
    assert value(at_30) == pytest.approx(-0.1494, abs=5e-5) and standard(at_30) == pytest.approx(0.0041, abs=5e-5)


def test_the_additive_model_of_the_supplement():
    """JCGM 101, 9.2: four components of unit standard uncertainty make 2.0, whatever their shape.

    k = 2 then covers 95 %: 95 % intervals of +- 3.92 (normal, 9.2.2) and +- 3.88 (rectangular, 9.2.3).  Where one
    rectangular component of ten outweighs the rest (9.2.4), u = 10.1 and +- 17.0 would do: k = 2 claims more.
    """
    total = uncertain(0, 1.0) + uncertain(0, 1.0) + uncertain(0, 1.0) + uncertain(0, 1.0)
    assert standard(total) == pytest.approx(2.0)
    draw, wide = (np.random.default_rng(1).uniform(-sqrt(3), sqrt(3), (4, 200_000)), np.array([1, 1, 1, 10]))
    assert np.quantile(draw.sum(axis=0), 0.975) == pytest.approx(3.88, abs=0.03)
    assert np.mean(np.abs(draw.sum(axis=0)) <= 2 * standard(total)) == pytest.approx(0.957, abs=0.003)
    one_wide = uncertain(0, 1.0) + uncertain(0, 1.0) + uncertain(0, 1.0) + uncertain(0, 10.0)
    assert standard(one_wide) == pytest.approx(10.1, abs=0.05)
    assert np.quantile(wide @ draw, 0.975) == pytest.approx(17.0, abs=0.1)


def test_the_mass_of_the_supplement_where_the_first_order_falls_short():
    """JCGM 101, 9.3: at the expected densities the slopes are zero; first order says 0.0539 mg, draws 0.0754 mg.

    A model whose slopes vanish where it is evaluated is no case for this package; test_measure_monte_carlo.py
    shows that ours is not such a one.
    """
    mass, extra = uncertain(100_000.0, 0.050), uncertain(1.234, 0.020)
    air, weight, reference = (
        uncertain(1.20, 0.1 / sqrt(3)),
        uncertain(8000, 1000 / sqrt(3)),
        uncertain(8000, 50 / sqrt(3)),
    )
    deviation = (mass + extra) * (1 + (air - 1.2) * (1 / weight - 1 / reference)) - 100_000
    assert value(deviation) == pytest.approx(1.2340, abs=1e-4) and standard(deviation) == pytest.approx(
        0.0539, abs=1e-4
    )
    rng, n = np.random.default_rng(1), 200_000
    drawn = (rng.normal(100_000, 0.05, n) + rng.normal(1.234, 0.02, n)) * (
        1 + (rng.uniform(1.1, 1.3, n) - 1.2) * (1 / rng.uniform(7000, 9000, n) - 1 / rng.uniform(7950, 8050, n))
    ) - 100_000
    assert np.std(drawn) == pytest.approx(0.0754, abs=0.0006)
