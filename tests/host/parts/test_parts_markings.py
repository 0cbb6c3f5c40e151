"""What is printed on chips.

Sources: Motorola and National ordering tables of the LS00 (54 and 74 ranges, J ceramic, N plastic, D small outline), RCA and
Hitachi suffixes from memory; date codes YYWW: common practice.

SPDX-License-Identifier: MIT
"""
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.errors import NotInFamily, UnknownPart
from sagbench.parts import catalogue, load_file, load_part, parse_marking
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.markings import nearest_names
from sagbench.parts.names import FUNCTION, order, type_name

PLASTIC, CERAMIC, SMALL = "plastic DIP", "ceramic DIP", "small outline"


@pytest.mark.parametrize(("text", "prefix", "grade", "family", "function", "suffix", "package"), [
    ("SN74LS04N", "SN", 74, "LS", "04", "N", PLASTIC),
    ("54S64J", "", 54, "S", "64", "J", CERAMIC),
    ("DM7425", "DM", 74, "", "25", "", ""),
    ("MC74F00N", "MC", 74, "F", "00", "N", PLASTIC),
    ("N74LS138N", "N", 74, "LS", "138", "N", PLASTIC),
    ("HD74LS00P", "HD", 74, "LS", "00", "P", PLASTIC),
    ("MM74HC00N", "MM", 74, "HC", "00", "N", PLASTIC),
    ("CD4011BE", "CD", 0, "4000B", "4011", "BE", PLASTIC),
    ("MC14011BCP", "MC1", 0, "4000B", "4011", "BCP", PLASTIC),
    ("HEF4011BP", "HEF", 0, "4000B", "4011", "BP", PLASTIC),
    ("TC4011BP", "TC", 0, "4000B", "4011", "BP", PLASTIC),
    ("74LS04", "", 74, "LS", "04", "", ""),
    ("ls04", "", 74, "LS", "04", "", ""),
    ("7404", "", 74, "", "04", "", ""),
    ("sn 74 ls 74 an", "SN", 74, "LS", "74", "AN", PLASTIC),
    ("SN74ALS245AN", "SN", 74, "ALS", "245", "AN", PLASTIC),
    ("SN5400J", "SN", 54, "", "00", "J", CERAMIC),
    ("MC74HCT244ADW", "MC", 74, "HCT", "244", "ADW", SMALL),
    ("74ACT374PC", "", 74, "ACT", "374", "PC", PLASTIC),
    ("DM74LS00M", "DM", 74, "LS", "00", "M", SMALL),
    ("F7400DC", "F", 74, "", "00", "DC", CERAMIC),
    ("SN74L00N", "SN", 74, "L", "00", "N", PLASTIC),
    ("SN74H04N", "SN", 74, "H", "04", "N", PLASTIC),
    ("74174", "", 74, "", "174", "", ""),
    ("S64", "", 74, "S", "64", "", ""),
    ("N8T26AN", "N", 0, "TTL", "8T26", "AN", PLASTIC),
    ("8t97", "", 0, "TTL", "8T97", "", ""),
    ("DM9300N", "DM", 0, "TTL", "9300", "N", PLASTIC),
    ("9316DC", "", 0, "TTL", "9316", "DC", CERAMIC),
    ("93L08PC", "", 0, "93L", "9308", "PC", PLASTIC),
    ("AM26LS31CN", "AM", 0, "TTL", "26LS31", "CN", PLASTIC),
    ("DM81LS95N", "DM", 0, "TTL", "81LS95", "N", PLASTIC),
    ("DS8641N", "DS", 0, "TTL", "8641", "N", PLASTIC),
    ("SN75450BN", "SN", 0, "TTL", "75450", "BN", PLASTIC),
    ("MC846P", "MC", 0, "DTL", "946", "P", PLASTIC),
    ("MC946L", "MC", 0, "DTL", "946", "L", CERAMIC),
    ("9946", "", 0, "DTL", "946", "", ""),
    ("SN15846N", "SN15", 0, "DTL", "946", "N", PLASTIC),
    ("DM930N", "DM", 0, "DTL", "930", "N", PLASTIC),
    ("74HC4017", "", 74, "HC", "4017", "", ""),
    ("CD40106BE", "CD", 0, "4000B", "40106", "BE", PLASTIC),
])
def test_reading(text: str, prefix: str, grade: int, family: str, function: str, suffix: str, package: str) -> None:
    first = parse_marking(text)[0]
    assert (first.prefix, first.grade, first.family, first.function, first.suffix, first.package) == (
        prefix, grade, family, function, suffix, package)
    assert first.text == text


@pytest.mark.parametrize("text", ["", "hello", "LM741CN", "NE555", "74", "SN74LS", "2N3904", "LM833N", "UA741", "UA709", "27C256", "74LS", "Z80"])
def test_no_logic_chip(text: str) -> None:
    assert parse_marking(text) == ()
    with pytest.raises(UnknownPart):
        load_part(text)


@pytest.mark.parametrize(("text", "may_be_date"), [("7432", True), ("7400", False), ("7474", False), ("7453", True),
                                                  ("SN7432N", False), ("5432", False), ("74LS32", False)])
def test_date_code_trap(text: str, may_be_date: bool) -> None:
    """Week 32 of 1974 looks like a quad OR gate."""
    assert ("date code" in parse_marking(text)[0].note) is may_be_date
    if text == "7432":
        assert any("date code" in note for note in load_part(text).notes)


@given(st.text(max_size=20))
def test_any_text_is_read_or_refused(text: str) -> None:
    for marking in parse_marking(text):
        assert re.fullmatch(FUNCTION, marking.function) and marking.grade in (0, 54, 74)


@pytest.mark.parametrize(("text", "near"), [("74LS05", "74LS04"), ("7403", "7404"), ("74LS376", "74LS374"), ("CD4012", "4011")])
def test_nearest_names(text: str, near: str) -> None:
    """In a library of these functions only."""
    names = nearest_names(text, parse_marking(text), ["00", "04", "32", "74", "138", "373", "374", "4001", "4011"])
    assert near in names and len(names) <= 4


def test_unknown_part_offers_the_nearest() -> None:
    with pytest.raises(UnknownPart) as caught:
        load_part("74LS9138")
    assert caught.value.near and all(load_part(name) for name in caught.value.near)
    assert all(name in str(caught.value) for name in caught.value.near)


@pytest.mark.parametrize("text", ["7464", "74LS64", "74LS25", "74138", "74244", "74245", "74373", "74374", "74112", "74S245",
                                  "74H02", "74139", "74240", "74HC64", "74AS112", "74L138"])
def test_never_made(text: str) -> None:
    """No 64 outside S and F, no 25 outside plain TTL, no 138, 244, 245, 374, 112 in plain TTL, no S245 (data-book indices)."""
    with pytest.raises(NotInFamily, match="it was made as 74"):
        load_part(text)


def test_what_is_offered_instead_exists() -> None:
    with pytest.raises(NotInFamily) as caught:
        load_part("74LS64")
    assert str(caught.value) == ("64 (4-2-3-2-input AND-OR-INVERT gate) never existed as 74LS64; it was made as 74S64, 74F64")
    assert load_part("74S64").name == "74S64"


def test_names_and_versions() -> None:
    assert load_part("7474").name == "7474"
    assert load_part("74LS74").name == "74LS74A"
    assert any("74LS74A" in note for note in load_part("74LS74").notes)
    assert not any("limits are those" in note for note in load_part("SN74LS74AN").notes)
    assert load_part("54S64J").name == "54S64" and load_part("54S64J").grade == 54
    assert load_part("CD4011BE").name == "4011B"


def test_catalogue_is_in_order_and_everything_in_it_loads() -> None:
    entries = list(catalogue())
    functions = [e.function for e in entries]
    assert functions == sorted(functions, key=order) and len(functions) >= 34
    for entry in entries:
        for family in entry.families:
            part = load_part(type_name(entry.function, family))
            own = load_file(LIBRARY / f"{entry.function}.toml").families[family or "74"].get("title", entry.title)
            assert (part.function, part.family, part.title) == (entry.function, family, own)


@pytest.mark.parametrize("text", ["74LS00 8432", "SN74LS00N\n8432", "8432 DM74LS00N", "SN 74 LS 00 N", "MC-74LS00-N"])
def test_several_marks_or_spaces(text: str) -> None:
    assert load_part(text).name == "74LS00"
