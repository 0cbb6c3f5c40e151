"""A chip beside the user's own sound specimens: medians, robust spreads, and what is told, by hand.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from sagbench.judge import character
from sagbench.judge.character import Norm, compare, far, figures, norm_of, norms
from sagbench.parts import load_part
from sagbench.record import Finding, Measured, Outcome, Quantity, Verdict

TTL = load_part("7400")
SOUND = paper.chip(TTL, **paper.SPICE["7400"])


def specimen(vol=0.22, icc=4.0e-3, **more):
    """A sound 7400 whose output 3 has this level at 16 mA, and a supply current with all outputs high."""
    level = Finding("VOL", Outcome.WITHIN, "good", 3, Quantity(vol, 0.004, "V"), rated_at=0.016)
    supply = tuple(replace(f, value=Quantity(icc, 1e-5, "A")) if f.state == "outputs high" else f for f in SOUND.supply)
    return paper.changed(replace(SOUND, supply=supply), 3, findings=(*SOUND.pins[3 - 1].findings, level), **more)


KNOWN = [specimen(v, i) for v, i in ((0.20, 3.9e-3), (0.21, 4.0e-3), (0.22, 4.1e-3), (0.23, 4.2e-3), (0.29, 4.0e-3))]
LEVEL, DRAWN = ("VOL", 3, "0.016 A"), ("ICC", 0, "outputs high")


def test_each_figure_is_known_by_its_quantity_its_pin_and_what_it_holds_for():
    seen = dict(figures(specimen()))
    assert seen[LEVEL].value == 0.22 and seen[DRAWN].value == 4.0e-3 and ("IIL", 1, "0.4 V") in seen and ("IOS", 3, "") in seen
    assert not any(key[0] == "logic" for key in seen)
    # What was measured comes before the finding of the same name; what hangs on a state of its own is none.
    measured = dict(figures(specimen(measured=(Measured("VOL", 3, Quantity(0.25, 0.004, "V"), Quantity(0.016, 0, "A")),))))
    assert measured[LEVEL].value == 0.25
    other = Finding("VOL", Outcome.ODD, "unlike", 3, Quantity(0.5, 0.01, "V"), state="sisters")
    assert not [key for key, q in figures(replace(SOUND, pins=(replace(SOUND.pins[2], findings=(other,), measured=()),))) if key[0] == "VOL"]


def test_a_norm_is_the_median_and_the_scaled_median_deviation():
    """1.4826 times the median deviation is the standard deviation of normally distributed values (common practice)."""
    assert norm_of([0.20, 0.21, 0.22, 0.23, 0.29]) == Norm(0.22, pytest.approx(1.4826 * 0.01), 5)
    found = norms(KNOWN)
    assert found[LEVEL].middle == pytest.approx(0.22) and found[DRAWN].count == 5
    assert LEVEL not in norms(KNOWN[:4])                              # four have no spread worth the name
    assert ("VT+", 1, "") in found and ("IIL", 1, "0.4 V") in found   # where a threshold lay was not asked for
    spoilt = [*KNOWN[:4], specimen(float("nan"))]
    assert LEVEL not in norms(spoilt) and DRAWN in norms(spoilt)


@pytest.mark.parametrize(("name", "value", "u", "norm", "expected"), [
    ("ICC", 5.0e-3, 0.0, Norm(4.0e-3, 0.5e-3, 5), 2.0),
    ("ICC", 3.0e-3, 0.0, Norm(4.0e-3, 0.5e-3, 5), 2.0),               # either way
    ("VOL", 0.30, 0.0, Norm(0.20, 0.02, 5), 5.0),
    ("VOL", 0.10, 0.0, Norm(0.20, 0.02, 5), 0.0),                     # lower is better
    ("VOH", 3.0, 0.0, Norm(3.4, 0.2, 5), 2.0),
    ("VOH", 3.8, 0.0, Norm(3.4, 0.2, 5), 0.0),
    ("VOL", 0.30, 0.0, Norm(0.20, 0.0, 5), 12.5),                     # at least 4 % of the median
    ("VOL", 0.30, 0.08, Norm(0.20, 0.03, 5), 2.0),                    # half of U beside the spread: 3, 4, 5
    ("ICC", 1.0, 0.0, Norm(0.0, 0.0, 5), 0.0),
])
def test_how_far_a_figure_is_from_its_like(name, value, u, norm, expected):
    assert far((name, 3, ""), Quantity(value, u, "V"), norm) == pytest.approx(expected)


def test_what_is_far_from_all_of_them_is_out_of_character_and_says_what_they_have():
    made = compare(specimen(0.36, 4.0e-3), norms(KNOWN))
    (odd,) = [f for f in made.pins[2].findings if f.state == character.STATE]
    assert made.verdict is Verdict.TIRED and made.reasons == (odd,) and (odd.quantity, odd.outcome, odd.pin) == ("VOL", Outcome.ODD, 3)
    assert odd.typical == pytest.approx(0.22) and odd.weight == character.WEIGHT and odd.value.value == 0.36
    assert odd.sentence == "pin 3 (1Y): VOL is 0.36 V; the 5 sound specimens of your own have 0.22 V, give or take 0.01 V"
    assert [p.findings for p in made.pins if p.pin != 3] == [p.findings for p in SOUND.pins if p.pin != 3]


def test_a_supply_current_of_its_own_is_a_reason_that_stands_at_no_pin():
    made = compare(specimen(0.22, 8.0e-3), norms(KNOWN))
    (odd,) = made.reasons
    assert odd.pin is None and odd.quantity == "ICC" and made.verdict is Verdict.TIRED
    assert odd.sentence.startswith("its supply current with outputs high is 8 mA; the 5 sound specimens of your own have 4 mA, give or take ")
    both = compare(specimen(0.36, 8.0e-3), norms(KNOWN))
    assert sorted(f.quantity for f in both.reasons) == ["ICC", "VOL"]


def test_what_is_like_them_stays_as_it_is_and_a_broken_off_sweep_gets_no_verdict():
    usual = specimen(0.23)
    assert compare(usual, norms(KNOWN)) is usual and compare(usual, {}) is usual
    broken = replace(specimen(0.36), verdict=Verdict.INCOMPLETE, partial="interrupted")
    made = compare(broken, norms(KNOWN))
    assert made.verdict is Verdict.INCOMPLETE and any(f.state == character.STATE for f in made.pins[2].findings)


def test_sound_specimens_of_the_same_part_are_usable():
    assert character.usable(SOUND, SOUND.part) and not character.usable(SOUND, "7402")
    assert not character.usable(replace(SOUND, verdict=Verdict.TIRED), SOUND.part)
