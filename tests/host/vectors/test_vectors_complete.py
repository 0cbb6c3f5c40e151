"""Making a test complete, on single parts and parts made by hand: additions, search, and the proofs of what no test can show.

SPDX-License-Identifier: MIT
"""
import json

import pytest
from hand_made import by_hand

from sagbench.parts import load_part, sequence
from sagbench.parts.behaviour import Network
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.parts.model import Role
from sagbench.vectors import complete, derive, figures
from sagbench.vectors.compile import compile_part
from sagbench.vectors.coverage import checked, simulate
from sagbench.vectors.moves import Rules
from sagbench.vectors.pinfaults import How, Kind, PinFault, universe
from sagbench.vectors.proof import (
    UNDEFINED,
    invisible,
    redundant,
    undefined_only,
    undetectable,
)
from sagbench.vectors.report import report_on
from sagbench.vectors.sequence import extend


def test_additions_that_no_longer_fit_are_not_used(monkeypatch):
    made = load_file(LIBRARY / "04.toml")
    base = sequence.levels(made, Network(made))
    kept = json.loads(complete.ADDITIONS.read_text())["04"]
    assert complete.completed(made, made.pinouts[0], base) == [*base, *map(complete.unwritten, kept["steps"])]
    monkeypatch.setattr(complete, "_additions", lambda: {"04": {**kept, "steps": ["1A=0"] * 50}})
    assert len(complete.completed(made, made.pinouts[0], base[:3])) < 50
    assert len(complete.completed(made, made.pinouts[0], base)) == len(base) + 50


@pytest.mark.parametrize("function", ["137", "4017", "4018", "4076", "40194", "4510", "643", "861"])
def test_the_kept_additions_are_what_a_search_finds_today(function):
    """Decoder, counters, registers, buses, by every way of the search; test_vectors_library looks at all of the library."""
    kept = json.loads(complete.ADDITIONS.read_text())
    again = derive.of_file(LIBRARY / f"{function}.toml")
    assert any(found["steps"] for found in again.values()) and again.items() <= kept.items()


def test_a_step_survives_being_written():
    step = {"A1": True, "B": False, "D": None}
    assert complete.written(step) == "A1=1 B=0 D=z" and complete.unwritten("A1=1 B=0 D=z") == step


def test_data_never_moves_while_a_pulse_triggered_flip_flop_listens():
    """J and K of a falling-edge flip-flop move only while the clock is low: a 7476's master is then closed."""
    made = load_file(LIBRARY / "112.toml")
    part = compile_part(made)
    rules = Rules(made, part)
    faults = [f for f in universe(part, made.pinouts[0]) if f.kind is not Kind.INSIDE]
    now = {}
    for step in extend(made, part, faults, [dict.fromkeys(part.pins, False)]):
        for pin in set(step) & set(rules.data) if now else ():
            assert now[f"{pin[0]}CLK"] is False and len(set(step) & set(rules.control)) == 0
        now.update(step)


def test_bidirectional_pins_are_let_go_before_the_direction_turns():
    made = load_file(LIBRARY / "245.toml")
    part = compile_part(made)
    start = {n: None if part.roles[n] is Role.BIDIRECTIONAL else False for n in part.pins}
    now = {}
    for step in extend(made, part, universe(part, made.pinouts[0]), [start]):
        if now and set(step) & {"DIR", "OE"}:
            assert all(now[n] is None for n in part.pins if part.roles[n] is Role.BIDIRECTIONAL)
        now.update(step)


def test_a_change_is_lawful_only_if_no_driver_can_come_on():
    """644, A to B: B1 sinks while A1 is high, so B1 may be held only while A1 is held low, and A1 must stay so."""
    made = load_file(LIBRARY / "644.toml")
    rules = Rules(made, compile_part(made))
    assert not set(rules.control) & set(rules.shared)
    now = {n: None for n in rules.shared} | {"G": False, "DIR": True}
    assert rules.surely_off(now, ()) == {f"A{k}" for k in range(1, 9)}
    assert rules.surely_off({**now, "A1": False}, ()) == {f"A{k}" for k in range(1, 9)} | {"B1"}
    held = {**now, "A1": False, "B1": True}
    assert rules.is_lawful({**now, "A1": False}, {"B1": True}) and not rules.is_lawful(now, {"A1": False, "B1": True})
    assert not rules.is_lawful(held, {"A1": True}) and not rules.is_lawful(held, {"A1": None})
    assert not rules.is_lawful(held, {"A1": True, "B1": None})     # the release may come last
    assert rules.is_lawful(held, {"A2": True}) and rules.is_lawful(held, {"B1": None})


def two_gates(node="n = A & B"):
    """OR and NOT behind a node of A and B."""
    return by_hand("A B C", "Y Z", [node, "Y = n | C", "Z = !n"], order="A B C GND Y Z NC")


def test_a_bridge_is_called_invisible_only_if_it_is():
    made = two_gates()
    equations = [assign.value for assign in made.assigns]
    ands = [PinFault(Kind.BRIDGE, "A", "B", how) for how in How]
    assert undetectable(made, ands) == (ands[2],)
    assert not undetectable(made, [PinFault(Kind.BRIDGE, "B", "C", how) for how in How])
    assert not invisible(equations, PinFault(Kind.STUCK, "A"))
    missed = simulate(compile_part(made), ands, checked(compile_part(made), [
        {"A": bool(k & 1), "B": bool(k & 2), "C": bool(k & 4)} for k in range(8)])).missed()
    assert missed == (ands[2],)


def reading_faults(made):
    """By name, target, place among the readings of its statement, and level."""
    return {(f.reading.name, f.reading.target, f.reading.place, f.value): f
            for f in universe(compile_part(made), made.pinouts[0]) if f.reading}


def test_a_stuck_reading_is_called_redundant_only_if_it_is():
    """A & B | A is A (absorption): what B does there cannot matter, A matters once; off, a tri-state's data do not."""
    made = two_gates("n = A & B | A")
    assert {name for name, f in reading_faults(made).items() if redundant(made, f)} == {
        ("A", "n", 0, 0), ("B", "n", 1, 0), ("B", "n", 1, 1)}
    made = by_hand("A B C", "Y", ["n = B", "Y = n | C", "Z = A & B when A"], tri_state="Z")
    assert {name for name, f in reading_faults(made).items() if redundant(made, f)} == {("A", "Z", 0, 1)}
    plain = two_gates()
    assert not any(redundant(plain, f) for f in reading_faults(plain).values())


def test_a_pin_that_the_part_pulls_low_is_not_high_whatever_wires_do_it():
    """P has a resistor inside and is pulled low from outside or by n: B is high wherever P is, so that B & P is P."""
    made = by_hand("A B", "Y", ["n = B & A", "P = n when 1", "Y = B & P"], bidirectional="P")
    assert {name for name, f in reading_faults(made).items() if redundant(made, f)} == {("B", "Y", 0, 1)}


def test_what_only_makes_clear_and_set_act_together_is_undefined():
    made = two_gates("n := 0 while 0, clear A & !B, set B")
    assert {name for name, f in reading_faults(made).items() if undefined_only(made, f)} == {("B", "n", 1, 0)}


def test_a_report_names_what_is_missed_and_why():
    lines = report_on(load_part("7400")).lines()
    assert lines[0].startswith("logic test: 8 steps, 32 output checks")
    assert any("28 of 28 found; 4 more can be shown by no test" in line for line in lines)
    assert "1A bridged to 1B, low wins" in lines[-1] and "no test can show it" in lines[-1]


def test_the_figures_count_what_can_be_found_once_a_pinout(monkeypatch):
    """Two types of one function and pinout count once, a monostable not at all; the numbers are those of test_a_report."""
    monkeypatch.setattr(figures, "type_names", lambda: iter(["7400", "74LS00", "74121", "7404"]))
    reports = [report_on(load_part(name)) for name in ("74LS00", "7404")]
    found = {name: (value, unit) for name, value, unit in figures.coverage()}
    kinds = {"pin_fault": (Kind.STUCK, Kind.OPEN), "bridge": (Kind.BRIDGE,), "inside": (Kind.INSIDE,)}
    for name, those in kinds.items():
        shown = sum(report.coverage.counts()[kind][0] for report in reports for kind in those)
        every = sum(report.coverage.counts()[kind][1] for report in reports for kind in those)
        hidden = sum(fault.kind in those for report in reports for fault in report.invisible)
        assert hidden == (4 if name == "bridge" else 0)
        assert found[f"{name}_coverage_percent"] == (round(100 * shown / (every - hidden), 2), "%")
    assert found["longest_logic_test_s"] == (round(max(report.seconds for report in reports), 2), "s")


def test_the_explanation_of_a_clocked_bit_that_is_cleared_and_set():
    report = report_on(load_part("7474"))
    assert {str(fault): why for fault, why in report.reasons.items()}["1PRE as read by 1Q stuck at 1"] == UNDEFINED
    # The clear stuck on as the output sees it would be another matter, and is found.
    made = load_file(LIBRARY / "74.toml")
    readings = [f for f in universe(compile_part(made), made.pinouts[0]) if f.reading and f.reading.target == "1Q"]
    assert [undefined_only(made, f) for f in readings] == [False, False, False, True]


@pytest.mark.parametrize("function", ["74", "125"])
def test_a_part_that_says_nothing_of_what_to_apply_gets_a_test_by_search(function):
    """From one step that sets the inputs everything at the pins is found; the larger parts stand in test_vectors_library."""
    made = load_file(LIBRARY / f"{function}.toml")
    part = compile_part(made)
    faults = universe(part, made.pinouts[0])
    hopeless = undetectable(made, faults)
    wanted = [fault for fault in faults if fault not in hopeless and fault.kind is not Kind.INSIDE]
    steps = extend(made, part, wanted, [dict.fromkeys(part.pins, False)])
    assert simulate(part, wanted, checked(part, steps)).missed() == ()
    assert [i for i in sequence.order_matters(Network(made), steps) if i] == []
