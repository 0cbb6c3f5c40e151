# SPDX-License-Identifier: MIT
"""`sagbench identify` as a command on the virtual fixture: the host's thinking takes real time, and the fixture's lease runs."""
from __future__ import annotations

import json

from rig import ROOT, sagbench, virtual_port

DEMO = ROOT / "tests/virtual_fixture/chips/demo"


def test_an_unmarked_transceiver_is_named_with_its_family():
    with virtual_port(DEMO / "sound_74ls245.toml", 7, "--fast") as port:
        done = sagbench("identify", "--port", port, "--json")
    assert done.returncode == 0, done.stderr
    told = json.loads(done.stdout)
    assert "245" in {f["function"] for f in told["answers"][0]["functions"]} and told["families"][0]["family"] == "LS"
    assert told["settled_without_power"] and told["answers"][0]["readings_wrong"] == 0


def test_a_chip_the_wrong_way_round_is_told_and_not_powered():
    with virtual_port(DEMO / "reversed_7400.toml", 7, "--fast") as port:
        done = sagbench("identify", "--port", port)
    assert done.returncode == 4 and " ".join(done.stdout.split()) == (
        "The chip sits the wrong way round: seat it with pin 1 in position 1. It was not powered.")
