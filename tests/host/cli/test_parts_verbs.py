# SPDX-License-Identifier: MIT
"""`parts show`, `check` and `new`.  Outside references: function tables of the data books, from memory."""
import json
import subprocess
import sys

import jsonschema
import pytest

from sagbench.cli.main import main
from sagbench.cli.parts import VERBS
from sagbench.doubt.statements import lines as statements
from sagbench.parts import load_file, load_part
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.reader import schema
from sagbench.report import functiontable
from sagbench.report.pinout import drawing


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    monkeypatch.setenv("SAGBENCH_PARTS", str(tmp_path / "own"))
    monkeypatch.delenv("COLUMNS", raising=False)
    return tmp_path / "own"


def table(name):
    """(heads, rows) of the first function table of a part."""
    part = load_part(name)
    path = LIBRARY / f"{part.function}.toml"
    made = functiontable.tables(load_file(path).of(part.family or "74"), statements(path, part.family or "74"), tuple(pin.name for pin in part.pins))
    return (made[0].inputs, made[0].outputs), [" ".join(row) for row in made[0].rows], made[0]


def test_the_state_table_of_the_7474_is_the_data_books():
    """TI, SN7474 function table, from memory: PRE L CLR H -> H L; H L -> L H; L L -> H H (both); edge takes D; CLK low holds."""
    heads, rows, made = table("74LS74")
    assert heads == (("1CLR", "1D", "1PRE", "1CLK"), ("1Q", "1QN")) and made.likewise == ("2",)
    assert set(rows) == {"L X L X H H", "L X H X L H", "H X L X H L", "H L H ^ L H", "H H H ^ H L", "H X H - q !q"}


def test_the_state_table_of_a_falling_edge_jk():
    """SN74LS113 (preset, no clear), data-book table from memory: J=K=H toggles, J=K=L holds."""
    heads, rows, _ = table("74LS113")
    assert set(heads[0]) == {"1CLK", "1J", "1K", "1PRE"}
    at = {name: i for i, name in enumerate((*heads[0], *heads[1]))}
    cells = [row.split() for row in rows]

    def q(**want):
        return {row[at["1Q"]] for row in cells if all(row[at["1" + k]] in (v, "X") for k, v in want.items())}
    assert q(PRE="L", CLK="-", J="L", K="L") == {"H"}
    assert q(PRE="H", CLK="v", J="L", K="L") == {"q"} and q(PRE="H", CLK="v", J="H", K="H") == {"!q"}
    assert q(PRE="H", CLK="v", J="H", K="L") == {"H"} and q(PRE="H", CLK="v", J="L", K="H") == {"L"}


def test_the_truth_table_of_the_74138_begins_with_its_enables():
    """SN74LS138, data-book table from memory: G1 low or G2 high, all outputs high; else the addressed one low."""
    heads, rows, _ = table("74LS138")
    off = [row for row in rows if row.endswith("H " * 7 + "H")]
    assert len(rows) == 11 and len(off) == 3
    assert len([row for row in rows if row.split()[6:].count("L") == 1]) == 8
    assert heads[1] == tuple(f"Y{i}" for i in range(8))


def test_a_gate_is_shown_once():
    heads, rows, made = table("74LS00")
    assert rows == ["L L H", "L H H", "H L H", "H H L"] and made.likewise == ("2", "3", "4")


@pytest.mark.parametrize("name", ["74LS163", "74LS245", "74LS181"])
def test_what_no_table_can_say_is_left_to_the_equations(name, capsys):
    assert main(["parts", "show", name]) == 0
    assert "Function: the statements of its part file" in capsys.readouterr().out


@pytest.mark.parametrize("path", sorted(LIBRARY.glob("*.toml"))[::9], ids=lambda p: p.stem)
def test_every_row_of_a_table_is_true_of_every_level_it_leaves_open(path):
    """Held against a machine that is given all levels: no row of a part without memory may be wrong anywhere."""
    from itertools import product

    from sagbench.parts.behaviour import Machine, Network
    definition = load_file(path)
    if definition.registers:
        definition_tables = []
    else:
        family = next(iter(definition.families))
        definition_tables = functiontable.tables(definition, statements(path, family), definition.pinout(family).pins)
    for made in definition_tables:
        seen = set()
        for row in made.rows:
            given, wanted = row[:len(made.inputs)], row[len(made.inputs):]
            open_ = [n for n, cell in zip(made.inputs, given, strict=True) if cell == "X"]
            for levels in product((False, True), repeat=len(open_)):
                put = {n: cell == "H" for n, cell in zip(made.inputs, given, strict=True)} | dict(zip(open_, levels, strict=True))
                key = tuple(put[n] for n in made.inputs)
                assert key not in seen
                seen.add(key)
                machine = Machine(Network(definition))
                machine.set(put)
                for output, cell in zip(made.outputs, wanted, strict=True):
                    low, high, off = machine.output(output)
                    assert {"L": low, "H": high, "Z": off, "?": not low | high | off}[cell] == 1
        assert len(seen) == 2 ** len(made.inputs)


def test_the_drawing_numbers_the_pins_as_a_package_does():
    """Pin 1 at the notch's left, counting down, then up the other side (common practice, JEDEC DIP outlines)."""
    lines = drawing(load_part("74LS245"))
    assert len(lines) == 12
    assert [line.split("|")[0].split()[-1] for line in lines[1:-1]] == [str(n) for n in range(1, 11)]
    assert [line.split("|")[2].split()[0] for line in lines[1:-1]] == [str(n) for n in range(20, 10, -1)]


@pytest.mark.parametrize("name", ["74LS00", "7474", "74LS163", "74LS245", "74181", "4011", "25", "74LS05", "74LS279"])
def test_the_sheet_reads_at_80_columns_and_names_every_source(name, capsys):
    assert main(["parts", "show", name, "--plain"]) == 0
    told = capsys.readouterr().out
    assert max(map(len, told.splitlines())) <= 80 and told.isascii()
    for title in ("Limits", "Supply current", "Logic test", "Sources"):
        assert f"\n{title}\n---" in told
    used = {word.split("]")[0] for word in told.split("Sources\n")[0].split("[")[1:] if word.split("]")[0].isidentifier()}
    assert all(f"- {key}: " in told.split("Sources\n")[1] for key in used), used


def test_the_sheet_has_the_figures_of_the_part(capsys):
    """74LS00: VOL 0.5 V at 8 mA, ICC 1.6 and 4.4 mA (DM74LS00 data sheet)."""
    main(["parts", "show", "74LS00"])
    told = capsys.readouterr().out
    assert "VOL  at 8 mA      at most      0.5 V" in told and "outputs low: at most 4.4 mA" in told
    assert "pins stuck low or high, inputs open: 24 of 24 found" in told
    assert "missed: 1A bridged to 1B, low wins" in told and "no test can show it" in told.replace("\n  ", " ")


def test_a_part_as_json(capsys):
    assert main(["parts", "show", "74LS04", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["name"] == "74LS04" and told["pins"][1]["role"] == "output" and told["limits"]["2"]["vol"][1]["amperes"] == 0.008
    assert told["test"]["percent"]["stuck"] == 100 and len(told["sequence"]) == told["test"]["steps"]


def test_a_part_that_is_none_is_refused_with_what_is_near(capsys):
    assert main(["parts", "show", "flurb"]) == 2
    assert capsys.readouterr().err.startswith('sagbench: no part "flurb"')


FIVE = """\
function = "04"
title = 7
[[pinout]]
pins = ["A", "GND", "Y", "Z", "VCC"]
[[block]]
inputs = ["A"]
outputs = ["Y"]
logic = ["Y = !B"]
[family.LX]
[family.LS]
icc_ma = { high = -1 }
"""


def test_a_file_with_five_mistakes_shows_five(tmp_path, capsys):
    file = tmp_path / "04.toml"
    file.write_text(FIVE)
    assert main(["parts", "check", str(file)]) == 2
    lines = capsys.readouterr().out.splitlines()
    told = [tuple(map(int, line.split(":")[1:3])) for line in lines[:-1]]
    assert [line for line, _ in told] == sorted(line for line, _ in told) and {2, 4, 8, 9, 11} <= {line for line, _ in told}
    assert lines[-1] == f"{len(told)} mistakes in 1 of 1 file" and all(", expected " in line for line in lines[:-1])


def test_check_without_files_takes_all_of_ones_own(own, capsys):
    assert main(["parts", "check"]) == 2
    assert f"no part file of your own in {own}" in capsys.readouterr().err
    for name in ("74LS98", "74LS99"):
        assert main(["parts", "new", name]) == 0
    capsys.readouterr()
    assert main(["parts", "check", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [c["part"] for c in told] == ["74LS98", "74LS99"] and all(c["ok"] and c["steps"] for c in told)


def test_two_files_for_one_function_are_a_mistake(own, capsys):
    assert main(["parts", "new", "74LS99"]) == 0
    (own / "other.toml").write_text((own / "99.toml").read_text())
    assert main(["parts", "check"]) == 2
    assert "other.toml:1:1: found a second definition of the 74LS99" in capsys.readouterr().out


def test_a_file_that_cannot_be_read_is_a_mistake(tmp_path, capsys):
    assert main(["parts", "check", str(tmp_path / "none.toml")]) == 2
    assert "cannot be read (No such file or directory)" in capsys.readouterr().out


@pytest.mark.parametrize("words, file, family", [
    (["74ALS1034"], "1034", "ALS"), (["8T99"], "8T99", "TTL"), (["4099"], "4099", "4000B"), (["99", "--pins", "24"], "99", "LS"),
    (["74LS99", "--like", "74LS74"], "99", "LS"),
])
def test_a_file_that_was_begun_is_sound_and_fits_the_schema(own, capsys, words, file, family):
    import tomllib
    assert main(["parts", "new", *words]) == 0
    assert main(["parts", "check"]) == 0
    data = tomllib.loads((own / f"{file}.toml").read_text())
    jsonschema.validate(data, schema())
    assert data["function"] == file and family in data["family"]
    assert len(data["pinout"][0]["pins"]) == (24 if "--pins" in words else 14)


def test_nothing_is_ever_overwritten(own, capsys):
    own.mkdir()
    (own / "04.toml").write_text("mine")
    assert main(["parts", "new", "74LS04", "--like", "7404"]) == 2
    assert "nothing is overwritten" in capsys.readouterr().err and (own / "04.toml").read_text() == "mine"


@pytest.mark.parametrize("name", ["flurb", "../../etc/x", "74LS04\x1b[2J", ""])
def test_a_name_that_is_none_begins_nothing(own, capsys, name):
    assert main(["parts", "new", name]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1 and "\x1b" not in error and not own.exists()


def test_a_folder_that_is_a_file(tmp_path, capsys, monkeypatch):
    (tmp_path / "own").write_text("")
    assert main(["parts", "new", "74LS99"]) == 2
    assert capsys.readouterr().err.count("\n") == 1


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_has_an_example_and_reads_at_80_columns(verb):
    done = subprocess.run([sys.executable, "-m", "sagbench", "parts", *filter(None, [verb]), "--help"], capture_output=True,
                          text=True, timeout=60, env={"COLUMNS": "80", "PATH": "/usr/bin"})
    assert done.returncode == 0 and "example:\n  sagbench " in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 80


@pytest.mark.parametrize("words", [("sweep",), ("report",), ("fixture", "info")])
def test_the_other_verbs_have_one_too(words, capsys):
    with pytest.raises(SystemExit):
        main([*words, "--help"])
    assert "example:" in capsys.readouterr().out


def test_options_may_stand_before_the_verb(tmp_path, capsys):
    assert main(["parts", "--parts-dir", str(tmp_path), "show", "74LS04", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["name"] == "74LS04"
