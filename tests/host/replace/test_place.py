# SPDX-License-Identifier: MIT
"""How a place is written, and what is said of one that cannot be read."""
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.errors import UsageError
from sagbench.parts import load_part
from sagbench.replace import read_place
from sagbench.replace.pins import together
from sagbench.replace.place import pins_named


def place(drives=(), driven_by=(), file="", part="74H40"):
    return read_place(load_part(part), load_part, drives, driven_by, file, "place.toml")


def names(loads):
    return [(load.count, load.part.name if load.part else "", load.pin.name if load.pin else "") for load in loads]


def test_the_example_of_the_help_is_read():
    made = place(["Y: 4x 74H00, 2x 74LS04"], ["A: 7404, 3x 7400"])
    assert set(made.drives) == {6, 8} and names(made.drives[6]) == [(4, "74H00", "1A"), (2, "74LS04", "1A")]
    assert set(made.driven_by) == {1, 9} and names(made.driven_by[1]) == [(1, "7404", "1Y"), (3, "7400", "1A")]


@pytest.mark.parametrize(("text", "ohms", "amperes", "up", "volts"), [
    ("1k up", 1000, 0, True, None), ("2k2 up", 2200, 0, True, None), ("4.7k up", 4700, 0, True, None), ("4.7 k up", 4700, 0, True, None),
    ("330 down", 330, 0, False, None), ("330R down", 330, 0, False, None), ("1M up", 1e6, 0, True, None), ("4R7 up", 4.7, 0, True, None),
    ("470 ohm up", 470, 0, True, None), ("15mA up", 0, 0.015, True, None), ("40 mA up 12V", 0, 0.04, True, 12),
    ("1k up to 12 V", 1000, 0, True, 12),
    ("2x 1k up", 1000, 0, True, None)])
def test_resistors_and_currents(text, ohms, amperes, up, volts):
    (load,) = place([f"1Y: {text}"]).drives[6]
    assert (load.ohms, load.amperes, load.up, load.volts) == (pytest.approx(ohms), pytest.approx(amperes), up, volts)
    assert load.count == (2 if text.startswith("2x") else 1)


@pytest.mark.parametrize(("word", "numbers"), [("Y", {6, 8}), ("1Y", {6}), ("8", {8}), ("*Y", {6, 8}), ("y", {6, 8}), ("1Y 8", {6, 8})])
def test_pins_are_named_in_the_usual_ways(word, numbers):
    assert {pin.number for pin in pins_named(load_part("74H40"), word, "", True)} == numbers


def test_the_heaviest_input_counts_if_none_is_named():
    """74LS74A: clear and preset take two unit loads, data one (its data sheet, from memory)."""
    (load,), (named,) = place(["Y: 74LS74"]).drives[6], place(["Y: 74LS74.1D"]).drives[6]
    assert load.pin.name in ("1CLR", "1PRE") and load.pin.low_unit_loads == 2
    assert named.pin.low_unit_loads == 1


def test_a_file_says_the_same_as_the_command_line():
    file = '[drives]\n"Y" = ["4x 74H00", "2x 74LS04"]\n[driven_by]\n"A" = ["7404"]\n'
    assert place(file=file) == place(["Y: 4x 74H00, 2x 74LS04"], ["A: 7404"])


@pytest.mark.parametrize(("drives", "driven_by", "file", "says"), [
    (["Y 4x 74H00"], [], "", "expected pins, a colon and a list"),
    (["Z: 74H00"], [], "", 'the 74H40 has no output "Z"; it has 1Y 2Y'),
    ([], ["Y: 7404"], "", 'the 74H40 has no input "Y"'),
    (["Y: 0x 7400"], [], "", "expected a count up to 1000"),
    (["Y: 7400.9Z"], [], "", 'the 7400 has no pin "9Z"; it has 1A 1B 1Y'),
    (["Y: 7400.1Y"], [], "", "drives both ways, so that nothing else can drive its line"),
    ([], ["A: 7404.1A"], "", "is an input, expected an output"),
    ([], ["A: 1k up"], "", "expected the chip that drives the pin"),
    ([], ["A:"], "", "expected what drives it"),
    (["Y: 7400; 1Y: 7404"], [], "", "pin 6 (1Y) a second time"),
    (["Y: 0k up"], [], "", "is nothing at all"), ([], ["1A: 7404, .1A"], "", "expected another pin of the 74H40, once"),
    ([], ["1A: 7404, .9Q"], "", 'has no pin "9Q"'), ([], ["1A: 7404, 2x .1B"], "", "expected another pin of the 74H40, once"),
    (["Y: 99999"], [], "", "99999"),
    ([], [], "[drives]\nY = 3\n", 'drives."Y" is no list of texts'),
    (["1Y: 3 7400"], [], "", 'found "3 7400", expected an x behind the count'),
    ([], [], "[wires]\n", 'found "wires", expected the tables [drives] and [driven_by] only'),
    ([], [], "Y = [", "not valid TOML"),
])
def test_a_mistake_is_told_with_what_was_expected(drives, driven_by, file, says):
    with pytest.raises(UsageError) as told:
        place(drives, driven_by, file)
    assert says in str(told.value)


@settings(deadline=None)
@given(st.text(alphabet="Y1A:;,x. 74LS0kup12mVz*=", max_size=30))
def test_any_text_is_a_place_or_a_sentence(text):
    try:
        made = place([text], [text])
    except UsageError as error:
        assert str(error)
    else:
        assert all(load.count >= 1 for loads in made.drives.values() for load in loads)


def test_pins_are_called_together_as_they_can_be_named():
    for name in ("74H40", "7400", "74LS138", "74LS161A", "74LS245", "74LS241"):
        part = load_part(name)
        outputs = [pin.name for pin in part.outputs]
        said = together(outputs, (pin.name for pin in part.pins if pin.role.is_input or pin.role.is_output))
        assert {pin.name for pin in pins_named(part, said, "", True)} == set(outputs)
    assert together(["1A", "2A"], ["1A", "2A", "1B", "2B"]) == "A" and together(["1A"], ["1A", "2A"]) == "1A"
