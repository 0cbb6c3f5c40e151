"""The fit against worked examples and general-purpose programs.

SPDX-License-Identifier: MIT
"""

from math import sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.calibrate.fit import Observation, factors, fit
from sagbench.calibrate.linear import cholesky, solve
from sagbench.calibrate.parts import Parts

NUMBERS = st.floats(-5, 5)


@given(
    st.integers(1, 7).flatmap(
        lambda n: st.tuples(
            st.lists(st.lists(NUMBERS, min_size=n, max_size=n), min_size=n, max_size=n),
            st.lists(NUMBERS, min_size=n, max_size=n),
        )
    )
)
def test_linear_algebra_agrees_with_numpy(case):
    rows, right = case
    matrix = np.array(rows) @ np.array(rows).T + np.eye(len(rows))
    lower = cholesky(matrix.tolist())
    full = np.array([row + [0.0] * (len(rows) - len(row)) for row in lower])
    assert full == pytest.approx(np.linalg.cholesky(matrix), abs=1e-6)
    assert solve(lower, right) == pytest.approx(np.linalg.solve(matrix, right).tolist(), rel=1e-6, abs=1e-6)


def test_a_matrix_that_is_not_positive_is_refused():
    with pytest.raises(ValueError, match="row 1"):
        cholesky([[1.0], [2.0, 4.0]])


def line(t, b, u):
    return Observation("", b, u, ("y1", "y2"), lambda value, t=t: value("y1") + value("y2") * t)


def test_the_thermometer_of_the_guide():
    """GUM (JCGM 100:2008) H.3: y1 = -0.1712 (0.0029), y2 = 0.00218 (0.00067), r = -0.930, s = 0.0035.

    Nothing is known beforehand there; here the priors are ten thousand times wider than the result.
    """
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    parts = Parts()
    parts.add("y1", 0.0, 30.0)
    parts.add("y2", 0.0, 7.0)
    found = fit(parts, [line(x - 20, y, 0.0035) for x, y in zip(t, b, strict=True)])
    assert found.value("y1") == pytest.approx(-0.1712, abs=5e-5) and found.u("y1") == pytest.approx(0.0029, abs=5e-5)
    assert found.value("y2") == pytest.approx(0.00218, abs=5e-6) and found.u("y2") == pytest.approx(0.00067, abs=1e-5)
    covariance = found.covariance(["y1", "y2"])
    assert covariance[0][1] / found.u("y1") / found.u("y2") == pytest.approx(-0.930, abs=0.0005)
    assert found.misfit == pytest.approx(sqrt(9 / 11), abs=0.02)  # s has 9 degrees of freedom, the misfit counts 11


def test_priors_and_readings_weigh_as_bayes_has_it():
    """A normal prior and a normal reading: the mean weighted by 1/u^2 (textbook; GUM H.5 likewise)."""
    parts = Parts()
    parts.add("r", 270.0, 3.0)
    found = fit(parts, [Observation("", 276.0, 4.0, ("r",), lambda value: value("r"))])
    assert found.value("r") == pytest.approx((270 / 9 + 276 / 16) / (1 / 9 + 1 / 16))
    assert found.u("r") == pytest.approx(1 / sqrt(1 / 9 + 1 / 16))


def divider(read, u, above, below):
    return Observation("", read, u, (above, below), lambda value: value(below) / (value(above) + value(below)))


def test_a_curved_model_agrees_with_scipy():
    """Dividers of three resistors, one known to 0.1 %: scipy.optimize.least_squares on the same residuals."""
    from scipy.optimize import least_squares

    means, sigmas = np.array([1000.0, 560.0, 270.0]), np.array([1.0, 60.0, 40.0])
    names, real = ["a", "b", "c"], dict(zip("abc", (1000.4, 583.0, 249.0), strict=True))
    pairs = [("a", "b"), ("b", "c"), ("a", "c")]
    reads = [real[q] / (real[p] + real[q]) + e for (p, q), e in zip(pairs, (1e-4, -2e-4, 0.5e-4), strict=True)]
    parts = Parts()
    for name, mean, sigma in zip(names, means, sigmas, strict=True):
        parts.add(name, mean, sigma)
    found = fit(parts, [divider(read, 2e-4, p, q) for (p, q), read in zip(pairs, reads, strict=True)])

    def residuals(x):
        value = dict(zip(names, means + sigmas * x, strict=True))
        return [
            *x,
            *((read - value[q] / (value[p] + value[q])) / 2e-4 for (p, q), read in zip(pairs, reads, strict=True)),
        ]

    theirs = least_squares(residuals, np.zeros(3), xtol=1e-12)
    covariance = np.linalg.inv(theirs.jac.T @ theirs.jac) * np.outer(sigmas, sigmas)
    for n, name in enumerate(names):
        assert found.value(name) == pytest.approx(means[n] + sigmas[n] * theirs.x[n], rel=1e-5)
        assert found.u(name) == pytest.approx(sqrt(covariance[n, n]), rel=1e-3)


def test_far_from_a_straight_line_steps_are_cut():
    parts = Parts()
    parts.add("above", 1000.0, 1e-3)
    parts.add("below", 100000.0, 90000.0)
    found = fit(parts, [divider(0.01, 1e-6, "above", "below")])
    assert found.value("below") == pytest.approx(1000 * 0.01 / 0.99, rel=1e-3)


def test_factors_give_back_the_covariance():
    parts = Parts()
    for name in ("common", "one", "two"):
        parts.add(name, 10.0, 1.0)
    parts.join("a", ("common", "one"))
    parts.join("b", ("common", "two"))
    found = fit(parts, [Observation("", 20.5, 0.5, ("a",), lambda value: value("a"))])
    shares = factors(found, {"common": "the reel"}, ["a", "b"], lambda path: f"own {path}")
    assert set(shares["b"]) <= {"the reel", "own a", "own b"}
    for one in ("a", "b", "common"):
        assert sum(u * u for u in shares[one].values()) == pytest.approx(found.u(one) ** 2, rel=1e-6)
    together = sum(shares["a"].get(f, 0) * shares["b"].get(f, 0) for f in shares["a"])
    assert together == pytest.approx(found.covariance(["a", "b"])[0][1], rel=0.05)
