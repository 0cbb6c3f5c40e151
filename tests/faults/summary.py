"""Figures of the runs.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from typing import Any

from faults import matrix

Lines = list[dict[str, Any]]


def total(lines: Lines, key: str) -> Counter[str]:
    """Counts of a kind, added up."""
    return sum((Counter(one[key]) for one in lines), Counter())


def worst(lines: Iterable[dict[str, Any]], key: str) -> float:
    """The greatest value; 0 of none."""
    return max((one[key] for one in lines), default=0.0)


def _link(lines: Lines) -> Iterator[tuple[str, float, str]]:
    told = total(lines, "told")
    yield "frames_under_noise", sum(one["frames"] for one in lines), "frames"
    yield "results_under_noise", told["right"] + told["wrong"], "passes"
    yield "wrong_results_under_noise", told["wrong"], "passes"
    yield "refused_under_noise", told.total() - told["right"] - told["wrong"], "passes"
    yield "frames_forged_by_noise", sum(one["forged"] for one in lines), "frames"
    yield "link_recovery_s_max", worst(lines, "recovery_s"), "s"
    yield "link_throughput_percent", 100 * sum(one["clean_seconds"] for one in lines) / sum(one["seconds"] for one in lines), "%"


def _power(lines: Lines) -> Iterator[tuple[str, float, str]]:
    yield "power_faults", len(lines), "cases"
    yield "unpowered_ms_max", worst(lines, "powered_ms"), "ms"
    yield "strong_drive_ms_max", worst(lines, "strong_ms"), "ms"


def _matrix(lines: Lines) -> Iterator[tuple[str, float, str]]:
    yield "faulty_chips_swept", len(lines), "chips"
    yield "faulty_chips_without_words", sum(one["end"] in matrix.BAD for one in lines), "chips"


def figures(runs: dict[str, Lines]) -> dict[str, tuple[float, str]]:
    """Values with their units by name, of the runs that have any lines."""
    power = [*runs.get("stopped", []), *runs.get("killed", [])]
    made = {name: (value, unit) for make, lines in ((_link, runs.get("link", [])), (_power, power), (_matrix, runs.get("matrix", []))) if lines
            for name, value, unit in make(lines)}
    seen = sum(len(one["seen"]) for one in power) + sum(one["end"] == "overstress" for one in runs.get("matrix", []))
    return made | {"overstress_events": (seen, "events")}
