"""Which other function a wrong part is, by its answers; bipolar or CMOS, before anything is loaded.

The answers are made from truth tables written here, not from the library's equations.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.identity import alike
from sagbench.judge.logic import Answer
from sagbench.judge.technology import CMOS, TTL, technology
from sagbench.parts import load_part
from sagbench.parts.model import Expect
from sagbench.record import Quantity

GATES = {"00": lambda a, b: not (a and b), "08": lambda a, b: a and b, "32": lambda a, b: a or b, "86": lambda a, b: a != b}
QUAD = {3: (1, 2), 6: (4, 5), 8: (9, 10), 11: (12, 13)}      # outputs and inputs of the pinout these four share (data books)


def answers(part, gate, high=3.5, low=0.2):
    """What this gate would give in each step of the part's test."""
    levels, out = {}, []
    for index, step in enumerate(part.sequence):
        levels.update(step.set)
        out += [Answer(index, y, step.expect[y], high if GATES[gate](levels[a], levels[b]) else low) for y, (a, b) in QUAD.items()]
    return out


@pytest.mark.parametrize(("marked", "really"), [("7400", "08"), ("7408", "32"), ("74LS86", "00"), ("7432", "86")])
def test_a_wrong_part_is_named(marked, really):
    part = load_part(marked)
    names = [one.function for one in alike(part, answers(part, really))]
    assert really in names and part.function not in names
    assert not {"00", "08", "32", "86"} - {really} & set(names)


def test_one_answer_of_no_function_is_no_likeness():
    part = load_part("7400")
    first, *rest = answers(part, "08")
    assert alike(part, [Answer(first.step, first.pin, first.expect, 3.5 if first.volts < 1 else 0.2), *rest]) == []


def test_outputs_that_stand_still_are_like_nothing():
    part = load_part("7400")
    assert alike(part, [Answer(a.step, a.pin, a.expect, 3.5) for a in answers(part, "08")]) == []


def test_levels_between_low_and_high_are_no_sign_of_another_function():
    """All that can be read is what the part itself must answer, as does each other NAND in its pinout (the 132)."""
    part = load_part("7400")
    given = answers(part, "00")
    between = [Answer(a.step, a.pin, a.expect, 0.9 if a.volts < 1 and a.pin == 3 else a.volts) for a in given]
    assert between != given and alike(part, between) == []


def ma(value):
    return Quantity(value * 1e-3, 0.02e-3, "A")


@pytest.mark.parametrize(("marked", "high", "icc", "is_"), [
    ("7400", 3.6, 12.0, TTL), ("74LS00", 4.4, 2.4, TTL), ("74L00", 3.9, 0.9, TTL),   # unloaded: two junctions below, or one
    ("7400", 4.99, 12.0, CMOS),                  # reaches the supply: a channel, whatever else draws
    ("74ALS00", 4.4, 0.001, CMOS),               # no bipolar gate draws so little
    ("74HC00", 4.99, 0.001, CMOS), ("74HC00", 4.99, 3.0, CMOS),      # a leak makes no bipolar part of it
    ("74HC00", 3.6, 12.0, TTL), ("74HC00", 3.6, 0.001, CMOS)])
def test_bipolar_or_cmos_by_what_needs_no_load(marked, high, icc, is_):
    part = load_part(marked)
    assert technology(part, answers(part, "00", high), 5.0, [ma(icc), ma(icc / 2)]) == is_


@pytest.mark.parametrize(("icc", "is_"), [(24, TTL), (2, CMOS)])
def test_resistors_that_pull_up_make_no_channel_of_a_segment_driver(icc, is_):
    """74LS48: 2 kilohm up to the supply at each segment, 25 mA typical (data books, memory)."""
    part = load_part("74LS48")
    high = [Answer(0, p.number, Expect.HIGH, 4.9) for p in part.outputs]
    assert technology(part, high, 5.0, [ma(icc)]) == is_


def test_a_transceivers_heavy_pins_are_no_resistors_that_pull_up():
    """74F242: 1.6 mA at a pin of its buses, which are off in some states: at the supply without load it is a channel, whatever it draws."""
    part = load_part("74F242")
    assert not any(part.is_pulled_up(p.number) for p in part.pins) and load_part("74LS48").is_pulled_up(4)
    high = [Answer(0, p.number, Expect.HIGH, 4.95) for p in part.outputs]
    assert technology(part, high, 5.0, [ma(40)]) == CMOS


def test_an_output_that_is_off_says_nothing_of_it():
    """Pulled up it is at the supply in any technology."""
    part = load_part("74125")
    off = [Answer(0, p.number, Expect.OFF, 5.0) for p in part.outputs]
    assert technology(part, off, 5.0, [ma(30)]) == TTL
