"""`sagbench explain`: one figure, one line a pin, all names; and one sentence for what is not there.

SPDX-License-Identifier: MIT
"""

import json
from dataclasses import replace

import pytest
from host.report import examples

from sagbench.cli.main import main
from sagbench.record import Contribution, Measured, Quantity
from sagbench.report.codec import to_json


@pytest.fixture
def file(tmp_path):
    made = examples.sound_inverter()
    value = Quantity(0.2, 0.01, "V", (Contribution("vref", 0.005),))
    pins = tuple(replace(p, measured=(Measured("VOL", p.pin, value),) if p.pin in (2, 4) else ()) for p in made.pins)
    chip = Measured("ICC", 0, Quantity(4e-3, 1e-4, "A", (Contribution("shunt", 5e-5),)))
    path = tmp_path / "chip.json"
    path.write_text(to_json(replace(made, pins=pins, measured=(chip,))), encoding="utf-8")
    return str(path)


def test_a_pin_by_number_or_name_gives_its_budget(file, capsys):
    assert main(["explain", file, "VOL", "2"]) == 0
    by_number = capsys.readouterr().out
    assert main(["explain", file, "vol", "1y"]) == 0
    assert capsys.readouterr().out == by_number
    assert "2.5 V reference" in by_number and "U9" in by_number and "100 %" in by_number


def test_without_a_pin_each_is_one_line_and_a_figure_of_the_chip_is_explained_at_once(file, capsys):
    assert main(["explain", file, "VOL"]) == 0
    assert [line.split(":")[0] for line in capsys.readouterr().out.splitlines()[:2]] == ["VOL of pin 2 (1Y)", "VOL of pin 4 (2Y)"]
    assert main(["explain", file, "ICC"]) == 0
    assert "R320" in capsys.readouterr().out


def test_without_a_quantity_all_names_are_listed_and_plain_is_ascii(file, capsys):
    assert main(["explain", file]) == 0
    assert capsys.readouterr().out.split() == ["ICC", "chip", "VOL", "pins", "2", "4"]
    assert main(["explain", file, "VOL", "2", "--plain"]) == 0
    assert capsys.readouterr().out.isascii()


@pytest.mark.parametrize(
    ("words", "said"),
    [(["IOS"], "no figure IOS; it has ICC, VOL"), (["VOL", "1"], "no VOL of pin 1; it has it of pins 2 4"),
     (["VOL", "99"], "has no pin 99")],
)
def test_what_is_not_there_is_said_in_one_sentence(file, capsys, words, said):
    assert main(["explain", file, *words]) == 2
    error = capsys.readouterr().err
    assert said in error and error.count("\n") == 1


def test_a_record_without_figures_is_from_an_older_version(file, tmp_path, capsys):
    data = json.loads((tmp_path / "chip.json").read_text())
    data["measured"] = []
    for pin in data["pins"]:
        pin["measured"] = []
    (tmp_path / "old.json").write_text(json.dumps(data))
    assert main(["explain", str(tmp_path / "old.json"), "VOL"]) == 2
    assert "no measured figures" in capsys.readouterr().err
