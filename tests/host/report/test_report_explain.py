"""Budgets in plain words: designators are those of the wiring file, shares are squares.

SPDX-License-Identifier: MIT
"""

import re
from dataclasses import replace

import pytest
from hardware.wiring import load as load_wiring
from host.report import examples

from sagbench.measure import components
from sagbench.plan.fixture import load_fixture
from sagbench.record import Contribution, Measured, Quantity
from sagbench.report import explain

DESIGNATORS = load_fixture("bench24").raw["designator"]
PARTS = (Contribution("driver_high[S3]", 3e-3), Contribution("vref", -4e-3), Contribution("noise", 0.1e-3))
VOL = Measured("VOL", 3, Quantity(0.216, 2 * (25.01e-6) ** 0.5, "V", PARTS), Quantity(0.016, 0.0, "A"), "rated", "interpolated",
               "MIL-STD-883 3007")


@pytest.fixture
def record():
    made = examples.sound_inverter()
    pins = tuple(replace(p, measured=(replace(VOL, pin=p.pin),) if p.pin in (2, 4) else ()) for p in made.pins)
    return replace(made, pins=pins, measured=(replace(VOL, name="ICC", pin=0, value=Quantity(5e-3, 1e-4, "A")),))


@pytest.mark.parametrize(
    ("name", "ref", "net"),
    [("strong_drive[6]", "R106", "S6"), ("medium_drive[24]", "R224", "M24"), ("weak_load", "R311", "L_WEAK"),
     ("shunt", "R320", "VBUS"), ("vref", "U9", "VREF"), ("ron[0]", "U4", "K"), ("sense_gain_output", "R323", "ICC")],
)
def test_a_component_is_named_by_its_designator_on_the_board(name, ref, net):
    assert explain.source(name, DESIGNATORS).where == ref
    part = load_wiring().part(ref)
    assert net in (*part["pins"].values(), part.get("common"))


def test_what_a_calibration_left_and_names_that_are_words_stand_for_themselves():
    left = explain.source("calibration of strong_drive[6].high", DESIGNATORS)
    assert left.words == "strong resistor of position 6: what its calibration left" and left.where == "R106"
    assert explain.source("bend of the load line", DESIGNATORS) == explain.Source("bend of the load line")


def test_every_component_of_the_model_has_words():
    """The names are those that the model's own list gives; none of them reaches a reader as it stands in the code."""
    listed = re.findall(r"^ {4}(\S+(?: \S+)*)(?:  |$)", components.__doc__, re.MULTILINE)
    names = [name for line in listed for name in re.split(r", ", line)]
    assert len(names) > 25 and {"channel_hump", "leakage[6]", "level_drive.path", "strong_drive[6].high"} <= set(names)
    for name in names:
        words = explain.source(name, DESIGNATORS).words
        if " " in name:
            assert words == name  # words already
            continue
        assert name in ("shunt",) or words != name and not set("_[") & set(words), name


def test_shares_are_those_of_the_squares_and_the_largest_comes_first(record):
    """3 mV and 4 mV make 5 mV: 36 % and 64 %; what is less than half a percent is put together."""
    lines = list(explain.explain(record, VOL, DESIGNATORS))
    table = [line for line in lines if line.endswith("%")]
    assert [line.split()[-2] for line in table] == ["36", "64", "0", "100"]
    assert "-4 " in table[1] and "U9" in table[1] and "all others" in table[2]
    assert any("64 % of it" in line and "stage 3" in line for line in lines)
    assert any("36 % of it" in line and "stage 2" in line for line in lines)
    assert all(len(line) <= 80 for line in lines)


def test_a_figure_without_a_budget_says_so(record):
    bare = replace(VOL, value=Quantity(0.2, 0.01, "V"))
    assert "no budget" in list(explain.explain(record, bare, DESIGNATORS))[-1]


def test_the_worst_states_budget_is_not_told_twice(record):
    """A record has ICC of each state, and the largest once more as the worst."""
    low, high = (replace(VOL, name="ICC", pin=0, state=s, value=replace(VOL.value, value=v)) for s, v in (("low", 0.3), ("high", 0.1)))
    lines = list(explain.budgets(record, [low, high, replace(low, state="worst: low")], DESIGNATORS))
    assert sum("together (k = 1)" in line for line in lines) == 2
    assert lines[-1].endswith("its budget is above") and "worst: low" in " ".join(lines[-2:])
    assert max(map(len, lines)) <= 80


def test_figures_are_found_by_name_in_any_case_and_by_pin(record):
    assert [m.pin for m in explain.choose(record, "vol", None)] == [2, 4]
    assert [m.pin for m in explain.choose(record, "VOL", 4)] == [4]
    assert explain.names(record) == ["ICC", "VOL"]
    assert explain.title(record, explain.choose(record, "VOL", 4)[0]).startswith("VOL of pin 4 (2Y): 0.216 V")
