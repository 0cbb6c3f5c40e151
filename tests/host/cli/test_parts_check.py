# SPDX-License-Identifier: MIT
"""`sagbench parts check` and `show`: alias files, parts no fixture takes, parts that are tried at rest only."""
import json

import pytest

from sagbench.cli.main import main
from sagbench.cli.parts.new import START

PINS = '"1A", "1Y", {middle}"GND", {rest}"VCC"'
# The file that `parts new` begins with, from a book of one's own.
FILE = START.replace("{function}", "1034").replace("{family}", "LS").replace('sources = ["memory"]', 'sources = ["My book, 1979"]')


@pytest.fixture
def own(tmp_path, monkeypatch):
    monkeypatch.setenv("SAGBENCH_PARTS", str(tmp_path))
    monkeypatch.setenv("COLUMNS", "80")
    return tmp_path


def wide(pins):
    """A file with so many pins, ground and supply in the corners."""
    half = pins // 2
    return FILE.format(pins=PINS.format(middle='"NC", ' * (half - 3), rest='"NC", ' * (half - 1)))


def test_house_numbers_are_checked_with_the_rest(own, capsys):
    (own / "aliases.toml").write_text('[alias]\n"1826-0001" = "7400"\n"19-2" = "74LS1034"\n')
    (own / "1034.toml").write_text(wide(14))
    assert main(["parts", "check"]) == 0
    assert f"{own / 'aliases.toml'}: OK\n  2 house numbers\n" in capsys.readouterr().out
    (own / "aliases.toml").write_text('[alias]\n"a" = "7400"\n"A" = "74LS999"\nb = 5\n')
    assert main(["parts", "check", str(own / "aliases.toml"), "--json"]) == 2
    [told] = json.loads(capsys.readouterr().out)
    assert [m.split(": ")[0].removeprefix(str(own)) for m in told["mistakes"]] == [
        "/aliases.toml:3:1", "/aliases.toml:3:7", "/aliases.toml:4:5"]


@pytest.mark.parametrize(("pins", "says"), [(14, ""), (24, ""), (28, "it has 28 pins, and the socket takes 24"), (40, "it has 40 pins")])
def test_a_part_too_large_for_the_socket_is_kept_and_said(own, capsys, pins, says):
    (own / "1034.toml").write_text(wide(pins))
    assert main(["parts", "check"]) == 0
    checked = " ".join(capsys.readouterr().out.split())
    assert main(["parts", "show", "74LS1034"]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    for text in (checked, shown):
        assert ("cannot be swept" in text) == bool(says) and says in text


def test_a_supply_pin_where_the_socket_has_no_switch_is_said(own, capsys):
    (own / "1034.toml").write_text(FILE.format(pins='"1A", "VCC", "1Y", "NC", "NC", "NC", "GND", ' + ", ".join(['"NC"'] * 7)))
    assert main(["parts", "check"]) == 0
    assert "no switches for pin 2 (VCC)" in " ".join(capsys.readouterr().out.split())


def test_a_source_in_ones_own_words_is_shown(own, capsys):
    (own / "1034.toml").write_text(wide(14))
    assert main(["parts", "show", "74LS1034"]) == 0
    assert "- My book, 1979: as the part file names it" in capsys.readouterr().out


@pytest.mark.parametrize("part,note,formula", [
    ("74123", "timed coarsely", "width = 0.28 R C; R 5 to 50 kohm [memory]"),
    ("74LS221", "timed coarsely", "no formula for a capacitor to ground"),
    ("4538", "timed coarsely", "1Q: 1B rising with 1A=1 1B=0 1RST=1; R at 1RCX"),
    ("9602", "timed coarsely", "1Q: 1A falling with 1A=1 1B=0 1CLR=1; R at 1RCX"),
    ("4047", "what triggers a pulse, and its length, are not tried", "what they do is not tried")])
def test_of_a_monostable_it_is_said_what_is_tried(own, capsys, part, note, formula):
    """Its pulse if the file says how; the rest of what shows only in a pulse is not."""
    assert main(["parts", "show", part]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert note in told and formula in told
    assert "missed: all that shows only in a pulse" in told and "stuck at" not in told
    assert main(["parts", "show", part, "--json"]) == 0
    assert any(note in said for said in json.loads(capsys.readouterr().out)["notes"])


@pytest.mark.parametrize(("change", "says"), [
    (('"1034"', '"x1"'), 'found "x1", expected a type\'s number, such as "04", "4011" or "8T26"'),
    (('"NC"', '"1-"'), 'expected a name of letters and digits, not digits alone'),
])
def test_the_form_of_a_word_is_told_in_words_not_as_a_pattern(own, capsys, change, says):
    (own / "1034.toml").write_text(wide(14).replace(*change, 1))
    assert main(["parts", "check", str(own / "1034.toml")]) == 2
    said = " ".join(capsys.readouterr().out.split())
    assert says in said and "[A-Z" not in said
