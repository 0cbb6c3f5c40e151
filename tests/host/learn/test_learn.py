"""Parts of the library taken as unknown, through their pins only.

Referees: the library's own behaviour, pin by pin (`same.exact`), and, for state bits, the automaton that AALpy (a general
library of automata learning, its KV algorithm) learns of the same specimen.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

import pytest
import same
from aalpy.base import SUL
from aalpy.learning_algs import run_KV
from aalpy.oracles import RandomWordEqOracle
from box import Box

from sagbench.identify.belief import Seen
from sagbench.identify.choose import Pattern
from sagbench.learn.compare import compare, differing
from sagbench.learn.learn import learn
from sagbench.learn.memory import toggles
from sagbench.learn.specimen import Bench, find_outputs
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.reader import read


def unknown(number: str) -> same.Unknown:
    """A part of the library that is logic."""
    part = same.unknown(number)
    assert part is not None
    return part


@pytest.mark.parametrize("number", ["00", "03", "30", "42", "125", "240", "280", "47", "242"])
def test_levels_are_recovered_exactly(number: str) -> None:
    part = unknown(number)
    found = same.learnt(part)
    assert same.exact(part, found), found.draft.text
    assert same.own_test_failures(part, found) == 0
    assert all(law.exhaustive for law in found.learnt.laws.values())
    assert found.draft.text.count("proven: ") == len(found.learnt.laws) == len(found.learnt.outputs)


@pytest.mark.parametrize("number", ["74", "75", "90"])
def test_state_bits_are_recovered(number: str) -> None:
    part = unknown(number)
    found = same.learnt(part)
    assert same.exact(part, found), found.draft.text
    assert same.own_test_failures(part, found) == 0


def test_counts_that_must_be_loaded_first_are_gone_to() -> None:
    """A BCD counter (4510, by its part file) holds at every count and counts on from 10 to 15 too: walks at random alone left places out, and a draft was wrong."""
    part = unknown("4510")
    found = same.learnt(part)
    assert same.exact(part, found), found.draft.text
    assert not found.learnt.missed and found.learnt.looks < 40_000


def test_a_tri_state_output_that_is_off_shows_no_state_bit() -> None:
    looks = [(0, (Seen.LOW,)), (1, (Seen.HIGH,)), (3, (Seen.OFF,)), (1, (Seen.HIGH,)), (0, (Seen.LOW,))]
    assert [(t.before, t.after) for t in toggles(looks, [0], [0])] == [(0, 1), (1, 0)]
    assert len(toggles(looks, [0])) == 4              # of an open collector off is high


def test_the_draft_s_own_test_fails_on_another_chip() -> None:
    found = same.learnt(unknown("00"))
    assert same.own_test_failures(unknown("08"), found) > 0


UP_AND_DOWN = """function = "99"
title = "counter of two bits, a clock for each way"
sources = ["memory"]
program = ["CLR=1; CLR=0"]
[[pinout]]
pins = ["UP", "DOWN", "CLR", "NC", "NC", "NC", "GND", "QA", "QB", "NC", "NC", "NC", "NC", "VCC"]
[[block]]
inputs = ["UP", "DOWN", "CLR"]
outputs = ["QA", "QB"]
logic = [
  "CA = !UP | !DOWN",
  "CB = !UP & a | !DOWN & !a",
  "a := !a on falling CA, clear CLR",
  "b := !b on falling CB, clear CLR",
  "QA = a",
  "QB = b",
]
[family.LS]
"""


def test_a_counter_with_a_clock_for_each_way() -> None:
    definition = read(UP_AND_DOWN, "99", origin="own")
    part = same.Unknown("99", definition, definition.pinout("LS"), 3, 2)
    found = same.learnt(part)
    assert same.exact(part, found) and same.own_test_failures(part, found) == 0, found.draft.text
    assert sorted(len(m.turns) for m in found.learnt.memories.values()) == [0, 2]      # both clocks turn the first bit over always


def test_an_output_that_sinks_in_one_state_of_many_is_not_taken_for_an_idle_input(monkeypatch: pytest.MonkeyPatch) -> None:
    part = unknown("159")                             # open collector: each of 16 outputs drives in one of 64 states only
    monkeypatch.setattr("sagbench.learn.learn.find_outputs", lambda *_: (*range(1, 12), 13, 14, 17))
    found = same.learnt(part)
    assert same.exact(part, found) and len(found.learnt.laws) == 16, found.draft.text


def test_like_gates_become_one_block() -> None:
    found = same.learnt(unknown("00"))
    assert found.draft.text.count("[[block]]") == 1 and 'each = ["1", "2", "3", "4"]' in found.draft.text
    assert found.draft.text.count(" & ") == 1 and "!({}A & {}B)" in found.draft.text


def test_what_does_not_show_is_said_to_be_not_reached() -> None:
    found = same.learnt(unknown("94"))                # a shift register of which only the last stage has a pin
    assert found.learnt.missed and "not reached: more is remembered" in found.draft.text
    assert not same.exact(unknown("94"), found)


def test_every_output_is_found_and_no_input_called_one() -> None:
    part = unknown("42")
    box = Box(part.definition, part.pinout)
    outputs = find_outputs(box, box.pins, random.Random(3))
    assert {box.names[pin] for pin in outputs} == set(Network(part.definition).drivers)


class Deaf:
    """A specimen of which some readings say nothing."""

    def __init__(self, box: Box) -> None:
        self._box, self._rng = box, random.Random(4)

    def play(self, patterns: Sequence[Pattern], pins: Iterable[int]) -> list[dict[int, Seen]]:
        """As the box, one reading in twenty lost."""
        return [{pin: seen for pin, seen in one.items() if self._rng.random() > 0.05} for one in self._box.play(patterns, pins)]


def test_readings_that_say_nothing_do_no_harm() -> None:
    part = unknown("74")
    found = learn(Deaf(Box(part.definition, part.pinout)), part.about, random.Random(1))
    assert same.exact(part, found), found.draft.text


def test_two_specimens_that_differ_are_told_apart() -> None:
    good, other = unknown("00"), unknown("132")       # the same function: no difference; then a gate of another
    assert compare(Box(other.definition, other.pinout), good.definition, good.pinout, random.Random(1)).differences == ()
    bad = unknown("08")
    found = compare(Box(bad.definition, bad.pinout), good.definition, good.pinout, random.Random(1)).differences
    assert {one.pin for one in found} == {3, 6, 8, 11}
    assert "pin 3 (1Y)" in found[0].sentence and "by the draft" in found[0].sentence


class Toggled(SUL):  # type: ignore[misc]
    """The specimen as AALpy asks it: a letter toggles an input; the answer is what the outputs do."""

    def __init__(self, part: same.Unknown, inputs: Sequence[int], outputs: Sequence[int]) -> None:
        super().__init__()
        self.part, self.inputs, self.outputs = part, inputs, outputs
        self.pre()

    def pre(self) -> None:
        """A specimen just powered up, always in the same state."""
        self._bench = Bench(Box(self.part.definition, self.part.pinout, seed=2), tuple(self.inputs), tuple(self.outputs), random.Random(1))
        list(self._bench.give([0]))

    def post(self) -> None:
        """Nothing to put away."""

    def step(self, letter: int) -> tuple[Seen | None, ...]:
        """One toggle."""
        ((_, look),) = self._bench.give([self._bench.point ^ (1 << letter)])
        return look


@pytest.mark.parametrize(("number", "inputs", "outputs", "size"), [("74", (1, 2, 3, 4), (5, 6), 20), ("107", (1, 4, 12, 13), (3, 2), 24)])
def test_an_automaton_learnt_by_others_says_the_same(number: str, inputs: tuple[int, ...], outputs: tuple[int, ...], size: int) -> None:
    """One section of two, the other's inputs left alone.  size: levels at which clear or preset rules, and twice the others."""
    part = unknown(number)
    found = same.learnt(part)
    sul = Toggled(part, inputs, outputs)
    letters = list(range(len(sul.inputs)))
    automaton = run_KV(letters, sul, RandomWordEqOracle(letters, sul, num_walks=150, min_walk_len=20, max_walk_len=40),
                       "mealy", print_level=0)
    assert automaton.size == size
    rng = random.Random(8)
    automaton.reset_to_initial()
    sul.pre()
    point, looks = 0, []
    for _ in range(600):
        letter = rng.choice(letters)
        point ^= 1 << letter
        looks.append((point, automaton.step(letter)))
    machine = Machine(Network(read(found.draft.text, "draft", origin="draft")))
    assert list(differing(machine, sul._bench, found.draft.names, looks)) == []
