"""From wrong answers to the input that explains them.

Answers are made here from truth tables written by hand, with one input forced.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.causes import causes, explain
from sagbench.judge.logic import Answer
from sagbench.parts import Expect, load_part
from sagbench.parts.behaviour import Network
from sagbench.parts.lookup import file_names, load_file
from sagbench.plan.logic import levels_at

VOLTS = {True: 3.4, False: 0.2}
NAND = {3: (1, 2), 6: (4, 5), 8: (9, 10), 11: (12, 13)}


def network(function):
    return Network(load_file(file_names()[function]))


def nand_answers(forced):
    """A 7400 as its truth table says, but these input pins are at a level of their own inside."""
    part = load_part("7400")
    out = []
    for index, step in enumerate(part.sequence):
        levels = dict(levels_at(part, index)) | forced
        for pin, expect in step.expect.items():
            a, b = NAND[pin]
            out.append(Answer(index, pin, expect, VOLTS[not (levels[a] and levels[b])]))
    return part, out


@pytest.mark.parametrize("pin", [1, 2, 4, 5, 9, 10, 12, 13])
def test_an_input_stuck_high_is_the_only_cause_and_is_named(pin):
    part, given = nand_answers({pin: True})
    assert causes(part, network("00"), given) == [(pin, True)]
    assert f"pin {pin} ({part.pin(pin).name}) stuck high" in explain(part, network("00"), given).sentence


def test_an_input_of_a_nand_stuck_low_cannot_be_told_from_the_other_one():
    part, given = nand_answers({1: False})
    assert causes(part, network("00"), given) == [(1, False), (2, False)]
    assert explain(part, network("00"), given) is None, "its output is stuck high: that says as much"


def test_two_faults_at_once_have_no_single_cause():
    part, given = nand_answers({1: True, 9: True})
    assert explain(part, network("00"), given) is None


def test_a_sound_chip_has_no_cause():
    part, given = nand_answers({})
    assert explain(part, network("00"), given) is None


def test_a_level_between_low_and_high_is_explained_by_no_stuck_input():
    part, given = nand_answers({1: True})
    assert explain(part, network("00"), [*given, Answer(0, 3, Expect.LOW, 1.4)]) is None


def test_an_input_of_a_flip_flop_is_found_through_its_memory():
    """7474: D stuck low is a flip-flop that only `preset` can set."""
    part = load_part("74LS74")
    names = {p.name: p.number for p in part.pins}
    clear, preset, clock, data, one, other = (names[n] for n in ("1CLR", "1PRE", "1CLK", "1D", "1Q", "1QN"))
    given, q, clock_was = [], None, None
    for index, step in enumerate(part.sequence):
        levels = levels_at(part, index)
        if levels[clock] and clock_was is False and levels[clear] and levels[preset]:
            q = False  # what D would have been is lost
        clock_was = levels[clock]
        q = False if not levels[clear] else True if not levels[preset] else q
        both = not levels[clear] and not levels[preset]
        for pin in (one, other):
            if pin in step.expect and q is not None and not both:
                given.append(Answer(index, pin, step.expect[pin], VOLTS[q if pin == one else not q]))
    assert causes(part, network("74"), given) == [(data, False)]
