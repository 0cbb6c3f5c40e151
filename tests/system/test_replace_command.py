# SPDX-License-Identifier: MIT
"""`sagbench replace` as an installed command, from the repairer's question to an answer for a script."""
from __future__ import annotations

import json

from rig import sagbench


def test_a_dead_74h40_gets_an_answer_without_a_fixture():
    """Common practice: the 74S40 and the 7440 are its pin-compatible kin; a 74LS20 cannot sink 8.8 mA; a 74H21 is no NAND."""
    done = sagbench("replace", "SN74H40N", "--drives", "Y: 4x 74H00, 2x 74LS04", "--driven-by", "A: 7404", "--json")
    assert done.returncode == 0, done.stderr
    verdicts = {fit["part"]: fit["verdict"] for fit in json.loads(done.stdout)["replacements"]}
    assert verdicts["74S40"] == verdicts["7440"] == "fits, see note"
    assert verdicts["74LS20"] == verdicts["74H21"] == "does not fit"


def test_what_cannot_be_is_one_sentence_and_exit_code_2():
    done = sagbench("replace", "7400", "--drives", "Q: 7404")
    assert done.returncode == 2 and not done.stdout
    assert done.stderr == 'sagbench: drives: the 7400 has no output "Q"; it has 1Y 2Y 3Y 4Y.\n'
