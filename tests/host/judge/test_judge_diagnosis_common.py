"""What all outputs have in common: ground, or the gain of all of them; and what one alone has.

Levels of the 7400 are made from transistor-level ngspice lines (paper.SPICE; gain 6: see test_judge_diagnosis); ground's
resistance is added to them by Ohm's law: R times the output's own current and what the chip draws meanwhile.

SPDX-License-Identifier: MIT
"""

from dataclasses import replace

import pytest

from host.judge import paper
from host.judge.test_judge_diagnosis import HIGH, LOW, SOUND, TTL, WEAK, against, sick
from sagbench.judge.case import Case
from sagbench.judge.diagnosis import diagnose
from sagbench.judge.failures import Failure
from sagbench.record import FamilyGuess, Outcome

OUTPUTS = (3, 6, 8, 11)
DRAWN_A = 7e-3  # a 7400 with one gate low and three high (4 and 12 mA typical with all high and all low, DM7400)


def through(ohm: float):
    """The sound line of a 7400 whose ground has a resistance."""
    return tuple((point, i, v + ohm * DRAWN_A) for point, i, v in paper.plus(LOW, ohm))


def all_alike(low, why="pin {} sinks 16 mA only at 0.9 V", pins=OUTPUTS, least=0.0):
    """A chip whose outputs have this line; a little different from each other, as a drawer's are."""
    lines = {f"p{n}": dict(low=paper.volts(0.04 + least), loads=(*paper.sinking(*((p, i * (1 + k / 400), v * (1 + k / 100)) for p, i, v in low)),
                                                      *paper.sourcing(*HIGH))) for k, n in enumerate(pins)}
    return sick(SOUND, *(against(n, "VOL", why.format(n)) for n in pins), **lines)


def test_gain_lost_by_all_outputs_is_told_of_all_of_them_and_comes_before_ground():
    made = diagnose(TTL, all_alike(WEAK))
    first = made[0]
    assert first.kind == Failure.LOST_GAIN and first.pin is None and first.probability > 0.9
    assert "all 4 outputs" in first.sentence and any("stays near" in line for line in first.speaks_for)
    assert not any(d.kind == Failure.SERIES and d.pin == 7 and d.probability > 0.05 for d in made)


def test_a_current_that_stays_is_seen_though_a_heavier_load_reads_a_little_less():
    wobbling = (*WEAK[:3], ("both", 14.1, 2.134))  # 14.2 mA at 0.779 V before
    shape = Case(TTL, all_alike(wobbling)).shape(8, True)
    assert shape.cliff > 10
    assert diagnose(TTL, all_alike(wobbling))[0].pin is None


@pytest.mark.parametrize("ohm", [10, 20])
def test_resistance_of_ground_comes_first_with_its_ohms_and_no_single_output_beside_it(ohm):
    made = diagnose(TTL, all_alike(through(ohm), least=ohm * DRAWN_A))
    assert (made[0].kind, made[0].pin) == (Failure.SERIES, 7) and made[0].probability > 0.9
    told = float(made[0].sentence.split("about ")[1].split(" ohm")[0])
    assert told == pytest.approx(ohm, rel=0.2), "of which the line's own differs from what is typical"
    assert not any(d.pin in OUTPUTS and d.probability > 0.05 for d in made)


def test_what_the_supply_current_makes_of_grounds_ohms_must_show_without_load():
    lifted = diagnose(TTL, all_alike(through(20), least=20 * DRAWN_A))[0]
    assert any("its own supply current" in line for line in lifted.speaks_for)
    own = paper.plus(LOW, 60)  # in each output's way, not in ground's
    ground = next(d for d in diagnose(TTL, all_alike(own)) if d.pin == 7)
    assert any("without load they are not lifted" in line for line in ground.speaks_against)


def test_an_output_like_its_sisters_has_no_resistance_of_its_own_and_never_one_of_no_ohms():
    """Four outputs alike to a millivolt: what they differ by is less than its uncertainty."""
    made = diagnose(TTL, all_alike(through(16), least=16 * DRAWN_A, pins=(6, 3, 8, 11)))
    assert not any("about 0 ohm" in d.sentence or "0.00 V higher" in line for d in made for line in (*d.speaks_for, d.sentence))
    assert [d.pin for d in made if d.kind == Failure.SERIES] == [7]


def test_a_figure_is_told_only_where_it_is_more_than_its_uncertainty():
    case = Case(TTL, all_alike(through(3), pins=(3,)))
    slight = case.shape(3, True)
    assert slight.beside_sisters and 0 < slight.ohm_u < slight.ohm
    blurred = replace(slight, doubt=tuple(10 * e for e in slight.excess))
    assert blurred.ohm == slight.ohm < blurred.ohm_u


def test_three_of_four_are_still_together_and_two_are_not():
    three, two = (diagnose(TTL, all_alike(WEAK, pins=OUTPUTS[:n])) for n in (3, 2))
    assert "3 of its 4 outputs" in next(d for d in three if d.pin is None and d.kind == Failure.LOST_GAIN).sentence
    assert all(d.pin in OUTPUTS[:2] for d in two if d.kind == Failure.LOST_GAIN) and two[0].kind == Failure.LOST_GAIN


def test_gain_lost_by_all_is_less_likely_where_the_silicon_looks_like_another_familys():
    made = all_alike(WEAK)
    other = replace(made, families=(FamilyGuess("L", 0.8, ("it draws little",)), FamilyGuess("", 0.1, ())))

    def share(record):
        return next((d.probability for d in diagnose(TTL, record) if d.pin is None and d.kind == Failure.LOST_GAIN), 0.0)

    assert share(other) < share(made)
    assert diagnose(TTL, made)[0].speaks_for[0] == "all 4 outputs lose their low level"


def test_outputs_about_to_give_way_together_are_told_so():
    low = tuple((p, i * 1.3, v) for p, i, v in WEAK)
    record = all_alike(low, pins=())
    odd = [against(n, "VOL", f"pin {n} loses its low level at 18 mA", Outcome.ODD, state="headroom") for n in OUTPUTS]
    lines = {f"p{n}": dict(loads=(*paper.sinking(*low), *paper.sourcing(*HIGH))) for n in OUTPUTS}
    made = diagnose(TTL, sick(record, *odd, **lines))
    assert made[0].kind == Failure.LOST_GAIN and made[0].pin is None
    assert any("hardly beyond the rated current" in line for line in made[0].speaks_for)


def test_outputs_that_differ_are_not_alike_in_grounds_resistance():
    """Ten ohms in ground's way, and some in the outputs' own: up to nine are neither alike nor plainly different."""
    def uneven(*more):
        lines = {n: through(10 + ohm) for n, ohm in zip(OUTPUTS, more, strict=True)}
        pins = {f"p{n}": dict(low=paper.volts(0.04 + 10 * DRAWN_A), loads=(*paper.sinking(*low), *paper.sourcing(*HIGH))) for n, low in lines.items()}
        made = diagnose(TTL, sick(SOUND, *(against(n, "VOL", f"pin {n} sinks 16 mA only at 0.9 V") for n in OUTPUTS), **pins))
        return next(d for d in made if d.kind == Failure.SERIES and d.pin == 7)
    alike, differ = "all outputs are alike in it", "the outputs differ in it"
    even, some, much = uneven(0, 0, 0, 0), uneven(0, 3, 6, 9), uneven(0, 0, 0, 40)
    assert alike in even.speaks_for and alike not in some.speaks_for and alike not in much.speaks_for
    assert differ not in even.speaks_against and differ not in some.speaks_against and differ in much.speaks_against
