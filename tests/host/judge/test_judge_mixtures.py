"""Suspicions about the whole chip where several faults, or doubts, come together: what each clue needs, and what must not count.

Chips on paper (paper.py; lines of test_judge_diagnosis); what each failure looks like is common practice.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

import pytest

from host.judge import paper
from host.judge.test_judge_diagnosis import HIGH, LOW, SOUND, TTL, WEAK, against, sick
from host.judge.test_judge_diagnosis_common import OUTPUTS, all_alike, through
from sagbench.judge.case import Case
from sagbench.judge.failures import Failure
from sagbench.judge.suspect_chip import chip
from sagbench.judge.suspect_common import common
from sagbench.parts import load_part
from sagbench.record import Contact, FamilyGuess, Finding, Outcome, PinContact


def whole(record, kind, part=TTL):
    """The first suspicion of that kind about the whole chip; None if there is none."""
    return next((s for s in chip(Case(part, record)) if s.kind is kind), None)


def shared(record, kind, part=TTL):
    """The same of what all outputs share."""
    return next((s for s in common(Case(part, record)) if s.kind is kind), None)


# ------------------------------------------------------------------ one pin
def test_a_leg_without_contact_is_likelier_where_the_output_drives_nothing_and_less_where_it_answers():
    open_ = PinContact(3, Contact.OPEN, (), "pin 3 (1Y) makes no contact")

    def told(words, outcome=Outcome.BEYOND):
        record = sick(SOUND, contacts=(open_,), p3=dict(findings=(Finding("logic", outcome, words, 3, weight=90),)))
        return whole(record, Failure.OPEN_OUTPUT)
    dead, wrong, right = told("pin 3 (1Y) drives nothing, it follows any load"), told("answers wrongly"), told("answers rightly", Outcome.WITHIN)
    assert dead.speaks_for == ["pin 3 (1Y) makes no contact", "pin 3 (1Y) drives nothing"]
    assert wrong.speaks_for == ["pin 3 (1Y) makes no contact"] and wrong.speaks_against == []
    assert right.speaks_against == ["pin 3 (1Y) answers rightly all the same"]
    assert dead.score > wrong.score > right.score


# ------------------------------------------------------------------ another family, another function
def test_silicon_of_its_own_family_is_no_suspicion_and_another_likelier_one_is_with_its_grounds():
    own, other = FamilyGuess("74", 0.9, ("for it: an input delivers 1 mA",)), FamilyGuess("LS", 0.8, ("for it: it draws little", "for it: it clamps"))
    assert whole(replace(SOUND, families=(own, replace(other, probability=0.1))), Failure.WRONG_FAMILY) is None
    made = whole(replace(SOUND, families=(other, replace(own, probability=0.1))), Failure.WRONG_FAMILY)
    assert made.sentence == "its silicon looks like 74LS rather than plain 74" and made.speaks_for == ["it draws little; it clamps"]


def test_an_input_that_is_not_surely_held_does_not_drive_back():
    def told(outcome):
        held = Finding("input", outcome, "pin 1 (1A) does not come up", 1, weight=40)
        return whole(sick(SOUND, held), Failure.WRONG_PART).speaks_for
    assert told(Outcome.UNSURE) == [] != told(Outcome.BEYOND)


@pytest.mark.parametrize(("pins", "clue"), [((2, 4), []), ((2, 4, 6), ["3 of its 6 outputs answer wrongly"])])
def test_half_of_the_outputs_must_answer_wrongly_before_it_is_another_part(pins, clue):
    """Of a hex inverter two are a third of them, three are half."""
    hex_ = load_part("7404")
    record = sick(paper.chip(hex_, **paper.SPICE["7400"]), *(against(p, "logic", f"pin {p} answers wrongly in 6 of 8 checks") for p in pins))
    assert whole(record, Failure.WRONG_PART, hex_).speaks_for == clue


def test_open_collectors_that_drive_high_are_another_parts_outputs():
    """One alone may be shorted to a high level; nothing of an open collector drives high (any text book)."""
    part = load_part("7403")
    sound = paper.chip(part, **paper.SPICE["7400"])

    def told(*pins, words="does not let go: it should be off, and drives high"):
        return whole(sick(sound, *(against(p, "logic", f"pin {p} {words}") for p in pins)), Failure.WRONG_PART, part).speaks_for
    clue = "open-collector outputs drive high, which none can"
    assert clue in told(3, 6) and clue not in told(3) and clue not in told(3, 6, words="does not let go: it should be off, and drives low")


# ------------------------------------------------------------------ what outputs share
def test_low_levels_too_near_to_tell_are_not_lost():
    """Gain that all have lost is told where levels are lost, not where the fixture cannot say whether they are."""
    lines = {f"p{n}": dict(loads=(*paper.sinking(*WEAK), *paper.sourcing(*HIGH))) for n in OUTPUTS}

    def told(outcome):
        return shared(sick(SOUND, *(against(n, "VOL", f"pin {n} sinks 14 mA at 0.8 V", outcome) for n in OUTPUTS), **lines), Failure.LOST_GAIN)
    assert told(Outcome.UNSURE) is None and "all 4 outputs" in told(Outcome.BEYOND).sentence


def test_outputs_that_hold_their_low_level_speak_against_grounds_resistance():
    lines = {f"p{n}": dict(low=paper.volts(0.11), loads=(*paper.sinking(*through(10)), *paper.sourcing(*HIGH))) for n in OUTPUTS}
    one, three = (shared(sick(SOUND, *(against(n, "VOL", f"pin {n} sinks 16 mA only at 0.5 V") for n in OUTPUTS[:k]), **lines), Failure.SERIES)
                  for k in (1, 3))
    assert "3 of its outputs hold their low level" in one.speaks_against
    assert not any("hold their low level" in line for line in three.speaks_against) and one.score < three.score


def test_a_line_that_bends_speaks_against_grounds_resistance_and_a_straight_one_does_not():
    """10 ohm all the way; and so up to 8 mA and 40 ohm beyond, where no current hits a limit yet."""
    straight = through(10)
    weak, medium, strong = straight
    bent = (weak, medium, (strong[0], strong[1], medium[2] + 40e-3 * (strong[1] - medium[1])))
    said = [[line for line in shared(all_alike(low), Failure.SERIES).speaks_against if "times as fast under a heavy load" in line]
            for low in (straight, bent)]
    assert said[0] == [] and len(said[1]) == 1


def test_high_levels_lost_by_most_speak_against_gain_lost_by_all():
    """A supply that is too low inside takes the high levels and the drive of the low side together."""
    def told(count):
        missing = [against(n, "VOH", f"pin {n} sources 0.4 mA only at 2.2 V") for n in OUTPUTS[:count]]
        return shared(sick(all_alike(WEAK), *missing, *(against(n, "VOL", "sinks 16 mA only at 0.9 V") for n in OUTPUTS)), Failure.LOST_GAIN)
    words = "their high levels are lost too, as by too low a supply inside"
    assert words in told(3).speaks_against and words not in told(2).speaks_against and told(3).score < told(2).score


def test_the_supply_current_proves_no_resistance_that_the_loads_do_not_show():
    """Levels lifted by 90 mV, yet no steeper than typical: over no ohms the supply current lifts nothing, so it is no ground for them."""
    flat = tuple((point, i, v + 0.09) for point, i, v in LOW)
    made = shared(all_alike(flat, least=0.09), Failure.SERIES)
    assert made is not None and any("under the lightest load" in line for line in made.speaks_for)
    assert not any("supply current" in line for line in (*made.speaks_for, *made.speaks_against))


def test_of_cmos_which_draws_next_to_nothing_at_rest_the_supply_current_says_nothing_of_ground():
    """A 74HC00 with 30 ohm in ground's way, whose supply current is too high for another reason."""
    part = load_part("74HC00")
    figures = {**paper.SPICE["74HC00"], "icc": {state.name: 5e-3 for state in part.supply_states}}
    sound = paper.chip(part, **figures)
    low = paper.plus(paper.SPICE["74HC00"]["low"], 30)
    lines = {f"p{n}": dict(loads=(*paper.sinking(*low), *paper.sourcing(*paper.SPICE["74HC00"]["high"]))) for n in OUTPUTS}
    made = shared(sick(sound, *(against(n, "VOL", f"pin {n} sinks 4 mA only at 0.5 V") for n in OUTPUTS), **lines), Failure.SERIES, part)
    assert made is not None and not any("supply current" in line for line in (*made.speaks_for, *made.speaks_against))
