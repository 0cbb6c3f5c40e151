"""One chip of a drawer: swept by the host, and what it truly is beside it.

    case = sweep_case(description, seed, fixture_seed)       # plain data, one line of JSON

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import statistics
import time
from dataclasses import asdict
from typing import Any

from sagbench.errors import SagbenchError
from sagbench.record import Outcome, SweepRecord
from virtual_fixture.chips import load
from virtual_fixture.chips.verdict import verdict
from virtual_fixture.inproc import Fixture

from inprocess import part, sweep_here

POWERED_V = 4.3


def marking_of(description: dict[str, Any]) -> str:
    """What is printed on it: what the user tells the host."""
    return str(description.get("marking", description["part"]))


def watch_supply(fixture: Fixture, pins: int) -> list[float]:
    """From now on, what the chip's supply truly is whenever the host listens; volts."""
    seen: list[float] = []
    listen = fixture.listen

    def listening(*arguments: Any, **options: Any) -> bytes:
        got = listen(*arguments, **options)
        volts = fixture.node(24) - fixture.node(pins // 2)
        if volts > POWERED_V:
            seen.append(volts)
        return got

    fixture.listen = listening
    return seen


def sweep_case(description: dict[str, Any], seed: int, fixture_seed: int, **options: Any) -> dict[str, Any]:
    """Sweep it; what the host says and what is true, as plain data."""
    marking = marking_of(description)
    started = time.process_time()
    case: dict[str, Any] = {"description": description, "seed": seed, "fixture": fixture_seed, "marking": marking}
    seen: list[float] = []
    try:
        with Fixture(seed=fixture_seed) as fixture:
            fixture.insert(load(description, seed=seed))
            seen = watch_supply(fixture, part(marking).pin_count)
            case["host"] = told(sweep_here(fixture, marking, **options).record)
    except (SagbenchError, AssertionError) as trouble:
        case["trouble"] = f"{type(trouble).__name__}: {trouble}"
    case["sweep_s"] = time.process_time() - started
    case["supply"] = statistics.median(seen) if seen else 5.0
    found = verdict(description, seed, vcc=case["supply"])
    case["truth"] = {"sound": found.sound, "logic_wrong": found.logic_wrong,
                     "violations": [asdict(v) for v in found.violations], "faults": [asdict(f) for f in found.faults],
                     "margin": found.margin()}
    case["cpu_s"] = time.process_time() - started
    return case


def told(record: SweepRecord) -> dict[str, Any]:
    """What the host says of it, as far as a study needs it."""
    logic = record.logic[0] if record.logic else None
    return {
        "verdict": record.verdict.value,
        "advice": record.advice,
        "logic_passed": bool(logic and not logic.misses),
        "reasons": [(f.quantity, f.pin, f.outcome.value, f.sentence) for f in record.reasons[:6]],
        "unsure": sum(f.outcome is Outcome.UNSURE for p in record.pins for f in p.findings),
        "diagnoses": [(d.kind, d.pin, d.probability) for d in record.diagnoses[:4]],
        "families": [(g.family, g.probability) for g in record.families[:3]],
        "seconds": record.timing.total_s if record.timing else None,
    }
