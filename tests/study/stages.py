"""A virtual fixture calibrated as its user would: alone, with a known resistor, with a meter.

    found = calibrated(fixture_seed)       # stage -> Priors for `sweep`, None at stage "none"

The resistor and the meter are as wrong as they may be said to be: drawn within what the user is told to give.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import random
from typing import Any

from sagbench.calibrate.alone import calibrate_alone
from sagbench.calibrate.evaluate import evaluate
from sagbench.calibrate.meter import reference_code, with_meter
from sagbench.calibrate.session import Given, Session, name_of
from sagbench.calibrate.with_resistor import measure_pair, pairs
from sagbench.device import Device
from sagbench.measure.calibration import Calibration, priors_of
from sagbench.plan.fixture import load_fixture
from virtual_fixture.inproc import Fixture

STAGES = ("none", "self", "external", "meter")
RESISTOR, RESISTOR_SHARE = 470.0, 0.001      # what README asks for: 0.1 %
METER_SHARE = 0.002                          # of a cheap multimeter that has been checked; of the reference's 2.5 V
WHEN = "2026-01-01T00:00:00+00:00"


def calibrated(fixture_seed: int, upto: str = "meter") -> dict[str, Any]:
    """Priors of each stage up to `upto`. Raises DeviceError if the fixture cannot be calibrated."""
    wanted = STAGES[:STAGES.index(upto) + 1]
    found: dict[str, Any] = {"none": None}
    if len(wanted) == 1:
        return found
    rng = random.Random(f"references/{fixture_seed}")
    fixture = load_fixture("bench24")
    made: dict[str, Calibration] = {}
    with Fixture(seed=fixture_seed) as board, Device(board.line) as device:
        session = Session(fixture_seed, fixture.wiring_id, "", WHEN)
        calibrate_alone(device, fixture, session, lambda *_: None)
        session.done["self"] = WHEN
        if "self" in wanted:
            made["self"] = evaluate(fixture, session, WHEN)
        if "external" in wanted:
            session.external = Given(RESISTOR, RESISTOR * RESISTOR_SHARE)
            real = RESISTOR * (1 + rng.uniform(-RESISTOR_SHARE, RESISTOR_SHARE))
            for pair in pairs(fixture):
                board.resistors(f"{pair[0]},{pair[1]}={real}")
                measure_pair(device, fixture, session, pair)
                session.done[name_of(pair)] = WHEN
            made["external"] = evaluate(fixture, session, WHEN)
        if "meter" in wanted:
            real = board.node("VREF")            # what it stands at with the current it gets, not what it was sold as
            given = Given(real * (1 + rng.uniform(-METER_SHARE, METER_SHARE)), METER_SHARE * real)
            made["meter"] = with_meter(made["external"], fixture, "reference", given, reference_code(device), WHEN)
    return found | {stage: priors_of(one, fixture) for stage, one in made.items()}
