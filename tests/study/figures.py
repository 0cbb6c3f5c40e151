"""Figures of a study as `make figures` prints them: name -> (value, unit).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from study import evaluate

UNITS = {"mv": "mV", "ma": "mA", "ua": "uA", "ohm": "ohm"}
STAGE = "external"             # the stage whose coverage has the plain names; the others carry theirs


def figures_of(chips: Sequence[dict[str, Any]], fixtures: Sequence[dict[str, Any]]) -> dict[str, tuple[float, str]]:
    """All that the cases give."""
    found: dict[str, tuple[float, str]] = {}
    by_stage = evaluate.coverage(fixtures)
    for stage, groups in by_stage.items():
        for group, one in groups.items():
            middle = "" if group == "all" else f"_{group.replace(' ', '_').lower()}"
            tail = "" if stage == STAGE else f"_{stage}"
            found[f"uncertainty_coverage{middle}_percent{tail}"] = (one.percent, "%")
    found["coverage_measurements"] = (sum(g["all"].measurements for g in by_stage.values()), "measurements")
    found["coverage_fixtures"] = (len(fixtures), "fixtures")
    for name, value in evaluate.errors(fixtures, STAGE).items():
        found[name] = (value, UNITS[name.split("_")[2]])
    return found | evaluate.worth(chips).figures()
