"""Every part of the library: what its logic test finds, how long it is, that its steps are in order.

The targets are the project's own: all detectable pin faults, 99 % of the bridges that are not invisible, and a share of
the time a sweep may take (quad gate 0.7 s, octal bus driver 1.5 s, 74181 4 s, counter 2 s at 104 us a conversion).

SPDX-License-Identifier: MIT
"""
import json
from functools import cache

import pytest
from hand_made import by_hand

from sagbench.parts import catalogue, load_part, sequence
from sagbench.parts.behaviour import Network
from sagbench.parts.coverage import pin_faults, shown
from sagbench.parts.definition import PLAIN
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.parts.model import Role
from sagbench.parts.names import type_name
from sagbench.vectors import complete, derive
from sagbench.vectors.compile import compile_part
from sagbench.vectors.coverage import checked, simulate
from sagbench.vectors.figures import shortest
from sagbench.vectors.pinfaults import Kind, universe
from sagbench.vectors.proof import (
    LEFT_OPEN,
    NO_DIFFERENCE,
    NOT_FOUND,
    NOT_SEARCHED,
    UNDEFINED,
    undetectable,
    why_missed,
)
from sagbench.vectors.report import named, report_on
from sagbench.vectors.sequence import extend

# A monostable is tried at rest only: no test of it is whole.
FUNCTIONS = [entry.function for entry in catalogue() if not load_file(LIBRARY / f"{entry.function}.toml").static]
# Seconds of logic test: half of what the whole sweep may take.
BUDGET = {"00": 0.35, "02": 0.35, "08": 0.35, "32": 0.35, "86": 0.35, "125": 0.35, "240": 0.75, "244": 0.75, "245": 0.75,
          "373": 0.75, "374": 0.75, "161": 1.0, "181": 2.0}
OTHERS = 0.75
# Eight-bit shift registers with data both ways, arithmetic units, counters with registers behind them: what they can do
# is more, and so is what has to be tried.
BUDGET |= dict.fromkeys(["198", "199", "299", "322", "323"], 1.75)
BUDGET |= dict.fromkeys(["201", "381", "382", "569", "593", "594", "595", "596", "599", "691", "693", "697", "698", "699"], 1.1)

# Inputs whose faults show only through what the books leave open, and so to no simulator: a real chip shows them one way or
# another, for what is expected of it is certain.
BEYOND_THE_BOOK = {"4063": {"IGT", "IEQ", "ILT"}}

# Module scope: pytest then runs all tests of a function one after another, in one process.
each_function = pytest.mark.parametrize("function", FUNCTIONS, scope="module")


@cache
def definition(function):
    return load_file(LIBRARY / f"{function}.toml")


@cache
def parts(function):
    """A part for each pinout, with its report."""
    found = []
    for made, pinout in definition(function).forms():
        family = next(f for f in made.families if made.pinout(f) is pinout)
        name = type_name(function, family)
        part = load_part(name)
        found.append((part, pinout, report_on(part)))
    return found


@each_function
def test_every_pin_fault_is_found_and_every_bridge_that_can_be(function):
    beyond = BEYOND_THE_BOOK.get(function, set())
    for _, _, report in parts(function):
        missed = [fault for fault in report.reasons if fault not in report.invisible and fault.kind is not Kind.INSIDE]
        assert not [fault for fault in missed if not {fault.pin, fault.other} & beyond], report.lines()
        assert beyond <= {pin for fault in missed for pin in (fault.pin, fault.other)}, "these are found"
        assert report.percent(Kind.INSIDE) >= 85, report.lines()


@each_function
def test_what_is_missed_is_explained_by_proof(function):
    beyond = BEYOND_THE_BOOK.get(function, set())
    for _, _, report in parts(function):
        told = {reason for fault, reason in report.reasons.items() if not {fault.pin, fault.other} & beyond}
        assert told <= {NO_DIFFERENCE, UNDEFINED, LEFT_OPEN}, report.lines()


@each_function
def test_the_other_fault_simulator_agrees_that_every_input_fault_is_found(function):
    """The part room's own check, another engine, on the complete sequence."""
    for part, pinout, _ in parts(function):
        network = Network(definition(function).of(part.family or PLAIN))
        changes = [dict(step.set) for step in named(part, pinout)]
        beyond = {network.slots[name] for name in BEYOND_THE_BOOK.get(function, ())}
        assert all(shown(network, changes, [fault for fault in pin_faults(network) if fault.slot not in beyond]))


@each_function
def test_the_logic_test_keeps_to_its_time(function):
    for part, _, report in parts(function):
        print(f"{part.name}: {report.steps} steps, {report.checks} checks, {report.seconds:.2f} s")
        assert 0 < report.seconds <= BUDGET.get(function, OTHERS)


@each_function
def test_what_is_added_does_not_depend_on_the_order_within_a_step(function):
    for part, pinout, _ in parts(function):
        made = definition(function).of(part.family or PLAIN)
        network = Network(made)
        base = len(sequence.levels(made, network))
        changes = [dict(step.set) for step in named(part, pinout)]
        assert [i for i in sequence.order_matters(network, changes) if i >= base] == []


def test_the_kept_additions_belong_to_the_library_of_today():
    assert derive.outdated() == []


@each_function
def test_the_kept_additions_are_what_a_search_finds_today(function):
    """All of them: what `python -m sagbench.vectors.derive` would write."""
    kept = json.loads(complete.ADDITIONS.read_text())
    again = derive.of_file(LIBRARY / f"{function}.toml")
    assert again and again.items() <= kept.items()


def test_additions_of_another_part_are_told(monkeypatch, tmp_path):
    kept = json.loads(complete.ADDITIONS.read_text())
    kept["04"]["of"], kept["nought"] = "0", kept.pop("00")
    monkeypatch.setattr(complete, "ADDITIONS", tmp_path / "additions.json")
    complete.ADDITIONS.write_text(json.dumps(kept))
    assert derive.outdated() == ["00", "04", "nought"]
    assert derive.main(["--check"]) == 1


@pytest.mark.parametrize("function", ["74", "109", "112", "161", "164", "174", "175", "245", "373", "374"])
def test_a_part_that_says_nothing_of_what_to_apply_gets_a_test_by_search(function):
    """What a user's own file without a `program` gets: from one step that sets the inputs, nearly everything is found."""
    made = definition(function)
    part = compile_part(made)
    faults = universe(part, made.pinouts[0])
    hopeless = undetectable(made, faults)
    start = {n: None if part.roles[n] is Role.BIDIRECTIONAL else False for n in part.pins}
    wanted = [f for f in faults if f not in hopeless and f.kind is not Kind.INSIDE]
    steps = extend(made, part, wanted, [start])
    found = simulate(part, wanted, checked(part, steps))
    print(f"{function}: {len(steps)} steps, {100 * found.share():.1f} %")
    assert found.share(Kind.STUCK, Kind.OPEN) == 1, list(map(str, found.missed()))
    assert found.share(Kind.BRIDGE) >= 0.9, list(map(str, found.missed()))
    assert [i for i in sequence.order_matters(Network(made), steps) if i] == []


@pytest.mark.parametrize("function", ["245", "299", "641", "642", "644", "647", "8216"])
def test_a_search_never_drives_against_the_part(function):
    """An open-collector bus is switched by its data too, a tri-state one by its enables only."""
    made = definition(function)
    part = compile_part(made)
    start = {n: None if part.roles[n] is Role.BIDIRECTIONAL else False for n in part.pins}
    faults = [f for f in universe(part, made.pinouts[0]) if f.kind is not Kind.INSIDE]
    steps = extend(made, part, faults, [start])
    assert any(level is not None for step in steps[1:] for n, level in step.items() if part.roles[n] is Role.BIDIRECTIONAL)
    assert sequence.fights(Network(made), steps) == []


def test_of_a_long_counter_it_is_said_that_no_more_was_searched_for():
    """Fourteen stages and a program that never gets the last one low again: 8192 more pulses nobody tried."""
    stages = [f"q{n} := !q{n} on falling {f'q{n - 1}' if n else 'CLK'}, clear RST" for n in range(14)]
    made = by_hand("CLK RST", "Q", [*stages, "Q = q13"], program="RST=1; RST=0; CLK^8192")
    assert complete.find(made, made.pinouts[0], base := sequence.levels(made, Network(made))) == []
    compiled = compile_part(made)
    missed = simulate(compiled, universe(compiled, made.pinouts[0]), checked(compiled, base)).missed()
    why = {str(fault): reason for fault, reason in why_missed(made, missed, complete.is_searched(made, base)).items()}
    assert why["q13 as read by q13 stuck at 0"] == NOT_SEARCHED and NOT_FOUND not in why.values()


def test_the_figures_are_those_of_the_targets():
    """Coverage: see above, of each part of the library.  Time, and the shares over all: `make figures`."""
    found = {name: value for name, value, _ in shortest()}
    assert found == {"alu181_tests": 12, "c17_tests": 4}
