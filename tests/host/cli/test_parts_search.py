# SPDX-License-Identifier: MIT
"""`sagbench parts` and `parts find`: search in words.

What must be found is common knowledge of the trade: which number is which function (data-book
indexes, from memory), and which words people use for the same thing (common practice).
"""
import json
from pathlib import Path

import platformdirs.macos
import platformdirs.unix
import platformdirs.windows
import pytest

from sagbench.cli.main import main
from sagbench.cli.parts import words
from sagbench.errors import UsageError
from sagbench.parts import userdir


@pytest.fixture(autouse=True)
def own(tmp_path, monkeypatch):
    """A folder of the test's own in place of the user's."""
    monkeypatch.setenv("SAGBENCH_PARTS", str(tmp_path / "own"))
    monkeypatch.delenv("COLUMNS", raising=False)
    return tmp_path / "own"


def found(capsys, *words):
    """Function numbers, in the order they are listed."""
    assert main(["parts", *words, "--json"]) == 0
    return [row["function"] for row in json.loads(capsys.readouterr().out)]


@pytest.mark.parametrize("query, wanted, unwanted", [
    ("dual 4-input nor", {"25", "4002"}, {"20", "02", "260"}),
    ("dual 4 input NOR gate", {"25"}, {"20"}),
    ("hex inverter open collector", {"05", "06", "16"}, {"04", "07"}),
    ("hex not gate", {"04"}, {"07"}),
    ("quad 2-input nand", {"00", "03"}, {"08", "10", "02"}),
    ("quad two-input and", {"08", "09"}, {"00"}),
    ("xor", {"86"}, {"32"}),
    ("mux tri-state", {"251", "257"}, {"138", "157"}),
    ("3 to 8 decoder", {"138"}, {"154", "42"}),
    ("octal latch 3-state", {"373", "573"}, {"374"}),
    ("octal flip flop", {"273", "374"}, {"373"}),
    ("jk flip-flop preset", {"76", "112"}, {"74", "73"}),
    ("alu", {"181"}, {"83"}),
    ("4-bit binary counter", {"93", "161", "163"}, {"90", "160"}),
    ("schmitt inverter", {"14"}, {"13", "04"}),
    ("seven segment decoder", {"47"}, {"42"}),
    ("8-bit shift register", {"164", "165"}, {"194"}),
    ("bus transceiver", {"245"}, {"244"}),
    ("full adder", {"83", "283"}, {"85"}),
])
def test_functions_are_found_in_the_words_of_the_trade(capsys, query, wanted, unwanted):
    for verb in ((), ("find",)):
        got = set(found(capsys, *verb, *query.split()))
        assert wanted <= got and not unwanted & got, sorted(got)


def test_a_number_is_found_in_any_of_its_names(capsys):
    for name in ("74LS04", "74ls04", "04"):
        assert found(capsys, name)[0] == "04"


@pytest.mark.parametrize("one, other", [
    ("four two-input", "quad 2-input"), ("mux", "data selector"), ("JK", "J-K"), ("tristate", "three state"),
    ("decoders", "demultiplexer"), ("3-line to 8-line", "3 to 8"), ("exclusive-OR gates", "xor"), ("OC", "open collector"),
])
def test_words_that_mean_the_same(one, other):
    assert words.terms(one) == words.terms(other)


def test_words_that_do_not_mean_the_same():
    assert words.missing(["nor"], (), "quad 2-input NAND gate") == ["nor"]
    assert words.missing(["or"], (), "dual 4-input NOR gate") == ["or"]
    assert words.missing(["and"], (), "quad 2-input NAND gate") == ["and"]


def test_nothing_found_says_which_word_is_to_blame(capsys):
    assert main(["parts", "find", "hex", "flurb"]) == 2
    assert capsys.readouterr().err == "sagbench: no part has 'flurb'; `sagbench parts` without words lists all.\n"
    assert main(["parts", "find", "hex", "nand", "schmitt"]) == 2
    assert "together; the nearest is" in capsys.readouterr().err


def test_the_list_reads_at_80_columns(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    assert main(["parts"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].split() == ["number", "pins", "title", "families"]
    assert max(map(len, lines)) <= 80 and all(line.isascii() for line in lines)


def test_a_pipe_gets_one_line_a_function(capsys):
    assert main(["parts"]) == 0
    listed = [line.split()[0] for line in capsys.readouterr().out.splitlines()]
    assert len(listed) == len(set(listed)) > 300 and listed == found(capsys)


MINE = 'function = "04"\ntitle = "my inverter"\n[[pinout]]\npins = ["A", "GND", "Y", "VCC"]\n[[block]]\n' \
       'inputs = ["A"]\noutputs = ["Y"]\nlogic = ["Y = !A"]\n[family.LS]\n'


def test_a_file_of_ones_own_rules_in_every_verb_and_is_marked(capsys, own, monkeypatch):
    own.mkdir()
    (own / "whatever.toml").write_text(MINE)
    assert main(["parts", "my inverter"]) == 0
    assert capsys.readouterr().out == "04*     4 pins  my inverter: LS\n"
    assert main(["parts", "show", "74LS04"]) == 0
    told = capsys.readouterr().out
    assert f"defined by {own / 'whatever.toml'}" in told.replace("\n  ", " ") and "in place of the library's own" in told.replace("\n  ", " ")
    from sagbench.cli.sweep import find_part
    part = find_part("74LS04", [])
    assert part.title == "my inverter" and part.notes[-1] == f"defined by {own / 'whatever.toml'}, in place of the library's own"


def test_an_empty_variable_means_no_folder(capsys, own, monkeypatch):
    own.mkdir()
    (own / "04.toml").write_text(MINE)
    monkeypatch.setenv("SAGBENCH_PARTS", "")
    assert main(["parts", "74ls04"]) == 0
    assert "my inverter" not in capsys.readouterr().out


def test_a_file_with_mistakes_does_not_hide_the_others(capsys, own):
    own.mkdir()
    (own / "04.toml").write_text(MINE.replace("Y = !A", "Y = !B"))
    assert main(["parts", "hex"]) == 0
    captured = capsys.readouterr()
    assert "05 " in captured.out and f"{own / '04.toml'} is left out, it has 1 mistake;" in captured.err


@pytest.mark.parametrize("platform, referee", [("linux", platformdirs.unix.Unix), ("darwin", platformdirs.macos.MacOS),
                                               ("win32", platformdirs.windows.Windows)])
def test_the_folder_is_where_platformdirs_would_have_it(platform, referee, monkeypatch, tmp_path):
    """Outside reference: PyPI platformdirs 4.9.4."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CONFIG_HOME", raising=False)
    environment = {"HOME": str(tmp_path), "LOCALAPPDATA": str(tmp_path / "AppData" / "Local")}
    if platform == "win32":
        monkeypatch.setattr(platformdirs.windows, "get_win_folder", lambda name: environment["LOCALAPPDATA"])
    theirs = Path(referee("sagbench", appauthor=False).user_config_dir) / "parts"
    assert userdir.folder(environment, platform) == theirs


def test_the_xdg_variable_counts_if_it_is_absolute():
    """XDG Base Directory Specification 0.8: relative paths are to be ignored."""
    assert userdir.folder({"HOME": "/h", "XDG_CONFIG_HOME": "/x"}, "linux") == Path("/x/sagbench/parts")
    assert userdir.folder({"HOME": "/h", "XDG_CONFIG_HOME": "x"}, "linux") == Path("/h/.config/sagbench/parts")
    assert userdir.folder({"HOME": "/h", "SAGBENCH_PARTS": "/p"}, "win32") == Path("/p")


def test_a_folder_given_must_be_there(own):
    assert userdir.folders() == []
    own.mkdir()
    assert userdir.folders([str(own)]) == [str(own), str(own)]
    with pytest.raises(UsageError, match="there is no folder /no/such"):
        userdir.folders(["/no/such"])


@pytest.mark.parametrize("spoil", [lambda path: path.mkdir(), lambda path: path.symlink_to("/no/such/file")], ids=["folder", "dangling"])
@pytest.mark.parametrize("words", [("parts",), ("parts", "show", "74LS04"), ("parts", "check"), ("sweep", "74LS04", "--port", "/dev/null")],
                         ids=lambda words: " ".join(words[:2]))
def test_a_part_file_that_cannot_be_read_is_said_in_a_sentence(own, capsys, spoil, words):
    own.mkdir()
    spoil(own / "x.toml")
    assert main([*words]) == 2
    error = capsys.readouterr().err
    assert error.count("\n") == 1 and f"{own / 'x.toml'} cannot be read" in error and "move it out" in error
