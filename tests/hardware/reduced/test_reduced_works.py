"""One image serves both builds, and the host knows from the fixture's own word which it has before it.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from pathlib import Path

import pytest
from virtual_fixture.inproc import Fixture

from hardware.wiring import PATH, REDUCED, load
from inprocess import sweep_here
from sagbench.calibrate import with_resistor
from sagbench.calibrate.alone import calibrate_alone
from sagbench.calibrate.evaluate import evaluate
from sagbench.calibrate.session import Given, Session
from sagbench.cli.fixture_info import facts
from sagbench.device import Device
from sagbench.errors import DeviceError, TooManyPins
from sagbench.plan.fixture import fixture_of, load_fixture
from sagbench.record import Verdict
from sagbench.selftest.findings import Result
from sagbench.selftest.run import selftest

BOOT_S = 0.05
SMALL = load_fixture("bench16")


def quiet(*_: object) -> None:
    """No progress to show."""


@pytest.mark.parametrize("variant", ["avr", "pc"])
@pytest.mark.parametrize("path", [PATH, REDUCED], ids=["full", "reduced"])
def test_the_same_image_says_which_build_it_is(path: Path, variant: str) -> None:
    with Fixture(3, variant=variant, wiring=path) as board:
        board.run(BOOT_S)
        with Device(board.line) as device:
            assert device.info.wiring_id == load(path).id
            assert device.info.wiring == load(path)["fixture"]["name"]


def test_it_says_what_it_takes() -> None:
    with Fixture(3, wiring=REDUCED) as board:
        board.run(BOOT_S)
        with Device(board.line) as device:
            told = dict(facts(device.info, device.state()))
    assert told["socket"].startswith("16 positions (1 to 8 and 17 to 24 of 24)")
    assert told["14 pins"] == "5 V at pin 14 or 5, ground at pin 7 or 10"
    assert "18 pins" not in told


# with 5 V at pin 14, 16 and 5; virtual chips are written from data books
@pytest.mark.parametrize("part", ["7400", "74LS138", "7490"])
def test_a_sound_chip_is_trusted(part: str) -> None:
    with Fixture(11, wiring=REDUCED) as board:
        board.insert({"part": part})
        record = sweep_here(board, part).record
    assert record.fixture.name == "bench16"
    assert record.verdict is Verdict.SOUND, record.reasons


def test_figures_are_those_of_the_full_build() -> None:
    """Same parts, same chip: every level under load agrees within what both records claim."""
    levels = []
    for path in (PATH, REDUCED):
        with Fixture(11, wiring=path) as board:
            board.insert({"part": "7400"})
            record = sweep_here(board, "7400").record
        levels.append({(pin.pin, load.point, load.direction): load.volts for pin in record.pins for load in pin.loads})
    full, small = levels
    assert full.keys() == small.keys()
    assert len(full) > 20
    for at, volts in full.items():
        assert abs(volts.value - small[at].value) <= volts.u + small[at].u, at


@pytest.mark.parametrize(("part", "error", "words"), [
    ("74LS244", TooManyPins, r"20 pins; this fixture's socket takes 16 \(bench16\)"),
    ("7473", DeviceError, r"cannot power a 7473: it has no switches for pin 4"),
])
def test_what_does_not_fit_is_refused_in_a_sentence(part: str, error: type[Exception], words: str) -> None:
    with Fixture(3, wiring=REDUCED) as board, pytest.raises(error, match=words):
        sweep_here(board, part)


def test_a_chip_one_row_too_low_is_told() -> None:
    with Fixture(3, wiring=REDUCED) as board:
        board.insert({"part": "7400", "fault": [{"kind": "shifted", "rows": 1}]})
        record = sweep_here(board, "7400").record
    assert "1 row too low" in record.partial + record.advice


def test_sound_fixture_passes_its_self_test() -> None:
    with Fixture(4, wiring=REDUCED) as board, Device(board.line) as device:
        report = selftest(device, fixture_of(device.info.wiring_id), quiet)
    assert report.result is Result.FINE
    assert not report.of(Result.FAULT, Result.UNSURE)
    assert any("16 positions" in check.sentence for check in report.checks)


@pytest.mark.parametrize(("defect", "part"), [("U3=dead", "U3"), ("R117=open", "R117"), ("Q220=open", "Q220"), ("R205=900", "R205")])
def test_its_self_test_names_what_is_broken(defect: str, part: str) -> None:
    with Fixture(4, wiring=REDUCED, defects=[defect]) as board, Device(board.line) as device:
        report = selftest(device, fixture_of(device.info.wiring_id), quiet)
    assert part in report.of(Result.FAULT)[0].parts


def test_a_forgotten_strap_shows_as_what_is_left_out(tmp_path: Path) -> None:
    """Without the wire the host takes it for the full build; the self-test then misses U2, as SELFTEST.md says."""
    folder = tmp_path / "reduced"
    folder.mkdir()
    (folder / "wiring.toml").write_text(REDUCED.read_text().replace('to = "GND"', 'to = "open"'))
    (tmp_path / "wiring.toml").write_text(PATH.read_text())
    with Fixture(4, wiring=folder / "wiring.toml") as board, Device(board.line) as device:
        report = selftest(device, fixture_of(device.info.wiring_id), quiet)
    first = report.of(Result.FAULT)[0]
    assert "positions 9 to 16" in first.sentence
    assert "U2" in first.parts


def test_calibration_covers_every_position_that_is_there() -> None:
    with Fixture(5, wiring=REDUCED) as board, Device(board.line) as device:
        fixture = fixture_of(device.info.wiring_id)
        session = Session(1, fixture.wiring_id, "", "", external=Given(470.0, 0.5))
        calibrate_alone(device, fixture, session, quiet)
        session.done["self"] = "2026-01-01T00:00:00+00:00"
        for low, high in with_resistor.pairs(fixture):
            board.resistors(f"{low},{high}=470")
            with_resistor.measure_pair(device, fixture, session, (low, high))
            session.done[f"{low}-{high}"] = "2026-01-01T00:00:00+00:00"
        made = evaluate(fixture, session, "2026-01-01T00:00:00+00:00")
    at = {int(name.partition("[")[2].partition("]")[0]) for name in made.components if name.startswith("medium_drive[")}
    assert at == set(SMALL.present)
