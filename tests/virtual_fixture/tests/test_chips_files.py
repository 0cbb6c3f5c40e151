"""Chip files: every mistake with file, line, column, found, expected; several at once.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

from pathlib import Path

import pytest

from virtual_fixture.chips import ChipFileError, load
from virtual_fixture.chips.keyplaces import key_places


def mistakes(tmp_path: Path, text: str) -> list[tuple[int, int, str, str]]:
    path = tmp_path / "chip.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ChipFileError) as caught:
        load(path, 1)
    assert all(str(m).startswith(f"{path}:{m.line}:{m.column}: found ") for m in
               caught.value.mistakes)
    return [(m.line, m.column, m.found, m.expected) for m in caught.value.mistakes]


def test_syntax(tmp_path: Path) -> None:
    (line, column, found, expected), = mistakes(tmp_path, 'part = "7400"\n[[fault]\n')
    assert (line, column) == (2, 8) and "TOML" in expected


def test_unended_file(tmp_path: Path) -> None:
    (line, _, found, expected), = mistakes(tmp_path, 'part = "7400"\nnote = "')
    assert line == 2 and "TOML" in expected


def test_several_at_once(tmp_path: Path) -> None:
    found = mistakes(tmp_path, '''\
part = "7400"
colour = "black"
[[fault]]
kind = "stuck"
pin = 15
level = "middle"
[[fault]]
kind = "beta"
  pin = "1A"
[[fault]]
kind = "melted"
[pin.1Y]
sink_ohms = 3
''')
    assert [(line, column, what) for line, column, what, _ in found] == [
        (2, 1, "'colour'"), (5, 1, "15"), (6, 1, "'middle'"), (7, 1, "no 'beta'"),
        (9, 3, "pin 1 (1A)"), (11, 1, "'melted'"), (13, 1, "'sink_ohms'")]
    assert "low" in found[2][3] and "1Y 2Y 3Y 4Y" in found[4][3]


@pytest.mark.parametrize(("text", "line", "found", "expected"), [
    ("", 1, "None", "part"),
    ('part = "74LS9999"\n', 1, "'74LS9999'", "a number with a behaviour"),
    ('part = "LM741"\n', 1, "'LM741'", "part name"),
    ('part = 7400\n', 1, "7400", "part"),
    ('part = "7400"\nfault = 3\n', 2, "a int", "[[fault]]"),
    ('part = "7400"\nspread = 2\n', 2, "2", "full family spread"),
    ('part = "7400"\n[[fault]]\nkind = "leak"\npin = 1\nto = "GND"\n', 2, "a leak with both",
     "either"),
    ('part = "7400"\n[[fault]]\nkind = "series"\npin = 1\nohms = 0\n', 5, "0", "above 0"),
    ('part = "7400"\n[[fault]]\nkind = "series"\npin = 1\nohms = true\n', 5, "True", "above 0"),
    ('part = "7400"\n[[fault]]\nkind = "shifted"\nrows = 9\n', 4, "9", "-5..5"),
    ('part = "7400"\n[[fault]]\nkind = "dead"\npin = 3\nvolts = 1\n', 5, "'volts'", "only"),
    ('part = "7400"\n[[curve]]\npin = 3\nstate = "low"\npoints = [[0, 0]]\n', 5,
     "something else", "2..64 pairs"),
    ('part = "7400"\n[[curve]]\npin = 3\nstate = "low"\npoints = [[0, 0],\n [0, 1]]\n', 5,
     "volts that do not rise", "rising"),
    ('part = "7400"\n[[curve]]\npin = 3\nstate = "low"\npoints = [[0, 1], [1, 0]]\n', 5,
     "amperes that fall", "never falls"),
    ('part = "7400"\n[[curve]]\npin = 3\nstate = "warm"\npoints = [[0, 1], [1, 2]]\n', 4,
     "'warm'", "low, high, off, input"),
    ('part = "7400"\n[[curve]]\npin = 1\nstate = "low"\npoints = [[0, 1], [1, 2]]\n', 3,
     "pin 1 (1A)", "an output"),
    ('part = "7400"\nsupply_ma = 4\n', 2, "4", "[low, high]"),
    ('part = "7400"\n[[curve]]\npin = 3\nstate = "low"\nshared = [1]\npoints = [[0, 1], [1, 2]]\n', 5,
     "[1]", "an input's curve"),
    ('part = "7411"\n[parameters]\nbata = 3\n', 3, "'bata'", "families.toml"),
    ('part = "7400"\n[pin.15]\nbeta = 3\n', 2, "15", "a pin 1..14"),
    ('socket = "emty"\n', 1, "'emty'", '"empty"'),
])
def test_one_mistake(tmp_path: Path, text: str, line: int, found: str, expected: str) -> None:
    (at, _, what, wanted), = mistakes(tmp_path, text)
    assert at == line and found in what and expected in wanted


def test_missing_file() -> None:
    with pytest.raises(ChipFileError, match="no readable file"):
        load("/nowhere/chip.toml", 1)


def test_key_places() -> None:
    places = key_places('a = 1\n[[x]]\n  b = [1,\n   2]\n[[x]]\nb = { c = 2 } # d = 3\n'
                        '[y.z]\n"q r" = "[["\n')
    assert places[("a",)] == (1, 1)
    assert places[("x", 0, "b")] == (3, 3)
    assert places[("x", 1, "b", "c")] == (6, 7)
    assert ("x", 1, "d") not in places
    assert places[("y", "z")] == (7, 1)
    assert places[("y", "z", "q r")] == (8, 1)


def test_pin_by_number_or_name() -> None:
    for pin in (3, "1Y"):
        chip = load({"part": "7400", "fault": [{"kind": "beta", "pin": pin, "beta": 6}]}, 1)
        assert chip.truth()["faults"] == [{"kind": "beta", "pin": 3, "beta": 6.0}]
