"""Supply currents of which no data book here gives a limit, and of which two give different ones.

The estimate is held against the limits that are known, each left out in turn: those are data-book figures, as the part
files give them with their sources.

SPDX-License-Identifier: MIT
"""

from itertools import islice
from math import log

import pytest

from sagbench.judge import derive, draws
from sagbench.judge.inputs import judge_input
from sagbench.judge.supply import judge_supply
from sagbench.judge.verdict import advice
from sagbench.parts import load_part, ratings
from sagbench.parts.lookup import file_names, load_file
from sagbench.record import Outcome, Quantity, Verdict
from sagbench.report.view import outcome_word

CMOS = {"HC", "HCT", "AC", "ACT", "4000B"}


def judged(name, milliamps, state=0, u=0.6):
    part = load_part(name)
    return judge_supply(part, part.supply_states[state], Quantity(milliamps / 1e3, u / 1e3, "A"))


def left_out():
    """ln(limit / estimate), and whether it would be out of character, for every sixth bipolar limit of the library."""
    every = ((f, family, state) for f, families in sorted(draws.known().items())
             for family, states in families.items() if family not in CMOS for state in states)
    for function, family, state in islice(every, 0, None, 6):
        if estimate := draws.expected(function, family, state):
            limit = draws.known()[function][family][state]
            yield log(limit / estimate.amperes), limit > estimate.far


def test_the_estimate_of_a_limit_is_near_the_limit_where_one_is_known():
    ratios, far = zip(*left_out(), strict=True)
    assert len(ratios) > 100
    within_two = sum(abs(r) < log(2) for r in ratios) / len(ratios)
    assert within_two > 0.9 and sum(far) / len(far) < 0.01, (within_two, sum(far) / len(far))


def test_a_part_is_not_estimated_by_its_own_limit():
    without = {f: {k: v for k, v in families.items() if (f, k) != ("00", "AS")} for f, families in draws.known().items()}
    assert draws.expected("00", "AS", "high", without) == draws.expected("00", "AS", "high")


def test_families_that_scatter_beside_each_other_tell_nothing():
    # of one chip's size, not of its gates, is what CMOS draws at rest (JEDEC JESD7-A's classes SSI, flip-flop, MSI)
    estimates = (draws.expected(f, family, "low") for f in ("804", "805", "00", "181") for family in ("AS", "LS"))
    assert all(e is None or e.other not in CMOS for e in estimates)


@pytest.mark.parametrize("function", ["00", "27", "163", "373", "51", "4069"])
def test_the_kept_limits_are_those_of_the_part_files(function):
    definition = load_file(file_names()[function])
    for family, entry in definition.families.items():
        for key, unit in (("icc_ma", 1e-3), ("icc_ua", 1e-6)):
            for state, said in entry.get(key, {}).items():
                loosest = ratings.figure(said, "max", unit=unit).value
                assert draws.known()[function][family][state] == pytest.approx(loosest, rel=1e-5)


def test_a_stale_file_of_limits_is_told(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(derive, "draws", lambda: "{}\n")
    assert derive.main(["--check"]) == 1 and "run `python -m sagbench.judge.derive`" in capsys.readouterr().err


def test_an_as27_with_32_ma_too_much_is_out_of_character():
    finding = judged("74AS27", 35.9)
    assert finding.outcome is Outcome.ODD and finding.weight > 0
    assert all(words in finding.sentence for words in ("35.9 mA", "no limit is known", "times what is to be expected", "27 may draw"))


@pytest.mark.parametrize(
    ("name", "state", "milliamps"),
    # sound ones: typical figures of the FAST and ALS books (from memory)
    [("74AS27", 0, 4.6), ("74F27", 0, 4.0), ("74F14", 0, 18.0), ("74ALS139", 0, 9.0), ("74F37", 1, 24.0), ("74F40", 1, 12.0)],
)
def test_a_sound_one_without_a_limit_is_neither_rejected_nor_called_within(name, state, milliamps):
    finding = judged(name, milliamps, state)
    assert finding.outcome is Outcome.NOT_MEASURED and finding.out_of_reach and finding.weight == 0
    assert finding.value and f"{milliamps:g} mA" in finding.sentence and "no limit is known" in finding.sentence


def test_the_advice_for_a_sound_one_says_that_no_limit_is_known():
    finding = judged("74AS27", 4.6)
    said = advice("74AS27", Verdict.SOUND, (), problem="", partial="", missing=[], open_=[finding.sentence, "another thing"])
    assert "not measured" not in said.lower() and "every other figure" in said
    assert said.endswith("Not decided: its supply current with outputs high is 4.6 mA; no limit is known here for a 74AS27, and 1 more (see the list).")
    assert outcome_word(finding) == "no limit known"


def test_a_bipolar_part_without_a_limit_that_draws_nothing_is_of_another_family():
    finding = judged("74AS27", 0.0, u=0.002)
    assert finding.outcome is Outcome.ODD and "next to nothing" in finding.sentence


@pytest.mark.parametrize("name", ["74AS804", "74LS18", "7421", "74F30", "74AS153"])
@pytest.mark.parametrize("milliamps", [0.0, 5.0, 150.0])
def test_no_current_is_within_a_limit_that_is_not_there(name, milliamps):
    assert judged(name, milliamps).outcome in (Outcome.ODD, Outcome.NOT_MEASURED)


@pytest.mark.parametrize(
    ("milliamps", "outcome"), [(50.0, Outcome.WITHIN), (58.0, Outcome.UNSURE), (63.0, Outcome.BEYOND)]
)
def test_between_two_makers_limits_nothing_can_be_told_and_both_are_named(milliamps, outcome):
    # 74F373: 55 mA in one book, 60 in another (from memory)
    finding = judged("74F373", milliamps)
    assert finding.outcome is outcome
    assert ("55 mA" in finding.sentence and "60 mA" in finding.sentence) == (outcome is Outcome.UNSURE)


def test_an_input_between_two_makers_limits_is_told_but_is_no_symptom():
    part = load_part("74ALS573")
    pin = next(p.number for p in part.inputs if part.limits[p.number].iil.also)
    (finding,) = judge_input(part, pin, None, Quantity(-0.15e-3, 2e-6, "A"))
    assert finding.outcome is Outcome.WITHIN and "0.10 mA" in finding.sentence and "0.20 mA" in finding.sentence
