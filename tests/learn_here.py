"""Chips learnt at an in-process virtual fixture.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from typing import Any

from inprocess import BOOT_S

from sagbench.device import Device
from sagbench.learn.draft import About
from sagbench.learn.socket import Tried, learn_here
from virtual_fixture.inproc import Fixture


def learnt_here(chip: Any, about: About, seed: int = 7) -> tuple[Tried, float, list[Any]]:
    """Learn one chip: what came of it, simulated seconds, and what was driven beyond its ratings."""
    with Fixture(seed=seed) as fixture:
        fixture.insert(chip)
        fixture.run(BOOT_S)
        begun = fixture.now_s
        with Device(fixture.line) as device:
            tried = learn_here(device, about)
        return tried, fixture.now_s - begun, list(fixture.violations)
