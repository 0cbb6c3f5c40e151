"""The proof in three values: what it proves by hand-made parts, and that it never says "cannot be shown" of what has been shown.

SPDX-License-Identifier: MIT
"""
import pytest
from hand_made import by_hand

from sagbench.parts import load_part
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.parts.names import type_name
from sagbench.vectors.compatible import Outcome, compare
from sagbench.vectors.compile import compile_part
from sagbench.vectors.pinfaults import Kind, universe
from sagbench.vectors.proof import LEFT_OPEN, why_missed
from sagbench.vectors.report import report_on

def outcomes(logic):
    """What is proved of each stuck reading: by name, target, place and level."""
    made = by_hand("A B C", "Y", logic, program="A=1; B=1; B=0")
    readings = compile_part(made).readings
    return {(r.name, r.target, r.place, level): compare(made, r, bool(level)) for r in readings for level in (0, 1)}


def test_a_reading_that_matters_is_not_explained_away():
    assert set(outcomes(["Y = A & B & C"]).values()) == {Outcome.UNPROVED}


def test_a_term_that_another_contains_makes_no_difference():
    """Absorption: A & B & C | A is A."""
    found = outcomes(["Y = A & B & C | A"])
    assert {key for key, outcome in found.items() if outcome is Outcome.SAME} == {
        ("A", "Y", 0, 0), ("B", "Y", 1, 0), ("B", "Y", 1, 1), ("C", "Y", 2, 0), ("C", "Y", 2, 1)}


def test_what_is_left_open_shows_nothing_for_sure():
    """While C is high the level is anybody's: what A and B do then cannot be shown; nor C stuck low where they are 0."""
    found = outcomes(["Y = C ? A & undefined : B"])
    assert found["A", "Y", 1, 1] is Outcome.OPEN                     # sound: low while A is low; stuck: open
    assert found["A", "Y", 1, 0] is Outcome.OPEN                     # sound: open while A is high; stuck: low
    assert found["B", "Y", 2, 0] is found["B", "Y", 2, 1] is Outcome.UNPROVED
    assert found["C", "Y", 0, 0] is Outcome.UNPROVED                 # B shows where Y must be low


def inside(outputs, logic):
    """The readings, by name and target, in which something can be stuck."""
    made = by_hand("A B C", outputs, logic, program="A=1; B=1; B=0")
    return [(f.reading.name, f.reading.target) for f in universe(compile_part(made), made.pinouts[0]) if f.reading and f.value]


def test_what_only_says_where_the_book_is_silent_is_no_wire_of_the_part():
    assert inside("Y", ["Y = B & C ? undefined : A"]) == inside("Y", ["Y = B & C ? A : undefined"]) == [("A", "Y")]
    assert inside("Y", ["BIG = B & C", "OVER = !BIG", "Y = OVER ? A : undefined"]) == [("A", "Y")]
    assert inside("Y Z", ["BIG = B & C", "Y = BIG ? undefined : A", "Z = BIG"]) == [("B", "BIG"), ("C", "BIG"), ("A", "Y"), ("BIG", "Z")]
    assert inside("Y", ["Y = A & undefined | B ? C & undefined : B"]) == [("A", "Y"), ("B", "Y"), ("C", "Y"), ("B", "Y")]


@pytest.mark.parametrize("function", ["41", "4063", "4522", "4526"])
def test_nothing_that_could_show_is_left_out_as_a_word_of_the_book(function):
    made = load_file(LIBRARY / f"{function}.toml")
    left_out = [r for r in compile_part(made).readings if r.of_book]
    assert left_out and {compare(made, r, level) for r in left_out for level in (False, True)} <= {Outcome.OPEN, Outcome.SAME}


def test_clear_and_set_together_are_undefined():
    """NOT set is part of the clear: stuck, it only lets the two act at once."""
    found = outcomes(["s = A & !B", "z = A & !s", "q := !q on rising C, clear z, set s", "Y = q"])
    assert found["s", "z", 1, 0] is Outcome.UNDEFINED
    assert found["s", "z", 1, 1] is Outcome.UNPROVED                 # then nothing clears any more


def test_states_that_are_never_reached_do_not_count():
    """Two bits that are always alike: a gate that tells them apart never does."""
    found = outcomes(["p := A on rising C, clear B", "q := A on rising C, clear B", "Y = p & !q | p & A"])
    assert found["q", "Y", 1, 1] is Outcome.SAME and found["A", "Y", 3, 0] is Outcome.UNPROVED


def compared(equation, **more):
    """What is proved of the reading of P in Y stuck at each level; A drives P while E is high (or what `more` says)."""
    made = by_hand("A E", "Y", [more.get("drives", "P = A when E"), f"Y = {equation}"], bidirectional="P")
    reading = next(r for r in compile_part(made).readings if (r.name, r.target) == ("P", "Y"))
    return [compare(made, reading, level) for level in (False, True)]


def test_nobody_else_drives_a_pin_while_the_part_does():
    """While E is high P is what A is, so that these terms are never true; with E low anybody may drive P."""
    assert compared("E & !A & P") == [Outcome.SAME, Outcome.UNPROVED]
    assert compared("E & A & !P") == [Outcome.UNPROVED, Outcome.SAME]
    assert compared("!E & !A & P") == compared("!E & A & !P") == [Outcome.UNPROVED, Outcome.UNPROVED]


def test_a_pin_that_a_resistor_holds_high_may_be_pulled_low():
    assert compared("!A & P", drives="P = A when 1") == [Outcome.SAME, Outcome.UNPROVED]
    assert compared("A & !P", drives="P = A when 1") == [Outcome.UNPROVED, Outcome.UNPROVED]


@pytest.mark.parametrize("function", ["00", "74", "90", "193", "245", "381", "4018", "4028", "4033", "4510", "8T26", "89"])
def test_nothing_that_a_test_shows_is_proved_to_be_hidden(function):
    """The proof against the simulator: twenty stuck readings that were found, from all over the part."""
    made = load_file(LIBRARY / f"{function}.toml")
    report = report_on(load_part(type_name(function, made.families and next(iter(made.families)))))
    found = [f for f, step in report.coverage.found.items() if f.kind is Kind.INSIDE and step is not None]
    assert found
    for fault in found[::max(1, len(found) // 20)]:
        assert compare(made, fault.reading, bool(fault.value)) is Outcome.UNPROVED, str(fault)


def test_the_reason_is_named():
    made = load_file(LIBRARY / "4028.toml")
    part = compile_part(made)
    missed = [f for f in universe(part, made.pinouts[0]) if f.reading and f.reading.target == "X"]
    assert LEFT_OPEN in why_missed(made, missed).values()
