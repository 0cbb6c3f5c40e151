"""Unmarked chips found in the library: how often, how fast, and whether any was hurt.  By simulated time.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from collections.abc import Iterable

from identify_here import study

CHIPS = 48          # functions of each kind, drawn by lot


def unmarked() -> Iterable[tuple[str, float, str]]:
    """Sound chips that are first (or their class is), chips with a dead output that are among the first three."""
    sound, dead = list(study(101, bad=False, count=CHIPS)), list(study(102, bad=True, count=CHIPS))
    yield "identify_first_percent", 100 * sum(r.place == 1 for r in sound) / len(sound), "%"
    yield "identify_dead_output_top3_percent", 100 * sum(1 <= r.place <= 3 for r in dead) / len(dead), "%"
    yield "identify_time_s_max", max(r.seconds for r in (*sound, *dead)), "s"
    yield "overstress_events", sum(r.violations for r in (*sound, *dead)), "events"
