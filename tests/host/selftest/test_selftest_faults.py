"""The self-test on virtual fixtures with broken parts: the part is named, nothing else is blamed, no pin is overloaded.

Defects are the virtual fixture's (its README lists them). Each fixture is another specimen.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import re
import zlib
from pathlib import Path

import pytest
from virtual_fixture.inproc import Fixture

from sagbench.device import Device
from sagbench.plan.fixture import load_fixture
from sagbench.selftest.findings import Report, Result
from sagbench.selftest.run import selftest

FIXTURE = load_fixture("bench24")
PAGE = Path(__file__).resolve().parents[3] / "hardware" / "SELFTEST.md"


def report_on(seed: int, *defects: str, resistors: tuple[str, ...] = (), resistor: float | None = None) -> Report:
    """The report on a fixture with these defects, which is unpowered afterwards and has seen nothing beyond its ratings."""
    with Fixture(seed=seed) as board:
        if defects:
            board.break_(*defects)
        if resistors:
            board.resistors(*resistors)
        with Device(board.line) as device:
            report = selftest(device, FIXTURE, lambda *_: None, resistor)
            assert not device.state().powered
        assert not board.violations
        return report


def sections() -> set[str]:
    return set(re.findall(r"^## ([\w-]+)$", PAGE.read_text(), re.MULTILINE))


# defect: designators of which the first fault must name one, and words of its sentence
FAULTS = {
    # resistors of lines and loads
    "R105=1500": ("R105", "some 1[34]"),
    "R106=open": ("R106", "does not reach position 6"),
    "R107=short": ("R107", "some [0-3]?[0-9] ohm"),
    "R208=open": ("R208", "medium line does not reach position 8"),
    "R209=720": ("R209", "7[0-3]"),
    "R311=open": ("R311", "weak load does not reach"),
    "R311=7000": ("R311", "is 6[89]|is 70"),
    "R312=open": ("R312", "trickle"),
    "R312=47000": ("R312", "is 4[67]"),
    "R313=open": ("R313", "does not reach"),
    "R313=1500": ("R313", "is 1[45]"),
    "R314=open": ("R314", "level"),
    "R314=900": ("R314", "is [89]"),
    "R315=open": ("R315", "heavy"),
    "R315=120": ("R315", "is 1[0-4]"),
    # multiplexers and their addresses
    "U1.4=open": ("U1", "U1.4"),
    "U2.3=900": ("U2", "U2.3"),
    "U3.0=260": ("U3", "U3.0"),
    "U3=dead": ("U3", "17 to 24"),
    "U4.1=open": ("U4", "U4.1"),
    "U4.3=open": ("U4", "U4.3"),
    "U4=dead": ("U4", "Node K|node K"),
    "U5.0=low": ("U5", "U5.0"),
    "U5.2=high": ("U5", "U5.2"),
    "U5.3=high": ("U5", "U5.3"),
    "U5.4=low": ("U5", "U5.4"),
    "U5=dead": ("U5", "U5"),
    "D46=low": ("D46", "never off"),
    "D47=high": ("D47", "9 to 16"),
    # registers, dead-man, trip
    "D51=low": ("D51", "comes back low"),
    "D50=high": ("D50", "comes back high"),
    "C303=open": ("C303", "never enabled"),
    "C304=220": ("C304", "lets go"),
    "R330=open": ("R330", "lets go only"),
    "R331=open": ("R331", "never enabled"),
    "Q302=open": ("Q302", "never enabled"),
    "Q302=short": ("Q302", "stay enabled"),
    "D302=open": ("D302", "never enabled"),
    "Q303=short": ("Q303", "never enabled"),
    "R323=open": ("R323", "trip acts"),
    "R325=open": ("R325", "never enabled"),
    "D12=low": ("D12", "never enabled"),
    # references and level drive
    "U9=open": ("U9", "5 V rail"),
    "U9=short": ("U9", "0.0"),
    "U9=2.05": ("U9", "not at 2.5 V"),
    "U8.B=dead": ("U8", "stays at"),
    "R316=open": ("R316", "stays at"),
    "C301=open": ("C301", "too fast"),
    "C302=open": ("C302", "too fast"),
    "C302=330": ("C302", "too slow"),
    "D11=low": ("D11", "stays at"),
    # power switches and supply current
    "Q124=open": ("Q124", "base current is there"),
    "Q104=short": ("Q104", "no base current"),
    "R405=100000": ("R405", "no base current"),
    "R401=1200": ("R401", "base current"),
    "Q209=open": ("Q209", "position 9"),
    "Q212=short": ("Q212", "position 12"),
    "R480=open": ("R480", "position 20"),
    "U6.1=low": ("U6", "position 8"),
    "U6.4=high": ("U6", "position 12"),
    "U6=dead": ("U6", "None of the ground"),
    "U7.0=low": ("U7", "base current flows"),
    "U7.6=high": ("U7", "position 5"),
    "U7=dead": ("U7", "All supply"),
    "U8.A=dead": ("U8", "does not see"),
    "R320=2": ("R320", "35|36|37"),
    "R322=open": ("R322", "does not see"),
    "R323=1200": ("R323", "1[12].. mV|12"),
    "Q301=open": ("Q301", "does not see"),
    # controller pins and bridges
    "D22=low": ("D22", "stuck low"),
    "D24=high": ("D24", "stuck high"),
    "D23=high": ("D23", "stuck high"),
    "A8=open": ("A8", "position 4"),
    "D10=open": ("D10", "neither high nor low"),
    "D10=low": ("D10", "does not go high"),
    "D3=low": ("D3", "pressed"),
    "D22+D24=2": ("D22", "bridged"),
    "D22+D23=2": ("D22", "drive together"),
    "D22+D25=2": ("D25", "bridged"),
    "D23+D25=2": ("D25", "bridged"),
    "D10+D22=2": ("D10", "LD line"),
    "Z5+Z6=1": ("J1", "5 and 6 are joined"),
    "Z3+V5=3": ("J1", "tied to 5 V"),
    "K+V5=20": ("U1", "pulled high"),
    "K+GND=5": ("U4", "stays at"),
}


@pytest.mark.parametrize("defect", FAULTS)
def test_the_part_is_named(defect):
    part, words = FAULTS[defect]
    report = report_on(zlib.crc32(defect.encode()) % 50 + 1, defect)
    faults = report.of(Result.FAULT)
    assert report.result is Result.FAULT and len(faults) == 1, [f.sentence for f in faults]
    assert part in faults[0].parts, faults[0]
    assert re.search(words, faults[0].sentence), faults[0].sentence
    for check in report.checks:
        assert check.section in sections()


@pytest.mark.parametrize("seed", range(60, 72))
def test_sound_fixtures_are_sound(seed):
    report = report_on(seed)
    assert report.result is Result.FINE, [c.sentence for c in report.of(Result.FAULT, Result.UNSURE)]
    assert {check.name for check in report.of(Result.NOT_TESTED)} == {"reference, finer", "trip", "unseen parts"}
    assert len(report.of(Result.FINE)) == 12
    assert "24 positions" in report.checks[-3].sentence


def test_a_reference_that_is_off_by_less_than_can_be_seen_is_not_called_fine_alone():
    """2.45 V is 2 % off: no check on the board can tell, and the report says what can."""
    report = report_on(62, "U9=2.45")
    finer = next(check for check in report.of(Result.NOT_TESTED) if check.name == "reference, finer")
    assert finer.parts == ("U9",) and "fixture calibrate --reference" in finer.sentence
    share = int(re.search(r"less than (\d+)%", finer.sentence)[1])
    assert 2 < share < 6 and report.result is Result.FINE


def test_what_rests_on_a_fault_is_not_tested_and_that_is_said():
    report = report_on(5, "D51=low")
    skipped = [c for c in report.of(Result.NOT_TESTED) if c.section == "order"]
    assert len(skipped) == 1 and "dead-man" in skipped[0].name and "resistor values" in skipped[0].name


def test_two_faults_are_both_told():
    report = report_on(6, "R105=1500", "Q209=open")
    assert [f.parts[0] for f in report.of(Result.FAULT)] == ["R105", "Q209"]


@pytest.mark.parametrize(
    "resistors, said",
    [
        (("5,20=470",), "between positions 5 and 20 there are some 4[67]"),
        (("3,4=120", "9,17=1000"), "between positions 3 and 4 .* between positions 9 and 17 "),
        (tuple(f"{n},{n + 1}=1000" for n in range(1, 9)), "as a chip's do"),
    ],
)
def test_a_socket_that_is_not_empty_is_said(resistors, said):
    report = report_on(7, resistors=resistors)
    assert re.search(said, report.not_empty) and report.result is Result.UNSURE
    assert any(c.section == "order" for c in report.of(Result.NOT_TESTED))


def test_a_resistor_that_is_named_tests_current_and_limit():
    report = report_on(8, resistors=("21,4=470",), resistor=470.0)
    assert report.result is Result.FINE and not report.not_empty
    sentences = " ".join(c.sentence for c in report.of(Result.FINE))
    assert "Through the resistor flow 10." in sentences and "takes power away at once" in sentences


def test_a_resistor_in_the_wrong_place_is_said():
    report = report_on(8, resistors=("21,5=470",), resistor=470.0)
    report_none = report_on(8, resistor=470.0)
    assert (
        "it is between 5 and 21" in report.of(Result.UNSURE)[0].sentence
        if report.of(Result.UNSURE)
        else report.result is Result.FINE
    )
    assert "there is none in the socket" in report_none.of(Result.UNSURE)[0].sentence


def test_a_chip_in_the_socket():
    with Fixture(seed=9) as board:
        board.insert(str(PAGE.parents[1] / "tests" / "demo" / "sound.toml"))
        with Device(board.line) as device:
            report = selftest(device, FIXTURE, lambda *_: None)
        assert not board.violations
    assert "as a chip's do" in report.not_empty and report.result is Result.UNSURE


def test_progress_goes_from_nothing_to_all():
    seen = []
    with Fixture(seed=9) as board, Device(board.line) as device:
        selftest(device, FIXTURE, lambda *step: seen.append(step))
    assert [done for _, done, _ in seen] == list(range(len(seen))) and seen[-1][1] == seen[-1][2]
