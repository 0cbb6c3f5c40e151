"""House numbers of makers of equipment, and the alias file.

Sources: Hewlett-Packard's 1820 and Digital's 19 numbers, Fairchild's 9N00 and 9300, Signetics' 8200 series, all from memory.

SPDX-License-Identifier: MIT
"""
from pathlib import Path

import pytest

from sagbench.errors import NotInFamily, PartFileError, UnknownPart
from sagbench.parts import aliases, load_part
from sagbench.parts.lookup import file_names, user_files


@pytest.mark.parametrize(("text", "name"), [
    ("1820-0054", "7400"), ("1820 1112", "74LS74A"), ("19-05547", "7474"), ("N8280A", "74176"), ("9390PC", "7490A"), ("93153DC", "74153"),
    ("AM27S03PC", "74S189"), ("9N04", "7404"), ("F9H00DC", "74H00"), ("9LS00", "74LS00"), ("1820-0054 8432", "7400"),
])
def test_numbers_of_the_trade(text: str, name: str) -> None:
    assert load_part(text).name == name


def test_what_is_taken_for_what_is_said() -> None:
    assert load_part("1820-0054").notes[0] == "1820-0054 is taken for a 7400 (from memory)"
    assert not any("taken for" in note for note in load_part("7400").notes)


def test_the_librarys_numbers_stand_for_parts_of_the_library() -> None:
    table = aliases.read(aliases.OWN, file_names())
    assert len(table) > 70
    for number, part in table.items():
        assert load_part(number).name.startswith(load_part(part).name)


def test_the_users_number_rules(tmp_path: Path) -> None:
    (tmp_path / aliases.FILE).write_text('[alias]\n"1820-0054" = "SN74LS02N"\n"7400" = "7402"\n"ABC 12" = "CD4011"\n')
    for text, name in (("1820-0054", "74LS02"), ("7400", "7402"), ("abc-12", "4011B"), ("1820-1197", "74LS00"), ("7404", "7404")):
        assert load_part(text, user_dirs=[tmp_path]).name == name
    assert load_part("abc 12", user_dirs=[tmp_path]).notes[0] == "abc 12 is taken for a CD4011 (aliases.toml)"
    assert load_part("7400").name == "7400"
    with pytest.raises(UnknownPart):
        load_part("ABC 13", user_dirs=[tmp_path])
    assert user_files([tmp_path]) == []                      # it is no part file


def test_a_later_folder_rules(tmp_path: Path) -> None:
    for name, part in (("one", "7400"), ("two", "7402")):
        (tmp_path / name).mkdir()
        (tmp_path / name / aliases.FILE).write_text(f'[alias]\nX1 = "{part}"\n')
    assert load_part("X1", user_dirs=[tmp_path / "one", tmp_path / "two"]).name == "7402"


def test_a_part_that_never_existed_is_told(tmp_path: Path) -> None:
    (tmp_path / aliases.FILE).write_text('[alias]\nX1 = "74LS64"\n')
    with pytest.raises(NotInFamily, match="74S64"):
        load_part("X1", user_dirs=[tmp_path])


@pytest.mark.parametrize(("text", "place", "part"), [
    ('[alias]\n"12-34" = "74000"\n', "2:11", "nearest names: 7400"),
    ('[alias]\n"12-34" = 7400\n', "2:11", "a string in quotes"),
    ('[alias]\n"12-34" = "7400"\n"12 34" = "7402"\n', "3:1", "a second time"),
    ('[alias]\n" - " = "7400"\n', "2:1", "a number as it is printed"),
    ('[aliases]\n"12-34" = "7400"\n', "1:1", 'did you mean "alias"?'),
    ('alias = 3\n', "1:9", "a table"),
    ('[alias]\n"12-34" = 7400"\n', "2:15", "valid TOML"),
])
def test_mistakes_are_told_with_their_place(tmp_path: Path, text: str, place: str, part: str) -> None:
    (tmp_path / aliases.FILE).write_text(text)
    with pytest.raises(PartFileError) as caught:
        load_part("7400", user_dirs=[tmp_path])
    assert any(f"aliases.toml:{place}: found" in line and part in line for line in caught.value.mistakes), caught.value.mistakes


def test_file_that_is_no_text(tmp_path: Path) -> None:
    (tmp_path / aliases.FILE).write_bytes(b"[alias]\n\xff")
    with pytest.raises(PartFileError, match="UTF-8"):
        load_part("7400", user_dirs=[tmp_path])
