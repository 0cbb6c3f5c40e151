"""Supply current: what a chip with such a current is said to be.

Limits as in the data books; the cases are common practice.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.supply import judge_supply
from sagbench.parts import load_part
from sagbench.record import Outcome, Quantity


def judged(name, milliamps, u=0.2, state=-1):
    part = load_part(name)
    return judge_supply(
        part, part.supply_states[state], None if milliamps is None else Quantity(milliamps / 1e3, u / 1e3, "A")
    )


@pytest.mark.parametrize(
    ("name", "milliamps", "expected", "why"),
    [
        ("74LS04", 4.9, Outcome.WITHIN, "healthy: typical 3.6 mA, limit 6.6 mA"),
        ("74LS04", 33.7, Outcome.BEYOND, "dying, though every answer is right"),
        ("74S04", 32.0, Outcome.WITHIN, "healthy: typical 30 mA, limit 54 mA"),
        ("74LS112", 4.4, Outcome.WITHIN, "healthy: limit 6 mA"),
        ("74S04", 4.9, Outcome.ODD, "an LS04 under an S04's marking"),
        ("74LS04", 6.55, Outcome.UNSURE, "0.05 mA inside the limit, uncertainty 0.2 mA"),
        ("74LS04", None, Outcome.NOT_MEASURED, "never a pass"),
    ],
)
def test_a_chip_with_this_current_is(name, milliamps, expected, why):
    assert judged(name, milliamps).outcome is expected, why


def test_the_sentence_for_a_dying_chip_gives_current_limit_and_ratio():
    finding = judged("74LS04", 33.7)
    assert (
        "33.7 mA" in finding.sentence
        and "6.6 mA" in finding.sentence
        and "5.1 times" in finding.sentence
        and finding.weight > 50
    )


def test_a_limit_too_fine_for_the_fixture_is_said_and_carries_no_weight():
    finding = judged("4011", 0.0005, u=0.003)
    assert finding.outcome is Outcome.UNSURE and finding.weight == 0 and "too fine" in finding.sentence


def test_a_cmos_chip_that_draws_a_milliampere_is_broken_however_coarse_the_fixture():
    assert judged("4011", 1.0, u=0.1).outcome is Outcome.BEYOND


@pytest.mark.parametrize(("part", "microamperes", "expected"), [
    ("4047", 31, Outcome.UNSURE), ("4047", 700, Outcome.BEYOND), ("4047", 10, Outcome.WITHIN),
    ("4013", 31, Outcome.BEYOND),       # nothing hangs
    ("4538", 31, Outcome.BEYOND),       # its timing pins are no gates
])  # fmt: skip
def test_a_gate_that_hangs_may_draw_what_is_beyond_the_limit(part, microamperes, expected):
    """A CMOS gate half-way between its rails draws current (common practice: no CMOS input is left open)."""
    finding = judged(part, microamperes / 1000, u=0.001)
    assert finding.outcome is expected
    assert ("pin 3 (RCX) hangs in the air" in finding.sentence) is (expected is Outcome.UNSURE)


def test_the_sentence_names_the_state_the_current_and_the_limit():
    """6.6 mA: SN74LS04, TI data book, from memory; 6 mA: DM74LS112A data sheet."""
    assert judged("74LS04", 4.9).sentence == "its supply current with outputs low is 4.9 mA; the limit is 6.6 mA"
    assert judged("74LS04", None).sentence == "its supply current with outputs low was not measured"
    part = load_part("74LS112")
    other = next(s for s in part.supply_states if not s.name.startswith("outputs"))
    assert judge_supply(part, other, Quantity(4.4e-3, 0.1e-3, "A")).sentence == f"its supply current when {other.name} is 4.4 mA; the limit is 6 mA"
