"""`[[block.pulse]]` and a family's `pulse`: what a monostable's file says, and what is answered when it is wrong.

Pins of the 74123 (1A 1, 1B 2, 1CLR 3, 1QN 4, 2Q 5, 2QN 12, 1Q 13, 1RCX 15) and of the 4098 (1RCX 2, 1B 4, 1A 5, 1Q 6, 1QN 7):
any data book.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest

from sagbench.errors import PartFileError
from sagbench.parts import load_file, load_part
from sagbench.parts.lookup import LIBRARY
from sagbench.parts.model import Role
from sagbench.parts.reader import read

OWN = '''\
function = "999"
title = "monostable of mine"
static = "yes"

[[pinout]]
pins = ["A", "CLR", "Q", "QN", "CX", "RCX", "GND", "NC", "NC", "NC", "NC", "NC", "NC", "VCC"]
analog = ["CX", "RCX"]
grounded = ["CX"]

[[block]]
inputs = ["A", "CLR"]
outputs = ["Q", "QN"]
logic = ["Q = CLR & undefined", "QN = !(CLR & undefined)"]
program = ["A=1", "A=0"]

[[block.pulse]]
ready = "A=0 CLR=1"
trigger = "A"
timing = "RCX"
output = "Q"
retriggers = "no"

[family.LS]
pulse = { factor = [0.3, 0.5], kohm = [5, 50], source = "its sheet" }
'''


def told(old: str, new: str) -> str:
    """The one mistake of the file with that replaced."""
    assert old in OWN
    with pytest.raises(PartFileError) as caught:
        read(OWN.replace(old, new), "999.toml")
    (line,) = caught.value.mistakes
    return line


def test_a_users_own_monostable() -> None:
    made = read(OWN, "999.toml")
    (said,) = made.blocks[0].pulses
    assert said["trigger"] == "A" and made.pinouts[0].grounded == {"CX"}


def test_the_123_by_pin_numbers() -> None:
    part = load_part("SN74LS123N")
    first = part.pulses[0]
    assert (first.trigger, first.timing, first.output) == (2, 15, 13)
    assert first.ready == {1: False, 2: False, 3: True} and first.retriggers
    assert first.ohm == (5e3, 260e3) and first.factor == (0.33, 0.45)
    assert [t.output for t in part.pulses] == [13, 4, 13, 13, 5, 12, 5, 5]
    assert [p.number for p in part.pins if p.grounded] == [6, 14]
    assert any("timed coarsely" in note for note in part.notes)


def test_either_input_triggers_a_4098_only_while_the_other_is_at_rest() -> None:
    """An OR gate: with -TR (pin 5) low the output of the gate is high already; CD4098B data book, from memory."""
    tests = load_part("CD4098BE").pulses[:3]
    assert [(t.trigger, t.timing, t.output) for t in tests] == [(4, 2, 6), (4, 2, 7), (5, 2, 6)]
    assert all(t.ready == {3: True, 4: False, 5: True} for t in tests)


def test_a_family_without_figures_is_not_timed() -> None:
    part = load_part("4047")
    assert not part.pulses and any("not tried" in note for note in part.notes)


@pytest.mark.parametrize("function", ["121", "122", "123", "221", "423", "9602", "4098", "4528", "4538"])
def test_every_family_of_the_librarys_monostables_is_timed(function: str) -> None:
    """Each way from levels that do not fire, and each pin of the right kind."""
    definition = load_file(LIBRARY / f"{function}.toml")
    assert all("pulse" in entry for entry in definition.families.values())
    for family in definition.families:
        marking = function if function.startswith(("4", "96")) and family != "LS" and len(function) > 3 else f"74{family if family != '74' else ''}{function}"
        part = load_part(marking)
        assert part.pulses
        for test in part.pulses:
            assert part.pin(test.trigger).role is Role.INPUT and part.pin(test.output).role is Role.OUTPUT
            assert part.pin(test.timing).role is Role.ANALOG and test.trigger in test.ready
            assert 1 < test.ohm[1] / test.ohm[0] and (test.factor is None or 0.1 < test.factor[0] <= test.factor[1] <= 1.0)


@pytest.mark.parametrize(("old", "new", "place", "words"), [
    ('ready = "A=0 CLR=1"', 'ready = "A=0 CRL=1"', "17:14", "did you mean"),
    ('ready = "A=0 CLR=1"', 'ready = "A=0; CLR=1"', "17:9", "levels and nothing else"),
    ('ready = "A=0 CLR=1"', 'ready = "CLR=1"', "18:11", "of which `ready` gives no level"),
    ('trigger = "A"', 'trigger = "Q"', "18:11", "expected an input"),
    ('timing = "RCX"', 'timing = "RXC"', "19:10", 'did you mean "RCX"?'),
    ('timing = "RCX"', 'timing = "A"', "19:10", "a pin of `analog`"),
    ('output = "Q"', 'output = "CLR"', "20:10", "expected an output"),
    ('retriggers = "no"', 'retriggers = "never"', "21:14", "no"),
    ("factor = [0.3, 0.5]", "factor = [0.5, 0.3]", "24:20", "[least, greatest]"),
    ("factor = [0.3, 0.5]", "factor = [0.5]", "24:20", "2"),
    ("factor = [0.3, 0.5]", "factor = [0.3, 50]", "24:26", "10"),
    ("kohm = [5, 50]", "kohm = [5000, 50]", "24:39", "smaller one first"),
    (', source = "its sheet"', "", "24:1", "source"),
    ('grounded = ["CX"]', 'grounded = ["Q"]', "8:13", "a name of `analog`"),
])
def test_mistakes_are_told_with_their_places(old: str, new: str, place: str, words: str) -> None:
    line = told(old, new)
    assert line.startswith(f"999.toml:{place}:") and words in line, line


def test_figures_without_a_way_to_trigger() -> None:
    start, end = OWN.index("[[block.pulse]]"), OWN.index("[family.LS]")
    with pytest.raises(PartFileError, match=r"\[\[block.pulse\]\] as well"):
        read(OWN[:start] + OWN[end:], "999.toml")
