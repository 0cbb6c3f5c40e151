"""Targets and floors of the figures of a study.

Floors are where things stood when they were set, with room for what a study of 60 chips and 12 fixtures leaves open: raise
them as figures get better. RESULT.md says why a target is missed.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from study.limits import ANY, COVERAGE, Limit

STAGES = ("_none", "_self", "", "_meter")             # of figure names; the external resistor's has the plain ones
FLOOR_OF_COVERAGE = {"": 90, "_vol": 84, "_voh": 78, "_icc": 80, "_iil": 82, "_output_resistance": 84, "_threshold": 82}

LIMITS: dict[str, Limit] = {
    f"uncertainty_coverage{quantity}_percent{stage}": Limit(*COVERAGE, floor, 100)
    for quantity, floor in FLOOR_OF_COVERAGE.items() for stage in STAGES
} | {
    "coverage_measurements": Limit(10_000, ANY, 0, ANY),    # a smaller study is told apart by these, and does not fail
    "coverage_fixtures": Limit(200, ANY, 0, ANY),
    "study_chips": Limit(2000, ANY, 0, ANY),
    "study_functions": Limit(12, ANY, 0, ANY),
    "study_families": Limit(10, ANY, 0, ANY),
    "vol_error_mv_k2": Limit(0, 5, 0, 8),
    "icc_error_ma_k2": Limit(0, 0.3, 0, 1.5),               # of twelve fixtures the worst counts: one whose inputs no line holds
    "false_accepts": Limit(0, 0, 0, 0),
    "false_rejects_percent": Limit(0, 0.5, 0, 3.5),         # one of the 31 sound ones among 60
    "diagnosis_top2_percent": Limit(95, ANY, 85, ANY),      # three of 23
    "family_right_percent": Limit(95, ANY, 93, ANY),        # two of 33
}
