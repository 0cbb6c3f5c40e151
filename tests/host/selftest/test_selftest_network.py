"""The nominal network against hand arithmetic and ngspice (a general-purpose circuit simulator); words for lists.

SPDX-License-Identifier: MIT
"""

import re
import subprocess

import pytest

from sagbench.selftest.findings import listed, numbers
from sagbench.selftest.network import levels

BRIDGE = [
    ("high", "a", 120.0),
    ("high", "b", 330.0),
    ("a", "b", 47.0),
    ("a", "low", 560.0),
    ("b", "low", 82.0),
    ("b", "c", 1000.0),
]


def test_a_divider():
    assert levels([("high", "a", 560.0), ("a", "low", 270.0)])["a"] == pytest.approx(270 / 830)


def test_a_bridge_agrees_with_ngspice(tmp_path):
    rails = {"high": "rail", "low": "0"}
    lines = [
        "* bridge",
        "Vrail rail 0 1",
        *(f"R{n} {rails.get(a, a)} {rails.get(b, b)} {ohm}" for n, (a, b, ohm) in enumerate(BRIDGE)),
    ]
    path = tmp_path / "bridge.cir"
    path.write_text("\n".join([*lines, ".op", ".control", "run", "print v(a) v(b) v(c)", ".endc", ".end", ""]))
    out = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True, check=True, timeout=60).stdout
    ours = levels(BRIDGE)
    for node in "abc":
        assert ours[node] == pytest.approx(float(re.search(rf"v\({node}\) = (\S+)", out)[1]), abs=1e-5)


def test_a_node_that_hangs_free_has_a_level():
    assert levels([("a", "b", 10.0)])["a"] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    "values, said",
    [
        ([3], "3"),
        ([4, 3], "3 and 4"),
        ([1, 2, 3, 7], "1 to 3 and 7"),
        ([9, 7, 8, 10, 12, 21, 20], "7 to 10, 12, 20 and 21"),
    ],
)
def test_positions_in_words(values, said):
    assert numbers(values) == said


def test_parts_in_words():
    assert [listed([]), listed(["a"]), listed(["a", "b", "c"])] == ["", "a", "a, b or c"]
