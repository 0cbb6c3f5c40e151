# SPDX-License-Identifier: MIT
"""`sagbench replace` as a user types it."""
import json
from pathlib import Path

import pytest

from sagbench.cli.main import main
from sagbench.cli.replace import build_parser

DEAD = ["replace", "74H40", "--drives", "Y: 4x 74H00, 2x 74LS04", "--driven-by", "A: 7404"]


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    monkeypatch.setenv("SAGBENCH_PARTS", str(tmp_path / "own"))
    (tmp_path / "own").mkdir()
    return tmp_path / "own"


def asked(capsys, *words):
    code = main(list(words))
    out = capsys.readouterr()
    return code, out.out, out.err


def test_the_page_shows_the_place_the_ranking_and_the_arithmetic(capsys):
    code, page, _ = asked(capsys, *DEAD)
    text = " ".join(page.split())
    assert code == 0
    assert "Y drives 4x 74H00, 2x 74LS04" in text and "A driven by 7404" in text and "Not told: what drives B C D" in text
    assert "4 x 2 mA (74H00 [ITT74H30]) + 2 x 0.4 mA (74LS04 [SDLS025B]) = 8.8 mA; IOL 20 mA at 0.4 V [ITT74H30]: 44 % of it" in text
    assert text.index(" 1 74H20 same pins fits") < text.index("74LS20 same pins does not fit sinks too little")
    assert all(len(line) <= 79 for line in page.splitlines())


@pytest.mark.parametrize("part", ["74H40", "4011", "74LS161A", "74121", "40103", "8T26", "74181", "930", "7489", "74LS266"])
def test_every_line_keeps_to_79_columns_and_to_ascii_if_wanted(capsys, part):
    for words in ((), ("--all", "--plain")):
        code, page, _ = asked(capsys, "replace", part, *words)
        assert code in (0, 1) and all(len(line) <= 79 for line in page.splitlines())
        assert not words or page.isascii()


def test_json_says_what_the_page_says(capsys):
    code, text, _ = asked(capsys, *DEAD, "--json")
    told = json.loads(text)
    assert code == 0 and told["part"] == "74H40" and told["itself"]["verdict"] == "fits"
    by_name = {fit["part"]: fit for fit in told["replacements"]}
    (low,) = [f for f in by_name["74LS20"]["findings"] if f.get("balance", {}).get("state") == "low" and "1Y" in f["pins"]]
    assert low["weight"] == "bad" and low["balance"]["asked"] == pytest.approx(0.0088) and low["balance"]["able"] == pytest.approx(0.008)
    assert [term["amperes"] for term in low["balance"]["terms"]] == pytest.approx([0.002, 0.0004])
    assert {pin["board"] for pin in by_name["4012B"]["adapter"]} == set(range(1, 15)) - {3, 11}


def test_a_place_file_and_standard_input(capsys, tmp_path, monkeypatch):
    import io
    text = '[drives]\nY = ["4x 74H00", "2x 74LS04"]\n[driven_by]\nA = ["7404"]\n'
    file = tmp_path / "place.toml"
    file.write_text(text)
    typed = asked(capsys, *DEAD)
    assert asked(capsys, "replace", "74H40", "--place", str(file)) == typed
    monkeypatch.setattr("sys.stdin", io.StringIO(text))
    assert asked(capsys, "replace", "74H40", "--place", "-") == typed


def test_by_judges_only_what_is_at_hand(capsys):
    code, page, errors = asked(capsys, *DEAD, "--by", "74LS20", "74L20")
    assert code == 1 and "74LS20" in page and "74S40" not in page and not errors
    code, page, errors = asked(capsys, *DEAD, "--by", "7440", "74LS138")
    assert code == 0 and errors == "sagbench: the 74LS138 does nothing like the 74H40.\n"
    code, page, errors = asked(capsys, *DEAD, "--by", "74H40", "7440")
    assert code == 0 and errors == "sagbench: the 74H40 is itself the part that is to be replaced.\n"


def test_a_part_of_the_users_own_is_proposed(capsys, own):
    (own / "1040.toml").write_text('''
function = "1040"
title = "dual 4-input NAND driver"
sources = ["memory"]
[[pinout]]
pins = ["1A", "1B", "NC", "1C", "1D", "1Y", "GND", "2Y", "2A", "2B", "NC", "2C", "2D", "VCC"]
[[block]]
each = ["1", "2"]
inputs = ["{}A", "{}B", "{}C", "{}D"]
outputs = ["{}Y"]
logic = ["{}Y = !{}A | !{}B | !({}C & {}D)"]
[family]
ALS = {}
''')
    code, page, _ = asked(capsys, "replace", "74H40", "--all")
    assert code == 0 and "74ALS1040" in page


def test_a_broken_file_of_the_users_own_is_told_and_left_out(capsys, own):
    (own / "1041.toml").write_text('function = "1041"\n')
    code, page, errors = asked(capsys, *DEAD)
    assert code == 0 and "1041.toml is left out, it has" in errors and "74H20" in page


@pytest.mark.parametrize(("words", "says"), [
    (["74Q40"], "nearest"), (["74H40", "--drives", "Y 7400"], "expected pins, a colon and a list"),
    (["74H40", "--drives", "Y: 74XX"], "74XX"), (["74H40", "--place", "nowhere.toml"], "nowhere.toml cannot be read"),
    (["74H40", "--by", "nonsense"], "nonsense"), (["7404", "--driven-by", "A: 74LS04.1A"], "expected an output")])
def test_mistakes_get_a_sentence(capsys, words, says):
    code, page, errors = asked(capsys, "replace", *words)
    assert code == 2 and not page and says.lower() in errors.lower() and "Traceback" not in errors


def test_the_readme_shows_what_is_printed(capsys):
    import shlex
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    command = next(line for line in readme.splitlines() if "sagbench replace" in line)
    block = readme.split(command, 1)[1].split("```\n")[1]
    code, page, _ = asked(capsys, *shlex.split(command)[1:])
    assert code == 0 and block.strip()
    for paragraph in block.strip("\n").split("\n\n"):
        assert paragraph in page


def test_the_help_has_an_example_that_runs(capsys):
    import shlex
    told = build_parser().format_help()
    (example,) = [line.strip() for line in told.splitlines() if line.startswith("  sagbench replace")]
    code, page, _ = asked(capsys, *shlex.split(example)[1:])
    assert code == 0 and page and all(len(line) <= 80 for line in told.splitlines())


def test_at_80_columns_the_table_of_the_help_stands_as_it_was_written(monkeypatch):
    """A line too long for the screen would be broken anew and leave a word alone in the wrong column."""
    from sagbench.cli.replace import HELP
    monkeypatch.setenv("COLUMNS", "80")
    told = build_parser().format_help().splitlines()
    written = [line for line in HELP.splitlines() if line.startswith("   ")]
    assert written and [line for line in written if line not in told] == []
