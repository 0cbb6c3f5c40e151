# SPDX-License-Identifier: MIT
"""A marking that names no part: the sentence sends the user to a verb that exists, and stays a sentence."""
import pytest

from sagbench.cli.main import main


def test_the_verb_it_names_is_there(capsys):
    assert main(["sweep", "????"]) == 2
    said = capsys.readouterr().err
    assert said == 'sagbench: no part "????" in the library; `sagbench parts` lists what there is; `sagbench parts new` begins a file of your own\n'
    assert main(["parts"]) == 0


@pytest.mark.parametrize("length, shown", [(40, "z" * 40), (41, "z" * 37 + "..."), (5000, "z" * 37 + "...")])
def test_an_overlong_marking_is_shortened(capsys, length, shown):
    assert main(["sweep", "z" * length]) == 2
    assert capsys.readouterr().err.startswith(f'sagbench: no part "{shown}" in the library;')


@pytest.mark.parametrize(("marking", "why"), [
    ("7460", "bare transistor"), ("SN74326N", "oscillators"), ("26LS32", "differential receivers"), ("74172", "no sure source for its pins"),
])
def test_a_type_left_out_on_purpose_says_why(marking: str, why: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["parts", "show", marking]) == 2
    said = capsys.readouterr().err
    assert "left out on purpose" in said and why in said
