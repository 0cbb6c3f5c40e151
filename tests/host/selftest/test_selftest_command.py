"""`sagbench fixture selftest` as a user has it: words, exit codes, JSON.

SPDX-License-Identifier: MIT
"""

import json
import subprocess
import sys

import pytest
import rig


def run(*options, words=()):
    with rig.virtual_fixture("--seed", "3", "--fast", "--pace", "real", *options) as board:
        done = subprocess.run(
            [sys.executable, "-m", "sagbench", "fixture", "selftest", "--port", board.port, *words],
            cwd=rig.ROOT,
            env=rig.ENV,
            text=True,
            capture_output=True,
            timeout=60,
            check=False,
        )
    return done.returncode, done.stdout, done.stderr


def test_a_sound_fixture():
    code, out, err = run("--empty", words=("--all",))
    assert code == 0 and err == "" and max(map(len, out.splitlines())) < 80
    assert "fine: The three registers" in out and out.splitlines()[-1].startswith(
        "The fixture is sound: 12 checks fine, 0 faults"
    )


def test_a_fault_has_exit_code_3_the_part_and_the_page():
    code, out, _ = run("--empty", "--defect", "R105=1500")
    assert code == 3 and out.startswith("FAULT: R105 (the strong line of position 5)")
    assert "1 fault, " in out.splitlines()[-1]
    assert "look at R105; see hardware/SELFTEST.md#resistor-values" in out and "The fixture has a fault" in out


def test_a_socket_that_is_not_empty_has_no_verdict():
    code, out, _ = run("--resistor", "5,20=470")
    assert code == 4 and "The socket is not empty: between positions 5 and 20" in out and "No verdict" in out


def test_json():
    code, out, _ = run("--empty", "--defect", "U9=open", words=("--json",))
    told = json.loads(out)
    assert code == 3 and told["result"] == "fault" and told["not_empty"] == ""
    [fault] = [check for check in told["checks"] if check["result"] == "fault"]
    assert fault["parts"][0] == "U9" and fault["section"] == "reference"


@pytest.mark.parametrize(
    "words, said", [(("--resistor", "x"), "cannot be read"), (("--resistor", "100"), "takes 400 to 1500 ohm")]
)
def test_words_that_cannot_be(words, said, capsys):
    from sagbench.cli.main import main

    assert main(["fixture", "selftest", "--port", "/nowhere", *words]) == 2
    assert said in capsys.readouterr().err


def test_help_names_the_verbs(capsys):
    from sagbench.cli.main import main

    assert main(["fixture"]) == 2
    out = capsys.readouterr().out
    assert all(verb in out for verb in ("info", "selftest", "calibrate"))
