"""Parts of the library on paper, some of each kind: what chooses and what believes, the whole way.

`python tests/host/identify/paper.py` and `paper.py dead` do the same for the whole library.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random

import pytest
from paper import PaperBench, a_dead_output, library, on_paper, place

from sagbench.identify.candidates import Candidate
from sagbench.identify.follow import Says

FEW = ("00", "74", "138", "245", "4017")


def named(function: str) -> Candidate:
    return next(c for c in library() if c.function == function)


@pytest.mark.parametrize("function", FEW)
def test_a_sound_part_is_first(function: str) -> None:
    truth = named(function)
    found = on_paper(truth, 11)
    assert place(found, truth) == 1 and found.found
    assert found.ranked[0].probability > 0.95 and not found.ranked[0].bad_pins


@pytest.mark.parametrize("function", FEW)
def test_a_dead_output_leaves_it_among_the_first(function: str) -> None:
    truth = named(function)
    dead = a_dead_output(truth, random.Random(f"dead/{function}"))
    found = on_paper(truth, 12, dead)
    assert 1 <= place(found, truth) <= 3
    if place(found, truth) == 1:
        assert set(found.ranked[0].bad_pins) <= dead.keys()


@pytest.mark.parametrize("function", ["245", "138"])
def test_what_the_library_has_not_is_none_of_these(function: str) -> None:
    truth = named(function)
    twins = set(on_paper(truth, 13).ranked[0].members)
    assert truth in twins
    found = on_paper(truth, 13, rivals=tuple(c for c in library() if c not in twins))
    assert found.none > 0.9 and not found.found


def test_classes_are_named_whole() -> None:
    found = on_paper(named("00"), 14)
    assert {c.function for c in found.ranked[0].members} >= {"00", "37", "132"}
    assert "03" not in {c.function for c in found.ranked[0].members}


def test_a_chip_with_every_output_dead_is_not_said_to_be_known() -> None:
    truth = named("133")                                            # one output
    found = on_paper(truth, 15, a_dead_output(truth, random.Random(1)))
    assert found.ranked[0].probability < 0.9


def test_who_leads_is_held_against_its_own_test_before_it_is_named() -> None:
    """A wide NAND gate is nearly always high: a stuck output passed for one as long as no pattern had all inputs high."""
    found = on_paper(named("4078"), 16, {13: Says.HIGH})
    assert found.ranked[0].bad_pins and found.ranked[0].probability < 0.9


def test_the_paper_chip_is_no_better_than_a_chip() -> None:
    """It is read wrongly now and then, and what it leaves open is drawn by lot."""
    from sagbench.identify.belief import Seen
    from sagbench.identify.choose import Pattern

    bench = PaperBench(named("123"), 3, {1: Says.LOW})
    seen = bench.play([Pattern(((2, True), (3, True)))] * 2000, [1, 2, 13])
    wrong = sum(one[2] is Seen.HOLDS_LOW for one in seen)
    assert 0 < wrong < 20
    assert {one[13] for one in seen} >= {Seen.LOW, Seen.HIGH}
