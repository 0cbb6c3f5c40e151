"""Claims about the fixture that ngspice has checked.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterator

from hardware.spice.claims import load_claims, run


def claims() -> Iterator[tuple[str, float, str]]:
    """All of hardware/spice/table, run; those that are known not to be held count as not held."""
    outcomes = [*run(load_claims())]
    yield "spice_claims_run", len(outcomes), "claims"
    yield "spice_claims_held", sum(outcome.held for outcome in outcomes), "claims"
