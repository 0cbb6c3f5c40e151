"""Whole sweeps: the image in the simulator and the native build of its core give the same codes.

Host and fixture in one process, with simulated time for both: the codes are the same on every run. The two boards
differ by microseconds in when they look. Every reading of every pass is compared, and every figure of the record.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import dataclasses
import json
from typing import Any

import pytest

from hardware import wiring
from inprocess import Swept, sweep_here
from rig import ROOT, sagbench, virtual_port
from virtual_fixture.inproc import Fixture

DEMO = ROOT / "tests/virtual_fixture/chips/demo"
CHIPS = {"sound_7400": "7400", "sound_74ls00": "74LS00", "tired_74ls00": "74LS00", "sound_74181": "74181", "sound_74ls245": "74LS245"}
RAMPED = {"VT+", "VT-"}          # a ramp gives them
WIRING = wiring.load()
CODE_V = WIRING["supply"]["max_v"] / 2 ** WIRING["adc"]["bits"]      # at most: of the converter, by the supply
OF_PLACE_AND_TIME = {"started", "timing", "port"}


def lasting(record: Any) -> Any:
    if dataclasses.is_dataclass(record) and not isinstance(record, type):
        record = dataclasses.asdict(record)
    if isinstance(record, dict):
        return {key: lasting(value) for key, value in record.items() if key not in OF_PLACE_AND_TIME}
    return [lasting(value) for value in record] if isinstance(record, list | tuple) else record


def swept(marking: str, chip: str, seed: int, variant: str) -> Swept:
    with Fixture(seed, DEMO / f"{chip}.toml", variant) as fixture:
        return sweep_here(fixture, marking)


def measured(record: Any, at: str = "", name: str = "") -> dict[str, tuple[float, float, str]]:
    """Every measured value of a record with its U and the quantity's name, by where it stands."""
    if isinstance(record, dict):
        if isinstance(record.get("u"), float) and isinstance(record.get("value"), float):
            return {at: (record["value"], record["u"], name)}
        name = record.get("quantity", record.get("name", name))
        return {place: one for key, inner in record.items() for place, one in measured(inner, f"{at}/{key}", name).items()}
    if isinstance(record, list):
        return {place: one for n, inner in enumerate(record) for place, one in measured(inner, f"{at}/{n}", name).items()}
    return {}


def alike(here: Any, there: Any, share: float = 0.5) -> None:
    """The measured values of two records agree within a share of their U, but for a threshold at least one code of the converter.

    Not what the worst of several pins was measured at: of two that are as bad either may be the worst.
    A threshold is where a ramp was at one moment, and the boards look microseconds apart: it may be the next code in one
    of them, whatever its U, which says how far both may be from the truth together: fixture and noise are the same.
    """
    one, two = measured(here), measured(there)
    both = {at for at in one.keys() & two.keys() if not at.endswith("/at")}
    assert len(both) > 100 and RAMPED & {one[at][2] for at in both}
    least = {name: CODE_V for name in RAMPED}
    assert [(at, one[at], two[at]) for at in both
            if abs(one[at][0] - two[at][0]) > max(share * max(one[at][1], two[at][1]), least.get(one[at][2], 0.0)) + 1e-12] == []


def ramped(swept: Swept) -> set[tuple[int, int]]:
    """Pass and number of readings that a ramp gave."""
    found = set()
    for p, steps in enumerate(swept.steps):
        n = 0
        for step in steps:
            if step.name == "ramp":
                found |= {(p, n + r) for r in range(step.readings)}
            n += step.readings
    return found


def apart(here: Swept, there: Swept) -> dict[str, list[int]]:
    """By how much codes differ: those of ramps, all others."""
    assert [len(one.readings) for one in here.passes] == [len(one.readings) for one in there.passes]
    found: dict[str, list[int]] = {"ramp": [], "other": []}
    moving = ramped(here)
    for p, (one, two) in enumerate(zip(here.passes, there.passes, strict=True)):
        for r, (a, b) in enumerate(zip(one.readings, two.readings, strict=True)):
            if a != b:
                assert a is not None and b is not None, (p, r, a, b)
                found["ramp" if (p, r) in moving else "other"].append(abs(a - b))
    return found


@pytest.mark.parametrize("seed", [7, 8, 9])
@pytest.mark.parametrize("chip", CHIPS)
def test_whole_sweep_gives_the_same_codes_and_record(chip: str, seed: int) -> None:
    """Codes differ only where something still moves when it is read, for the boards are microseconds apart: in a ramp
    (a code in 50 us), and now and then on an unloaded high output, which rises by microvolts. Node K remembers nothing:
    the firmware takes it to ground before each unloaded reading."""
    here, there = (swept(CHIPS[chip], chip, seed, variant) for variant in ("avr", "pc"))
    differ = apart(here, there)
    assert len(here.codes) > 200
    assert max(differ["other"], default=0) <= 1 and len(differ["other"]) <= 1 + len(here.codes) / 1000
    assert max(differ["ramp"], default=0) <= 2
    assert [one.events for one in here.passes] == [one.events for one in there.passes]
    assert here.record.verdict == there.record.verdict
    alike(lasting(here.record), lasting(there.record))


def test_the_same_again_gives_the_same_codes_to_the_last() -> None:
    one, two = (swept("74LS00", "tired_74ls00", 7, "pc") for _ in range(2))
    assert one.codes == two.codes and lasting(one.record) == lasting(two.record)


def test_another_specimen_gives_other_codes() -> None:
    """The comparisons here can fail."""
    seven, eight = (swept("7400", "sound_7400", seed, "pc") for seed in (7, 8))
    assert seven.codes != eight.codes
    assert lasting(seven.record) != lasting(eight.record)


def test_over_a_port_from_another_process_it_is_the_same_record() -> None:
    """There the host's pauses move the moment of a reading by milliseconds, which may turn a code of some that is on the
    edge: one code is 5 mV, 0.57 of the U of a threshold."""
    chip = DEMO / "tired_74ls00.toml"
    with virtual_port(chip, 7, "--fast") as port:
        done = sagbench("sweep", "74LS00", "--port", port, "--json", "-")
    there = json.loads(done.stdout)
    here = lasting(swept("74LS00", "tired_74ls00", 7, "pc").record)
    assert here["verdict"] == there["verdict"]
    alike(here, there, 0.7)
