"""Thresholds of inputs that are clocked in: where a level shows afterwards, worked out from data books' function tables.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.parts import load_part
from sagbench.parts.behaviour import Network
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import file_names, load_file
from sagbench.parts.model import Role
from sagbench.plan.captures import CLOSE_CODES, Capture, Search, find_captures, spans, trials
from sagbench.plan.drive import plan_drive
from sagbench.plan.fixture import load_fixture
from sagbench.plan.logic import levels_at
from sagbench.plan.rails import rails
from sagbench.plan.recipe import Recipe
from sagbench.plan.seat import Seat
from sagbench.plan.thresholds import find_toggles, untold, watchable

FIXTURE = load_fixture("bench24")


def captures(name):
    part = load_part(name)
    network = Network(load_file(file_names()[part.function]).of(part.family or PLAIN))
    pins = [p.number for p in part.of_role(Role.INPUT)]
    silent = untold(pins, find_toggles(part, network, pins, watchable(part, ())))
    return part, silent, find_captures(part, network, silent, watchable(part, ()))


@pytest.mark.parametrize(("name", "pairs"), [
    ("7474", {2: {5, 6}, 12: {8, 9}}),                                       # D shows at Q and QN
    ("74LS374", {3: {2}, 4: {5}, 7: {6}, 8: {9}, 13: {12}, 14: {15}, 17: {16}, 18: {19}}),
    ("74HC164", {1: {3}, 2: {3}}),                                           # A and B both at QA
])
def test_data_shows_at_its_own_output_after_the_clock(name, pairs):
    part, silent, found = captures(name)
    assert {c.pin for c in found} == set(silent) == set(pairs)
    for c in found:
        assert c.watch in pairs[c.pin]
        rises = {p: high for p, high in part.sequence[c.step].set.items() if part.pin(p).clock}
        assert rises or part.sequence[c.step].pulses, "a step with a clock edge"


def test_at_q_as_it_was_read_and_at_its_complement_the_other_way():
    _, _, found = captures("7474")
    for c in found:
        assert c.when_high is (c.watch in (5, 9))


@pytest.mark.parametrize("name", ["7472", "74H71", "7476", "74LS112"])
def test_data_of_what_takes_a_whole_pulse_are_there_before_the_clock_rises(name):
    """Master-slave types: J and K must rest while the clock is high (TI SN7472, SN7476 function tables' pulse, from memory)."""
    part, silent, found = captures(name)
    assert {c.pin for c in found} == set(silent)
    for c in found:
        rises, falls = ({p for p, high in part.sequence[n].set.items() if high is level and part.pin(p).clock}
                        for n, level in ((c.step, True), (c.last, False)))
        assert rises & falls, "the step in which this clock rises, and the one in which it falls"
        assert all(c.pin not in part.sequence[n].set for n in c.plays)


def test_the_fellow_of_a_gated_data_input_lets_it_through():
    part, _, found = captures("74HC164")
    for c in found:
        assert levels_at(part, c.step)[3 - c.pin] is True


def test_what_was_taken_stays_when_the_level_leaves_the_input():
    """A preset of the 7494 (data book, from memory: pin 11, enabled by pin 15 high) acts as long as it is enabled, and left alone
    it floats high: it is looked at when its enable has gone, never when the enable comes."""
    part, _, found = captures("7494")
    p2d = next(c for c in found if c.pin == 11)
    assert part.sequence[p2d.step].set == {15: False}


def test_a_gate_of_many_inputs_is_looked_for_in_its_whole_table():
    """All eight inputs high is the last line of the counted table of a 7430."""
    _, silent, found = captures("74HC30")
    assert silent == () and found == ()


def test_the_input_hangs_on_the_level_alone_while_it_is_clocked_in():
    part, _, found = captures("7474")
    seat = Seat(FIXTURE.positions, part.pin_count)
    recipe = Recipe()
    trials(recipe, FIXTURE, part, plan_drive(FIXTURE, part, seat), rails(FIXTURE, part, seat), dict.fromkeys(found, 250), 250)
    labels = [m.label for m in recipe.marks if m.label.startswith("trial")]
    assert labels == ["trial ground", "trial", "trial vdac", "trial answer"] * len(found)
    held = [n for n, s in enumerate(recipe.steps) if s.name == "sense" and s.arguments["load"]]
    assert len(held) == len(found), "tied to the level drive once a trial"
    for n, capture in zip(held, found, strict=True):
        bit = 1 << (seat.position(capture.pin) - 1)
        before = [s for s in recipe.steps[:n] if s.name in ("drive", "levels")][-1]
        assert not (before.arguments.get("m_high", 0) | before.arguments.get("s_high", 0) | before.arguments.get("high", 0)) & bit, "low"
        drives = next(s for s in recipe.steps[n:] if s.name == "drive")
        assert not (drives.arguments["m_on"] | drives.arguments["s_on"]) & bit
        assert drives.arguments["m_on"] | drives.arguments["s_on"], "the other inputs stay driven"


def search(threshold, spans):
    """Codes tried until the search is over, of an input that reads codes from `threshold` on as high."""
    one, tried = Search(Capture(1, 2, 5, True, 1), spans), []
    while (code := one.next()) is not None:
        tried.append(code)
        one.told(code >= threshold)
    return one, tried


@pytest.mark.parametrize("threshold", [131, 170, 229, 300])
def test_a_search_asks_both_ends_and_then_halves(threshold):
    one, tried = search(threshold, [(130, 300), (0, 860)])
    low, high = max(c for c in tried if c < threshold), min(c for c in tried if c >= threshold)
    assert one.found and high - low <= CLOSE_CODES
    assert len(tried) <= 2 + 5, "170 codes, halved five times, are fewer than six"


@pytest.mark.parametrize("threshold", [60, 130, 301, 700])
def test_an_end_that_is_read_the_other_way_makes_the_search_go_wide(threshold):
    one, tried = search(threshold, [(130, 300), (0, 860)])
    low, high = max(c for c in tried if c < threshold), min(c for c in tried if c >= threshold)
    assert one.found and high - low <= CLOSE_CODES


def test_a_search_ends_where_nothing_changes_or_nothing_can_be_read():
    for threshold in (-1, 2000):
        one, tried = search(threshold, [(130, 300), (0, 860)])
        assert not one.found and len(tried) <= 4
    one = Search(Capture(1, 2, 5, True, 1), [(130, 300), (0, 860)])
    one.next()
    one.told(None)
    assert one.next() is None and not one.found


def test_the_first_span_is_about_what_data_books_call_typical():
    """LS: 1.1 V, lifted by at most 0.14 V through the level's resistor; HC at 5 V: 2.4 V."""
    for name, pin, low, high in (("74LS74", 2, 0.61, 1.45), ("74HC74", 2, 2.05, 2.75)):
        (first, last), wide = spans(FIXTURE, load_part(name), pin)
        assert (first * 5 / 1024, last * 5 / 1024) == pytest.approx((low, high), abs=0.02)
        assert wide[0] == 0 and wide[1] * 5 / 1024 > 3.5
