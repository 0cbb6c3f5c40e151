"""The rig fails a test whose fixture was driven beyond its ratings: the watch is armed in every test that uses it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from inprocess import sweep_here
from rig import ROOT, sagbench, virtual_fixture, virtual_port
from virtual_fixture.inproc import Fixture

CHIP = ROOT / "tests/virtual_fixture/chips/demo/sound_7400.toml"
BRIDGE = "A14+A12=1"        # the M lines of positions 1 and 2: an input of the 7400 each, driven apart by its truth table


def test_a_violation_fails_the_test_that_caused_it() -> None:
    with pytest.raises(AssertionError, match=r"violation: \d+\.\d{6} s: port pin current, PK\d \(-?\d+\.\d mA\)"), \
            virtual_port(CHIP, 7, "--fast", "--defect", BRIDGE) as port:
        sagbench("sweep", "7400", "--port", port)


def test_so_does_one_in_the_same_process() -> None:
    with pytest.raises(AssertionError, match=r"\d+\.\d{6} s: port pin current, PK\d \(-?\d+\.\d mA\)"), \
            Fixture(7, CHIP, defects=[BRIDGE]) as fixture:
        sweep_here(fixture, "7400")


def test_a_command_that_is_refused_fails_the_test() -> None:
    with virtual_fixture("--empty", "--fast") as fixture:
        assert fixture.command("defect R105=open") == "ok"
        with pytest.raises(AssertionError, match="refuses `defect R999=open`"):
            fixture.command("defect R999=open")


def test_a_fixture_that_does_not_start_says_why() -> None:
    with pytest.raises(AssertionError, match="did not start.*R999"), virtual_fixture("--empty", "--defect", "R999=open"):
        pass
