"""`sagbench learn` with a virtual chip in a virtual fixture: the draft, its check, its vectors, a second specimen.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from pathlib import Path

import pytest
import rig
from inprocess import BOOT_S
from learn_here import learnt_here

from sagbench.cli.parts.check import checked
from sagbench.device import Device
from sagbench.learn.draft import About
from sagbench.learn.socket import NotLearnt, compare_here, powered
from sagbench.parts.lookup import load_file
from virtual_fixture.inproc import Fixture

ABOUT = About("9314", "LS", 14, (14,), (7,))


def test_a_schmitt_inverter_is_learnt_and_a_bad_second_specimen_told(tmp_path: Path) -> None:
    tried, _, violations = learnt_here({"part": "74LS14"}, ABOUT)
    assert violations == [] and tried.passed
    text = tried.result.draft.text
    assert 'each = ["1", "2", "3", "4", "5", "6"]' in text and 'schmitt = ["{}A"]' in text and '"{}Y = !{}A"' in text
    path = tmp_path / "9314.toml"
    path.write_text(text)
    assert checked(path).mistakes == ()
    for fault, differing in (([], set()), ([{"kind": "stuck", "pin": "3Y", "level": "low"}], {6})):
        with Fixture(seed=9) as fixture:
            fixture.insert({"part": "74LS14", "fault": fault})
            fixture.run(BOOT_S)
            with Device(fixture.line) as device:
                found = compare_here(device, load_file(path), "LS")
            assert {one.pin for one in found} == differing


def test_a_chip_whose_rails_are_elsewhere_is_not_powered() -> None:
    with Fixture(seed=7) as fixture:
        fixture.insert({"part": "74LS93"})                # supply at 5, ground at 10
        fixture.run(BOOT_S)
        with Device(fixture.line) as device, pytest.raises(NotLearnt, match="not powered"):
            powered(device, ABOUT)
        assert fixture.violations == []


def test_the_command_says_what_it_lacks(tmp_path: Path) -> None:
    for words, told in ((("74LS9314",), "--pins"), (("74LS9314", "--pins", "14", "--power", "7"), "such as 14,7"),
                        (("74LS9314", "--pins", "14", "--output", str(tmp_path)), "is there already")):  # fmt: skip
        done = rig.sagbench("learn", *words)
        assert done.returncode == 2 and told in done.stderr and "Traceback" not in done.stderr, done.stderr
