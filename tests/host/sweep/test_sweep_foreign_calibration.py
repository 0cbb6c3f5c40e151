"""A calibration of another fixture under this one's serial number is refused in words, its own is not.

SPDX-License-Identifier: MIT
"""

from study.stages import calibrated
from virtual_fixture.inproc import Fixture

from sagbench.device import Device
from sagbench.parts import load_part
from sagbench.sweep import sweep
from sagbench.sweep.state import Options


def test_a_calibration_of_another_fixture_is_refused_and_ones_own_is_used():
    own, others = (calibrated(seed, "self")["self"] for seed in (101, 103))
    records = []
    for priors in (own, others):
        with Fixture(seed=101) as board, Device(board.line) as device:
            board.insert("tests/demo/sound.toml")
            records.append(sweep(device, load_part("74LS00"), options=Options(priors)))
    used, refused = records
    assert used.fixture.calibration == own.origin and not any("not this fixture's" in note for note in used.notes)
    assert refused.fixture.calibration.startswith("none: this calibration (")
    assert any("not this fixture's" in note and "Measured without it" in note for note in refused.notes)
    assert used.verdict is refused.verdict
    assert refused.supply[0].value.u > used.supply[0].value.u, "without a calibration the uncertainty is the data book's"
