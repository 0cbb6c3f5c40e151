# SPDX-License-Identifier: MIT
"""`sagbench identify`: its words, its page and its data.  What it finds is tried in tests/host/identify and tests/system."""
from __future__ import annotations

import argparse
from dataclasses import replace

import pytest

from sagbench.cli.identify import build_parser
from sagbench.cli.options import rails
from sagbench.cli.main import main
from sagbench.identify.candidates import candidates_of
from sagbench.identify.family import Fingerprint
from sagbench.identify.run import Answer, Identification
from sagbench.parts import Part, load_part
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.plan.seat import Seat
from sagbench.record import FamilyGuess
from sagbench.report.identification import as_json, lines, on_marking

NANDS = candidates_of(load_file(LIBRARY / f"{function}.toml") for function in ("00", "37"))
FOUND = Identification(Seat(24, 14), NANDS[0].rail, True, (Answer(NANDS[::-1], 0.97, (3,), 200, 7), Answer(NANDS[:1], 0.01)), 0.02, 14, 116)


def text_of(found: Identification, marked: Part | None = None) -> str:
    page = list(lines(found, None, marked))
    assert all(len(line) <= 79 for line in page)
    return " ".join(" ".join(page).split())


def test_the_page_names_the_class_the_bad_pin_and_what_is_left():
    text = text_of(FOUND)
    assert "supply at pin 14, ground at pin 7: settled by what conducts without power" in text
    assert "1. 97.0 % 00: quad 2-input NAND gate" in text and "no logic test tells it from 37" in text
    assert "pin 3 (1Y) is bad" in text and "200 readings were as it says, 7 were not" in text
    assert "None of these: 2.0 %" in text


def test_one_function_is_said_to_be_one():
    assert "1 function of the library has its rails there; 14 patterns" in text_of(replace(FOUND, candidates=1))


def test_rails_that_the_user_confirmed_are_said_to_be_so():
    assert "confirmed by you" in text_of(replace(FOUND, settled=False))


def test_none_of_these_and_not_decided_are_answers():
    none = replace(FOUND, none=0.9, ranked=(Answer(NANDS[:1], 0.1),))
    assert not none.found and "None of these: no function of the library" in text_of(none) and "not to be relied on" in text_of(none)
    open_ = replace(FOUND, ranked=(Answer(NANDS[:1], 0.45), Answer(NANDS[1:], 0.45)), none=0.1)
    assert not open_.found and "Not decided" in text_of(open_)
    assert text_of(replace(FOUND, ranked=(), none=1.0)).startswith("14 pins")


def test_what_fits_best_with_no_output_sound_is_no_answer():
    """A sound 4051, which is not tried, was once called a magnitude comparator with three bad outputs: with each input it agrees."""
    untried = candidates_of([load_file(LIBRARY / "4051.toml")])
    mute = replace(FOUND, ranked=(replace(FOUND.ranked[0], bad_pins=(3, 6, 8, 11)),), untried=untried)      # all outputs of a 7400, any data book
    assert not mute.found and "Not decided: all outputs of what fits best would have to be bad" in text_of(mute)
    assert "Not tried, for identify cannot switch their rails: 4051;" in text_of(mute)
    assert replace(mute, ranked=(replace(FOUND.ranked[0], bad_pins=(3, 6, 8)),)).found
    assert "Not tried" not in text_of(replace(mute, ranked=(replace(FOUND.ranked[0], bad_pins=(3,)),)))


def test_why_there_is_no_answer_stands_alone():
    assert text_of(replace(FOUND, problem="The socket looks empty.", ranked=())) == "The socket looks empty."


def test_the_data_say_what_the_page_says():
    data = as_json(FOUND)
    assert (data["supply_pins"], data["ground_pins"], data["settled_without_power"]) == ([14], [7], True)
    assert [f["function"] for f in data["answers"][0]["functions"]] == ["00", "37"] and data["answers"][0]["bad_pins"] == [3]
    assert data["none_of_these"] == 0.02 and data["families"] == []
    assert as_json(replace(FOUND, problem="The socket looks empty.", ranked=(), looks=0))["none_of_these"] is None


def test_a_marking_is_held_against_what_was_found():
    sound = replace(FOUND, ranked=(replace(FOUND.ranked[0], bad_pins=()),))
    assert on_marking(sound, None, load_part("74LS00")).startswith("It does what is printed on it, 74LS00")
    said = on_marking(FOUND, None, load_part("74LS00"))
    assert said.startswith("It is likely what is printed on it, 74LS00, but does not do that at pin 3;")
    assert "does not do what a 74LS02 does" in on_marking(FOUND, None, load_part("74LS02"))
    second = replace(FOUND, ranked=(Answer(NANDS[:1], 0.9), Answer(NANDS[1:], 0.08)))
    assert on_marking(second, None, load_part("7437")) == "As marked, 7437: likely with 8.0 %."
    silicon = Fingerprint(load_part("74HC00"), None, (FamilyGuess("HC", 0.99, ()),))
    assert "silicon is that of 74HC: a remarked part" in on_marking(FOUND, silicon, load_part("74LS00"))
    assert "It does what is printed" in text_of(sound, load_part("7400"))


@pytest.mark.parametrize(("marking", "silicon", "remarked"), [
    ("9311", "74", False), ("9311", "LS", True),          # a type with a number of its own has the plain 74's figures
    ("81LS95", "LS", False), ("81LS95", "TTL", False), ("81LS95", "S", True),       # its file says whose silicon it is of
    ("8T26", "S", False),                                 # ... of none that has a table
    ("930", "DTL", False), ("930", "74", True), ("74154", "LS", True),
])
def test_a_type_with_a_number_of_its_own_is_no_remarked_part_for_its_silicon(marking, silicon, remarked):
    part = load_part(marking)
    member = candidates_of([load_file(LIBRARY / f"{part.function}.toml")])[0]
    found = Identification(Seat(24, part.pin_count), member.rail, True, (Answer((member,), 0.99, (), 200, 0),), 0.01, 14, 116)
    print_of = Fingerprint(part, None, (FamilyGuess(silicon, 0.99, ()),))
    assert ("a remarked part" in on_marking(found, print_of, part)) == remarked


def test_what_was_not_tried_is_no_wrong_part():
    """A 4051 has a second ground, which no other part of its size has: nothing is said against one that is marked so."""
    untried = candidates_of([load_file(LIBRARY / "4051.toml")])
    none = replace(FOUND, none=0.99, ranked=(Answer(NANDS[:1], 0.01),), untried=untried)
    assert "Not tried, for identify cannot switch their rails: 4051;" in text_of(none)
    assert on_marking(none, None, load_part("4051")) == "Whether it is a 4051B was not tried, for identify cannot switch its rails: `sagbench sweep 4051B` tells."
    assert "does not do what" in on_marking(replace(FOUND, untried=untried), None, load_part("74LS02"))


def test_a_type_with_a_number_of_its_own_is_named_with_its_sister_of_the_series():
    both = candidates_of(load_file(LIBRARY / f"{function}.toml") for function in ("154", "9311"))
    found = Identification(Seat(24, 24), both[0].rail, True, (Answer(both, 0.99, (), 200, 0),), 0.01, 14, 49)

    def told(family: str) -> str:
        return " ".join(" ".join(lines(found, Fingerprint(load_part("74154"), None, (FamilyGuess(family, 0.99, ()),)))).split())

    assert "it is most likely a 74154 or 9311;" in told("74") and "it is most likely a 74LS154;" in told("LS")


def test_nothing_is_ever_certain():
    assert "> 99.9 %" in text_of(replace(FOUND, ranked=(Answer(NANDS, 1.0),), none=0.0))


def test_rails_are_read():
    assert rails("14,7") == ((14,), (7,)) and rails("1+16, 8") == ((1, 16), (8,))


@pytest.mark.parametrize("text", ["14", "14,", "x,7", "14;7", "1+2+3,7", "114,7", "0,7", "7,7", "1+1,8"])
def test_what_names_no_rails_is_refused(text):
    with pytest.raises(argparse.ArgumentTypeError, match="such as 14,7"):
        rails(text)


def test_the_help_has_an_example_and_the_cautions():
    told = build_parser().format_help()
    assert "sagbench identify --power 14,7" in told and "discharge yourself" in told


def test_without_a_fixture_it_is_one_sentence(capsys):
    assert main(["identify", "--port", "/dev/null/nothing"]) == 3
    assert capsys.readouterr().err.startswith("sagbench: ")
