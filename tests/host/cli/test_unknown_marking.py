# SPDX-License-Identifier: MIT
"""A marking that names no part: the sentence sends the user to a verb that exists, and stays a sentence."""
import pytest

from sagbench.cli.main import main


def test_the_verb_it_names_is_there(capsys):
    assert main(["sweep", "????"]) == 2
    said = capsys.readouterr().err
    assert said == 'sagbench: no part "????" in the library; `sagbench parts` lists what there is\n'
    assert main(["parts"]) == 0


@pytest.mark.parametrize("length, shown", [(40, "z" * 40), (41, "z" * 37 + "..."), (5000, "z" * 37 + "...")])
def test_an_overlong_marking_is_shortened(capsys, length, shown):
    assert main(["sweep", "z" * length]) == 2
    assert capsys.readouterr().err.startswith(f'sagbench: no part "{shown}" in the library;')
