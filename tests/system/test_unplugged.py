"""The fixture is unplugged in the middle of a sweep and plugged in again: the run ends, what it had is kept, and the next one is whole.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest

import rig
from faults.cable import Cable

CHIP = rig.ROOT / "tests/virtual_fixture/chips/demo/sound_7400.toml"
PART = "7400"


@pytest.fixture(scope="module")
def fixture() -> Iterator[rig.VirtualFixture]:
    with rig.virtual_fixture("--chip", str(CHIP), "--seed", "7", "--fast") as made:
        yield made


def test_unplugged_and_plugged_in_again(fixture: rig.VirtualFixture, tmp_path: Path) -> None:
    port, kept = tmp_path / "port", tmp_path / "kept.json"
    with Cable(fixture.port, port) as cable:
        whole = rig.sagbench("sweep", PART, "--port", str(port))
        assert whole.returncode == 0, whole.stderr
        total, measured = cable.carried, -1
        for share in (0.1, 0.5, 0.9):
            cable.pull_after(int(total * share))
            done = rig.sagbench("sweep", PART, "--port", str(port), "--json", str(kept))
            assert not cable.plugged
            assert done.returncode == 3 and "Traceback" not in done.stderr, done.stderr
            assert "has gone" in " ".join(done.stderr.split())
            record = json.loads(kept.read_text())
            assert record["verdict"] == "not finished" and record["partial"]
            assert measured < (measured := len(record["measured"]))        # the later, the more is kept
            fixture.command("reset")                                       # its supply was the cable's
            cable.plug()
        again = rig.sagbench("sweep", PART, "--port", str(port))
        assert again.returncode == 0 and "SOUND" in again.stdout, again.stderr


def test_a_port_that_is_not_there_any_more_is_named(fixture: rig.VirtualFixture, tmp_path: Path) -> None:
    with Cable(fixture.port, tmp_path / "port") as cable:
        cable.pull()
        done = rig.sagbench("sweep", PART, "--port", str(tmp_path / "port"))
    assert done.returncode == 3 and "There is no port" in done.stderr
