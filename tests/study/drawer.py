"""One chip of a drawer: swept by the host, and what it truly is beside it.

    case = sweep_case(description, seed, fixture_seed)       # plain data, one line of JSON

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import time
from dataclasses import asdict
from typing import Any

from sagbench.errors import SagbenchError
from sagbench.record import Outcome, SweepRecord
from virtual_fixture.chips import load
from virtual_fixture.chips.chip import Chip
from virtual_fixture.chips.verdict import verdict
from virtual_fixture.inproc import Fixture

from inprocess import sweep_here
from study.supply import Supply

LEAST_V = 4.75                    # of the commercial grade, every bipolar family


def marking_of(description: dict[str, Any]) -> str:
    """What is printed on it: what the user tells the host."""
    return str(description.get("marking", description["part"]))


def least_supply(marking: str) -> float:
    """Below it the data book promises nothing, and a chip that draws much pulls the fixture's supply there."""
    return LEAST_V if marking.startswith("74") and "HC" not in marking else 0.0


def sweep_case(description: dict[str, Any], seed: int, fixture_seed: int, **options: Any) -> dict[str, Any]:
    """Sweep it; what the host says and what is true, as plain data."""
    marking = marking_of(description)
    started = time.process_time()
    case: dict[str, Any] = {"description": description, "seed": seed, "fixture": fixture_seed, "marking": marking}
    supply, chip = Supply(), load(description, seed=seed)
    try:
        with Fixture(seed=fixture_seed) as fixture:
            fixture.insert(chip)
            supply = Supply.watch(fixture, chip)
            case["host"] = told(sweep_here(fixture, marking, **options).record)
    except (SagbenchError, AssertionError) as trouble:
        case["trouble"] = f"{type(trouble).__name__}: {trouble}"
    case["sweep_s"] = time.process_time() - started
    case["supply"] = supply.rest
    found = verdict(description, seed, vcc=max(case["supply"], least_supply(marking)))
    case["truth"] = {"sound": found.sound, "logic_wrong": found.logic_wrong,
                     "violations": [asdict(v) | {"number": number(chip, v.pin)} for v in found.violations], "faults": [asdict(f) for f in found.faults],
                     "margin": found.margin()}
    case["cpu_s"] = time.process_time() - started
    return case


def number(chip: Chip, pin: str) -> int:
    """The pin's number; 0 for the supply, and for what the chip itself does not have (another part than marked)."""
    names = list(chip.circuit.part.pin_names())
    return names.index(pin) + 1 if pin in names and pin != chip.circuit.part.vcc else 0


def told(record: SweepRecord) -> dict[str, Any]:
    """What the host says of it, as far as a study needs it."""
    logic = record.logic[0] if record.logic else None
    return {
        "verdict": record.verdict.value,
        "advice": record.advice,
        "logic_passed": bool(logic and not logic.misses),
        "reasons": [(f.quantity, f.pin, f.outcome.value, f.sentence) for f in record.reasons[:6]],
        "findings": [(f.quantity, f.pin, f.outcome.value, *((f.value.value, f.value.u) if f.value else (None, None)), f.limit)
                     for f in (*record.supply, *(f for p in record.pins for f in p.findings))],
        "not_measured": record.not_measured,
        "unsure": sum(f.outcome is Outcome.UNSURE for p in record.pins for f in p.findings),
        "diagnoses": [(d.kind, d.pin, d.probability) for d in record.diagnoses[:4]],
        "families": [(g.family, g.probability) for g in record.families[:3]],
        "seconds": record.timing.total_s if record.timing else None,
    }
