"""CMOS at rest: in which states it is looked at, and which output a current that comes and goes is of.

SPDX-License-Identifier: MIT
"""

import pytest

from sagbench.judge.supply import LEAK, judge_leaks, judge_resting, judge_supply
from sagbench.parts import load_part
from sagbench.parts.model import Expect
from sagbench.plan.resting import resting
from sagbench.record import Outcome, Quantity


def amperes(value):
    return Quantity(value, 1e-6 + 0.02 * value, "A")


@pytest.mark.parametrize("name", ["74HC00", "74HCT139", "4013", "74HC163", "74HC30", "4069", "74HC373"])
def test_every_output_is_low_and_high_in_some_state_at_rest(name):
    part = load_part(name)
    seen = {level for rest in resting(part) for level in rest.does}
    driving = [p.number for p in part.outputs]
    assert {(pin, level) for pin in driving for level in (Expect.LOW, Expect.HIGH)} <= seen


def test_three_state_outputs_are_off_in_one_too():
    part = load_part("74HC373")
    assert {(p.number, Expect.OFF) for p in part.outputs} <= {level for rest in resting(part) for level in rest.does}


def test_bipolar_parts_have_no_such_states():
    assert resting(load_part("74LS00")) == []


def test_no_input_hangs_free_in_a_state_at_rest():
    """A free CMOS input makes current of its own."""
    part = load_part("74HC245")
    for rest in resting(part):
        levels = {}
        for step in rest.state.steps:
            levels.update(step.set)
        assert all(levels.get(p.number) is not None or (p.number, Expect.OFF) not in rest.does for p in part.inputs)


@pytest.mark.parametrize(("level", "to"), [(Expect.LOW, "supply"), (Expect.HIGH, "ground")])
def test_the_output_that_tells_the_current_leaks(level, to):
    part = load_part("74HC139")
    pin = part.outputs[2].number
    rests = [(rest, amperes(64e-6 if (pin, level) in rest.does else 0.2e-6)) for rest in resting(part)]
    told = judge_leaks(part, rests)
    assert [f.pin for f in told] == [pin] and told[0].outcome is Outcome.BEYOND and told[0].state == LEAK
    assert f"leaks to {to}" in told[0].sentence


def test_two_outputs_that_draw_a_current_while_they_differ_leak_to_each_other():
    part = load_part("74HC393")
    a, b = (part.outputs[k].number for k in (2, 3))
    rests = [(rest, amperes(82e-6 if len({level for pin, level in rest.does if pin in (a, b)}) == 2 else 0.3e-6)) for rest in resting(part)]
    told = judge_leaks(part, rests)
    assert [f.pin for f in told] == [a] and told[0].outcome is Outcome.BEYOND
    assert told[0].sentence.startswith(f"pin {a} (1QC) and pin {b} (1QD) leak to each other: the chip draws 0.08 mA more at rest")


def test_a_current_that_is_always_there_is_no_outputs_leak():
    part = load_part("74HC139")
    assert judge_leaks(part, [(rest, amperes(64e-6)) for rest in resting(part)]) == []


def test_outputs_that_always_change_together_share_the_doubt():
    part = load_part("4013")
    rests = resting(part)
    q, qn = (p.number for p in part.outputs[:2])
    told = judge_leaks(part, [(r, amperes(1e-3 if (q, Expect.HIGH) in r.does else 0.0)) for r in rests])
    assert {f.pin for f in told} >= {q} and {f.outcome for f in told} <= {Outcome.ODD, Outcome.BEYOND}
    assert qn in {f.pin for f in told} and all(f.outcome is Outcome.ODD for f in told)


def test_of_states_within_the_limit_the_worst_is_told():
    part = load_part("74HC139")
    states = [(rest.state, amperes((k + 1) * 1e-7)) for k, rest in enumerate(resting(part))]
    (only,) = judge_resting(part, states)
    assert only.value.value == pytest.approx(len(states) * 1e-7)
    assert judge_resting(part, [(s, None) for s, _ in states]) == []
    assert [f.outcome for f in judge_resting(part, [(states[0][0], None), *states[1:]])].count(Outcome.NOT_MEASURED) == 1


def test_of_several_states_beyond_one_is_a_reason_and_none_where_the_parts_own_state_draws_as_much():
    part = load_part("74HC139")
    states = [(rest.state, amperes(60e-6 + k * 1e-6)) for k, rest in enumerate(resting(part))]
    told = judge_resting(part, states)
    assert len(told) == len(states) and [f.state for f in told if f.weight] == [states[-1][0].name]
    own = judge_supply(part, part.supply_states[0], amperes(62e-6))
    assert not any(f.weight for f in judge_resting(part, states, [own]))
    near = [(state, amperes(7.9e-6)) for state, _ in states]
    assert len(judge_resting(part, near)) == 1 and judge_resting(part, near, [judge_supply(part, part.supply_states[0], amperes(7.9e-6))]) == []
