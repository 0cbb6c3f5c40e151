"""A fixture whose firmware was made from a wiring that this host does not know: named, with the way out, exit code 3.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

from dataclasses import replace

import pytest
from sagbench.cli.main import main
from sagbench.errors import DeviceError
from sagbench.plan import fixture

from hardware.wiring import load
from rig import virtual_port


def test_the_sentence() -> None:
    with pytest.raises(DeviceError) as told:
        fixture.fixture_of(0xDEADBEEF)
    said = str(told.value)
    assert "wiring DEADBEEF" in said and f"bench24 {load().id:08X}" in said
    assert "same release" in said and "make generate" in said and "\n" not in said


def test_the_command_says_it(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """The real image reports its own wiring; this host has only descriptions of others."""
    known = fixture.load_fixture
    monkeypatch.setattr(fixture, "load_fixture", lambda name: replace(known(name), wiring_id=known(name).wiring_id ^ 1))
    with virtual_port(None, 1, "--fast") as port:
        ended = main(["sweep", "74LS00", "--port", port, "--quiet"])
    said = capsys.readouterr().err
    assert ended == 3
    assert f"wiring {load().id:08X}, which this sagbench does not know" in said and "Traceback" not in said
