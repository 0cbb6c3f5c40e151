"""How far what a sweep tells of a gate made of SPICE's transistors is from what ngspice says of it.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from collections.abc import Iterator

from rig import ROOT


def deviation() -> Iterator[tuple[str, float, str]]:
    """VOL at the rated current, the largest of tests/outside/swept_gates.py's cases that can carry it."""
    sys.path.insert(0, str(ROOT / "tests/outside"))                  # its modules call each other by name, as pytest has it
    from swept_gates import CASES, swept

    pairs = [made.figures["VOL"] for made in (swept(*case) for case in CASES) if "VOL" in made.figures]
    yield "ngspice_vol_deviation_mv_max", max(abs(told.value - spice) for told, spice in pairs) * 1e3, "mV"
