"""Levels that a setup predicts, against ngspice (a general-purpose circuit simulator) and hand arithmetic.

SPDX-License-Identifier: MIT
"""

import re
import subprocess

import pytest

from sagbench.calibrate.parts import arm_path, line_path, parts_of
from sagbench.calibrate.setup import Setup, curve
from sagbench.plan.fixture import M_LINE, S_LINE, load_fixture

M, S = M_LINE, S_LINE
VALUES = {
    "medium_drive[5].high": 586.1,
    "medium_drive[5].low": 591.7,
    "strong_drive[5].high": 297.3,
    "strong_drive[5].low": 301.9,
    "medium_drive[20].high": 588.8,
    "medium_drive[20].low": 583.2,
    "strong_drive[20].high": 299.0,
    "strong_drive[20].low": 295.5,
    "channel[5]": 92.0,
    "channel[20]": 117.0,
    "selector[1]": 84.0,
    "selector[3]": 88.0,
    "selector[4]": 86.0,
    "selector[5]": 90.0,
    "weak_load.high": 8231.0,
    "calibration_reference.low": 1031.0,
    "calibration_reference.high": 1027.0,
    "heavy_load.low": 251.0,
    "level_drive": 681.0,
    "external": 470.2,
    "hump": 0.0,
    "shape": 0.0,
    "selector shape": 0.0,
}
SETUPS = [
    Setup(((5, M, True), (5, S, False)), 5),
    Setup(((5, M, False),), 5, 3, True),
    Setup(((5, S, True),), 5, 3, False),
    Setup(((5, M, True),), 5, 5, False),
    Setup(((20, M, False),), 20, 1, True),
    Setup(((5, S, False),), 5, 4, source=0.8),
    Setup(((5, M, True), (20, M, False)), 5, across=(5, 20)),
    Setup(((5, M, True), (20, M, False)), 20, across=(5, 20)),
    Setup(((5, M, True), (5, S, True), (20, M, False)), 20, across=(20, 5)),
]


def netlist(setup: Setup) -> str:
    """The same circuit for ngspice, K named k."""
    lines = ["* one setup", "Vrail rail 0 1"]
    for n, (position, line, high) in enumerate(setup.lines):
        lines.append(f"Rl{n} z{position} {'rail' if high else '0'} {VALUES[line_path(position, line, high)]}")
    if setup.across:
        lines.append(f"Rx z{setup.across[0]} z{setup.across[1]} {VALUES['external']}")
    channel = VALUES[f"channel[{setup.position}]"]
    lines.append(f"Rc z{setup.position} k {channel}")
    if setup.selector:
        end = setup.source if setup.selector == 4 else float(setup.up)
        lines += [
            f"Vend end 0 {end}",
            f"Rs k arm {VALUES[f'selector[{setup.selector}]']}",
            f"Ra arm end {VALUES[arm_path(setup.selector, setup.up)]}",
        ]
    return "\n".join([*lines, ".op", ".control", "run", "print v(k)", ".endc", ".end", ""])


@pytest.mark.parametrize("setup", SETUPS, ids=range(len(SETUPS)))
def test_levels_agree_with_ngspice(setup, tmp_path):
    path = tmp_path / "setup.cir"
    path.write_text(netlist(setup))
    out = subprocess.run(["ngspice", "-b", str(path)], capture_output=True, text=True, check=True, timeout=60).stdout
    theirs = float(re.search(r"v\(k\) = (\S+)", out)[1])
    assert setup.level(VALUES.__getitem__) == pytest.approx(theirs, abs=2e-7)


def test_all_that_is_asked_for_is_named():
    for setup in SETUPS:
        asked = set()
        setup.level(lambda path, asked=asked: asked.add(path) or VALUES[path])
        assert asked == set(setup.paths())


def test_a_resistor_whose_far_end_hangs_free_carries_nothing():
    setup = Setup(((5, M, True), (5, S, False)), 5, across=(5, 20))
    assert "external" not in setup.paths()
    assert setup.level(VALUES.__getitem__) == pytest.approx(301.9 / (301.9 + 586.1))


def test_a_channel_has_most_at_half_the_supply():
    assert [round(curve(0.2, -0.1, x), 6) for x in (0.0, 0.5, 1.0)] == [1.0, 1.2, 1.0]  # whatever the shape
    humped = {**VALUES, "hump": 0.2, "shape": -0.1, "selector shape": 0.05}
    setup = SETUPS[1]
    at_k = setup.level(humped.__getitem__)
    # By hand: M low 591.7, channel and selector each some 15 % more at these levels, 1027 to the rail.
    level_c, level_s = at_k - 0.5 * 92 * (at_k / (591.7 + 92)), at_k + 0.5 * 88 * ((1 - at_k) / (1027 + 88))
    channel, selector = 92 * curve(0.2, -0.1, level_c), 88 * curve(0.2, 0.05, level_s)
    assert at_k == pytest.approx((591.7 + channel) / (591.7 + channel + selector + 1027), abs=2e-4)


def test_every_part_that_a_setup_may_pass_is_known():
    parts = parts_of(load_fixture("bench24"), (470.0, 0.3))
    for setup in SETUPS:
        assert set(setup.paths()) <= parts.paths.keys()
    # 270 ohm and 30 ohm of the pin; the middle of 20..40 and of 1 % each way, as [specimen] of the wiring file has it.
    assert parts.value("strong_drive[6].high", [0.0] * len(parts.unknowns)) == pytest.approx(300.0)
