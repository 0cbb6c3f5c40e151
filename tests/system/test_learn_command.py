"""`sagbench learn` with a virtual chip in a virtual fixture: the draft, its check, its vectors, a second specimen.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from pathlib import Path

import pytest
import rig
from inprocess import BOOT_S
from learn_here import learnt_here

from sagbench.cli.learn import _named, run
from sagbench.cli.parts.check import checked
from sagbench.device import Device
from sagbench.learn.draft import About
from sagbench.learn.socket import NotLearnt, compare_here, powered
from sagbench.parts.lookup import load_file
from virtual_fixture.inproc import Fixture

ABOUT = About("9314", "LS", 14, (14,), (7,))


def test_a_schmitt_inverter_is_learnt_and_a_bad_second_specimen_told(tmp_path: Path) -> None:
    tried, _, violations = learnt_here({"part": "74LS14"}, ABOUT)
    assert violations == [] and tried.passed
    text = tried.result.draft.text
    assert 'each = ["1", "2", "3", "4", "5", "6"]' in text and 'schmitt = ["{}A"]' in text and '"{}Y = !{}A"' in text
    path = tmp_path / "9314.toml"
    path.write_text(text)
    assert checked(path).mistakes == ()
    for fault, differing in (([], set()), ([{"kind": "stuck", "pin": "3Y", "level": "low"}], {6})):
        with Fixture(seed=9) as fixture:
            fixture.insert({"part": "74LS14", "fault": fault})
            fixture.run(BOOT_S)
            with Device(fixture.line) as device:
                found = compare_here(device, load_file(path), "LS")
            assert {one.pin for one in found.differences} == differing and found.looks > 3001       # the draft's own test too


def test_a_chip_whose_rails_are_elsewhere_is_not_powered() -> None:
    with Fixture(seed=7) as fixture:
        fixture.insert({"part": "74LS93"})                # supply at 5, ground at 10
        fixture.run(BOOT_S)
        with Device(fixture.line) as device, pytest.raises(NotLearnt, match="not powered"):
            powered(device, ABOUT)
        assert fixture.violations == []


def test_the_command_says_what_it_lacks(tmp_path: Path) -> None:
    for words, told in ((("74LS9314",), "--pins"), (("74LS9314", "--pins", "14", "--power", "7"), "such as 14,7"),
                        (("74LS9314", "--pins", "14", "--output", str(tmp_path)), "is there already")):  # fmt: skip
        done = rig.sagbench("learn", *words)
        assert done.returncode == 2 and told in done.stderr and "Traceback" not in done.stderr, done.stderr


def test_the_draft_as_data_and_a_count_of_pins_that_is_wrong(tmp_path: Path) -> None:
    chip = tmp_path / "chip.toml"
    chip.write_text('part = "74LS00"\n')
    with rig.virtual_port(chip, 7, "--fast") as port:
        done = rig.sagbench("learn", "74LS9300", "--pins", "14", "--power", "14,7", "--json", "--port", port)
        wrong = rig.sagbench("learn", "74LS9300", "--pins", "16", "--port", port)
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert [(one["pin"], one["role"], one["confidence"]) for one in told["outputs"]] == [(pin, "output", 1.0) for pin in (3, 6, 8, 11)]
    assert told["own_test"]["passed"] and told["own_test"]["checks"] > 0 and told["not_reached"] == {} and told["state_bits"] == 0
    assert wrong.returncode == 2 and "a chip of 14 pins, not 16" in wrong.stderr and "not powered" in wrong.stderr
    assert "[[pinout]]" in told["draft"]


@pytest.mark.parametrize(("words", "code", "told"), [
    (("9314XX", "--family", "DTL"), 2, "No 9314 can be called by its family DTL"),
    (("74LS9314", "--family", "HC"), 2, "74LS9314 is of the family LS by its name"),
    (("9314XX", "--family", "XX"), 2, "invalid choice: 'XX'"),
])  # fmt: skip
def test_a_family_that_cannot_be_is_refused(words: tuple[str, ...], code: int, told: str) -> None:
    done = rig.sagbench("learn", *words, "--pins", "14", "--power", "14,7")
    assert done.returncode == code and told in done.stderr and "Traceback" not in done.stderr, done.stderr


def learn(patch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], chip: dict[str, object], *words: str) -> tuple[int, str, str]:
    """The command's own `run` with a fixture in this process, whose time no busy machine makes longer: code, output, what it says besides."""
    with Fixture(seed=7) as fixture:
        fixture.insert(chip)
        fixture.run(BOOT_S)
        patch.setattr(Device, "connect", lambda port: Device(fixture.line))
        code = run(words)
    told = capsys.readouterr()
    return code, told.out, told.err


def test_what_was_assumed_what_is_dead_and_a_name_that_the_library_has_are_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A 7400 that was trusted and is bad: its first output has an open bond, its second is stuck; neither is a proven part of the draft.

    It is called by a number that is of no series, and that the library has."""
    faults = [{"kind": "open", "pin": "1Y"}, {"kind": "stuck", "pin": "2Y", "level": "low"}]
    chip: dict[str, object] = {"part": "7400", "fault": faults}
    draft = tmp_path / "9300.toml"
    code, _, told = learn(monkeypatch, capsys, chip, "9300", "--pins", "14", "--power", "14,7", "--output", str(draft))
    assert code == 0, told
    assert "9300 says no family: the figures of TTL, those of the plain 74 series, are assumed. Say another with --family" in told
    assert "The library has a 9300 already" in told
    assert "pins 1, 2, 3, 4 and 5 did nothing that could be seen: not connected, or a dead output, or an input of one" in told, told
    assert "pin 6 never changed, which is what a dead output looks like" in told and "pin 8 never" not in told
    text = draft.read_text()
    assert "# 9300 says no family: the figures of TTL" in text and "[family.TTL]" in text and checked(draft).mistakes == ()
    assert text.count("confidence 0.50  guessed: it did nothing that could be seen") == 5 and "confidence 0.50  guessed: it never changed" in text
    code, same, told = learn(monkeypatch, capsys, chip, "9314XX", "--same-as", str(draft))
    assert code == 0 and "No difference" in same, told


def test_a_family_is_taken_from_the_name_or_from_what_is_said_and_else_assumed() -> None:
    assert _named("9314XX", "LS") == ("9314", "LS", False) and _named("9314XX", None) == ("9314", "TTL", True)
    assert _named("74LS9314", None) == ("9314", "LS", False) and _named("9300", None) == ("9300", "TTL", True)


def test_pulses_of_a_timing_part_are_given_up_early_and_said() -> None:
    """A monostable fires and falls back while no input moves; without that being seen all walks are gone, some 64,000 looks."""
    tried, _, violations = learnt_here({"part": "74LS123"}, About("9323", "LS", 16, (16,), (8,)))
    learnt = tried.result.learnt
    assert violations == [] and learnt.looks < 12_000 and not learnt.memories
    assert set(learnt.missed) <= {13, 4, 5, 12} and len(learnt.missed) >= 2, "Q and Q/ of both halves (data books)"
    assert all("goes back by itself" in why for why in learnt.missed.values())
    assert "not reached: it goes back by itself, with no input changed: pulses of a timing part" in tried.result.draft.text
