"""Inputs beside their sisters.

SPDX-License-Identifier: MIT
"""

from sagbench.judge.inputs import judge_sisters, out_of_reach
from sagbench.parts import load_part
from sagbench.parts.model import Role
from sagbench.record import Outcome, Quantity


def volts(value):
    return Quantity(value, 0.02, "V")


def inputs_of(name, figure, values):
    """Every input with this figure, those in `values` with another."""
    part = load_part(name)
    usual = {"VIK": -0.9, "VT+": 1.1}[figure]
    return part, {p.number: {figure: volts(values.get(p.name, usual))} for p in part.inputs}


def test_a_clamp_unlike_its_sisters_has_a_resistance_before_it_even_where_no_limit_is():
    part, figures = inputs_of("74HC00", "VIK", {"2A": -1.9})
    found = judge_sisters(part, figures)
    (finding,) = found[part.inputs[2].number]
    assert set(found) == {4} and finding.outcome is Outcome.ODD and "resistance before it" in finding.sentence


def test_an_enable_that_stands_alone_beside_a_row_of_data_inputs_is_no_sister_of_them():
    """TI's data book gives the enable of the LS373 hysteresis, not its data inputs."""
    part, figures = inputs_of("74LS373", "VT+", {"C": 1.45})
    assert judge_sisters(part, figures) == {}
    part, figures = inputs_of("74LS373", "VT+", {"3D": 1.45})
    assert len(judge_sisters(part, figures)) == 1


def test_all_inputs_of_a_gate_are_sisters_though_each_has_a_letter_of_its_own():
    part, figures = inputs_of("74LS30", "VT+", {"C": 1.5})
    assert len(judge_sisters(part, figures)) == 1


def test_a_threshold_that_no_output_tells_is_none_out_of_reach():
    part = load_part("74HC00")
    figures = {p.number: {"IIH": Quantity(1e-7, 1e-6, "A")} | ({} if p.number == 4 else {"VT+": volts(2.3)}) for p in part.inputs}
    assert set(out_of_reach(part, figures)) == {4}
    assert out_of_reach(part, figures, {4}) == {}


def test_a_bidirectional_pin_that_delivers_more_than_its_sisters_when_low_is_out_of_character():
    part = load_part("74AS245")
    pins = [p.number for p in part.of_role(Role.BIDIRECTIONAL)]
    figures = {n: {"IOZL": Quantity((-603e-6 if n == 18 else -451e-6 - 8e-6 * (n % 2)), 15e-6, "A")} for n in pins}
    found = judge_sisters(part, figures)
    assert set(found) == {18} and "it delivers 0.60 mA, the others 0.4" in found[18][0].sentence
