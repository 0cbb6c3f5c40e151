"""The reduced build is the full one without some parts, and mistakes in saying which are told by line.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

from pathlib import Path

import pytest

from hardware import check
from hardware.board.design import components, nets
from hardware.wiring import PATH, REDUCED, Fixture, load

FULL, SMALL = load(), load(REDUCED)
TEXT = REDUCED.read_text()


def _ends(fixture: Fixture) -> dict[str, set[tuple[str, str]]]:
    """Net -> pads on it, the controller's headers left out, for a reduced build has none."""
    return {net: set(pads) for net, pads in nets([c for c in components(fixture) if c.kind != "header"]).items()}


def test_every_part_is_one_of_the_full_build_and_on_the_same_nets() -> None:
    full = {part["ref"]: part for part in FULL["part"]}
    for part in SMALL["part"]:
        other = full[part["ref"]]
        assert {k: v for k, v in part.items() if k != "outputs"} == {k: v for k, v in other.items() if k != "outputs"}
        for mine, theirs in zip(part.get("outputs", []), other.get("outputs", []), strict=True):
            assert mine in ("NC", theirs)
    assert len(SMALL["part"]) < len(FULL["part"])


def test_what_is_joined_is_joined_in_the_full_build_and_nothing_hangs() -> None:
    full = _ends(FULL)
    wires = {wire["net"] for wire in SMALL["controller"]["wires"].values()}
    for net, pads in _ends(SMALL).items():
        assert pads <= full[net], net
        if not (net.startswith("Z") and int(net[1:]) in SMALL["socket"]["absent"]):     # a contact of the socket that is left out
            assert len(pads) > 1 or net in wires, f"{net} has only one end"


def test_every_wire_of_the_controller_is_where_the_full_build_has_it() -> None:
    for pin, wire in SMALL["controller"]["wires"].items():
        assert wire["port"] == FULL["controller"]["wires"][pin]["port"]
        assert wire["net"] in ("", FULL["controller"]["wires"][pin]["net"])


def test_it_is_sane_as_a_whole() -> None:
    assert check.check_file(REDUCED) == []
    assert FULL.id != SMALL.id


# (what is planted, text to replace, replacement, file complained of, words of the complaint, a text on its line)
PLANTED = [
    ("a pull-up too much", '"U2", "R302"', '"U2", "R302", "R303"', PATH, "U3.INH has no pull-up", 'ref = "U3"'),
    ("a designator misspelt", '"U2", "R302"', '"U2", "R3O2"', REDUCED, "R3O2 is no entry", "[leave_out]"),
    ("a multiplexer that nothing is left on", '"U2", "R302"', '"R302"', PATH, "net Z10 has only one end, U2.X1", 'ref = "U2"'),
    ("a size that needs what is left out", "sizes = [14, 16]", "sizes = [14, 16, 18]", PATH, "18 pins needs position 9", "sizes ="),
    ("a switch at a position that is left out", "positions = [24, 5]", "positions = [24, 9]", REDUCED, "switch at position 9",
     "[leave_out]"),
    ("a position that is not in the socket", "15, 16]", "15, 16, 25]", REDUCED, "no position 25", "[leave_out]"),
    ("a file that is not there", 'on = "../wiring.toml"', 'on = "../wirng.toml"', REDUCED, "No such file", "based_on"),
    ("a strap to the supply", 'to = "GND"', 'to = "V5"', PATH, "the strap is D49 to V5", "strap ="),
    ("a strap on a wire", 'to = "GND"', 'to = "GND"\npin = "D48"', PATH, "the strap is D48", "strap ="),
    ("no TOML", "parts = [", "parts = [[", REDUCED, "mend the TOML", ""),
]


@pytest.mark.parametrize(("old", "new", "file", "words", "on_line"), [p[1:] for p in PLANTED], ids=[p[0] for p in PLANTED])
def test_mistakes_are_named_by_file_and_line(tmp_path: Path, old: str, new: str, file: Path, words: str, on_line: str) -> None:
    assert TEXT.count(old) == 1
    (tmp_path / "reduced").mkdir()
    mine = tmp_path / "reduced" / "wiring.toml"
    mine.write_text(TEXT.replace(old, new))
    (tmp_path / "wiring.toml").write_text(PATH.read_text())
    found = check.check_file(mine)
    place = mine if file == REDUCED else tmp_path / "wiring.toml"
    hit = next(((at, line) for at, line, sentence in found if words in sentence), None)
    assert hit, found
    assert hit[0] == place
    assert on_line in "\n".join(place.read_text().splitlines()[hit[1] - 1 : hit[1] + 1])      # a part's own line follows its header
