"""Faults of a part, simulated in lanes, against the part room's evaluator and against what a bench would show.

The referee is the part room's own evaluator, given what the faulty pins would pass on.

SPDX-License-Identifier: MIT
"""
import pytest
from hand_made import by_hand
from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.parts.model import Expect, Role
from sagbench.vectors.compile import compile_part
from sagbench.vectors.coverage import Contradiction, NamedStep, checked, simulate
from sagbench.vectors.lanes import Lanes
from sagbench.vectors.pinfaults import How, Kind, PinFault, universe

FUNCTIONS = sorted(path.stem for path in LIBRARY.glob("*.toml"))
BOTH_WAYS = [f for f in FUNCTIONS if Role.BIDIRECTIONAL in load_file(LIBRARY / f"{f}.toml").roles.values()]
ANY = st.sampled_from(FUNCTIONS) | st.sampled_from(BOTH_WAYS)
NAND = {"inputs": "A B", "outputs": "Y", "logic": ["Y = !(A & B)"], "order": "A B GND Y NC"}
COUNTER = ["q0 := !q0 on falling CLK, clear CLR", "q1 := !q1 on falling q0, clear CLR"]


def two_bits(stages):
    """Two state bits with their outputs: of COUNTER, or others."""
    return compile_part(by_hand("CLK CLR", "Q0 Q1", [*stages, "Q0 = q0", "Q1 = q1"], program="CLR=1"))


def levels_of(definition, part, source):
    """Random legal-looking levels: all inputs first, then one at a time.

    A bidirectional pin is driven only while the part has it off, and all are let go before anything else moves.
    """
    shared = [n for n in part.pins if n in {d.name for d in part.drives}]
    names = [n for n in part.pins if n not in shared]
    machine = Machine(Network(definition))
    steps = [{n: source.draw(st.booleans()) for n in names} | dict.fromkeys(shared)]
    machine.set(steps[0])
    for _ in range(source.draw(st.integers(0, 25))):
        off = [n for n in shared if machine.driven[n] is not None or machine.expect(n) is Expect.OFF]
        if off and source.draw(st.booleans()):
            steps.append({n: source.draw(st.booleans()) for n in off})
        else:
            if any(machine.driven[n] is not None for n in shared):
                steps.append(dict.fromkeys(shared))
                machine.set(steps[-1])
            steps.append({source.draw(st.sampled_from(names)): source.draw(st.booleans())})
        machine.set(steps[-1])
        # The data of an open-collector bus may switch its other side on: then the test ends, nothing may fight.
        if any(machine.driven[n] is not None and machine.expect(n) is not Expect.OFF for n in shared):
            return steps[:-1]
    return steps


def fights(machine):
    """True if the part may drive a pin that is driven from outside."""
    return any(machine.driven.get(n) is not None and machine.expect(n) is not Expect.OFF for n in machine.network.drivers)


def surely_drives(machine, name):
    """True if an output surely is not off, whatever its level."""
    driver = machine.network.drivers[name]
    return driver.enable >= 0 and bool(machine.one[driver.enable])


@settings(max_examples=60, deadline=None)
@given(ANY, st.data())
def test_the_sound_part_does_what_the_part_room_says(function, source):
    definition = load_file(LIBRARY / f"{function}.toml")
    part = compile_part(definition)
    machine = Machine(Network(definition))
    steps = levels_of(definition, part, source)
    for step, change in zip(checked(part, steps), steps, strict=True):
        machine.set(change)
        assert dict(step.expect) == machine.expects()


@settings(max_examples=40, deadline=None)
@given(ANY, st.data())
def test_an_input_fault_is_the_part_with_that_in_its_equations(function, source):
    path = LIBRARY / f"{function}.toml"
    definition = load_file(path)
    part = compile_part(definition)
    pinout = definition.pinouts[0]
    drives = {drive.name for drive in part.drives}
    faults = [f for f in universe(part, pinout) if f.kind is Kind.STUCK and f.pin not in drives
              or f.how and f.pin in part.pins and f.other in part.pins and not {f.pin, f.other} & drives]
    fault = source.draw(st.sampled_from(faults))
    steps = checked(part, levels_of(definition, part, source))
    found = simulate(part, [fault], steps).found[fault] is not None
    # The referee: the sound part, given what the faulty pins would pass on to it.
    network = Network(definition)
    machine, now, wrong = Machine(network), {}, False
    both_ways = any(name in network.inputs for name in drives)
    for step in steps:
        now.update(step.set)
        seen = dict(now)
        if fault.kind is Kind.STUCK:
            seen[fault.pin] = bool(fault.value)
        else:
            a, b = now[fault.pin], now[fault.other]
            mixed = {How.FIRST: a, How.SECOND: b, How.AND: a and b}[fault.how]
            seen[fault.pin] = seen[fault.other] = mixed
        machine.set(seen)
        if fights(machine):
            break                        # a level between: the lanes say unknown from here on, the referee cannot
        does = machine.expects()
        wrong |= any(does.get(name) not in (None, wanted) or wanted is Expect.OFF and surely_drives(machine, name)
                     for name, wanted in step.expect.items())
    # Data and clock bridged change together: the referee takes the new data, the lanes the old. And the lanes
    # also try real states at power-up, and read what a bidirectional pin itself drives, so they may find more; never
    # less where the state is not in question.
    if not part.bits and not both_ways:
        assert found == wrong
    elif wrong and not (fault.how and part.bits):
        assert found


def test_an_output_stuck_or_open_is_seen_where_it_should_move():
    gate = compile_part(by_hand(**NAND))
    up, down = [{"A": True, "B": True}], [{"A": False, "B": False}]
    for levels, seen in ((up, {"Y stuck at 1", "Y open"}), (down, {"Y stuck at 0", "Y open"})):
        faults = [PinFault(Kind.STUCK, "Y", value=0), PinFault(Kind.STUCK, "Y", value=1), PinFault(Kind.OPEN, "Y")]
        found = simulate(gate, faults, checked(gate, levels)).found
        assert {str(fault) for fault, step in found.items() if step is not None} == seen


def test_the_faults_of_a_part_are_all_at_its_pins_and_all_readings():
    """A NAND with its pins in the order A B GND Y NC NC VCC: two inputs, one output, two readings."""
    definition = by_hand(**NAND)
    assert sorted(map(str, universe(compile_part(definition), definition.pinouts[0]))) == sorted([
        *(f"{pin} stuck at {level}" for pin in "ABY" for level in (0, 1)), "Y open",
        "A bridged to B, the first wins", "A bridged to B, the second wins", "A bridged to B, low wins", "B bridged to GND",
        *(f"{name} as read by Y stuck at {level}" for name in "AB" for level in (0, 1))])


def test_bridges_stand_between_neighbours_of_a_row_and_not_across_or_with_nc():
    definition = by_hand(**NAND)
    pairs = {(f.pin, f.other) for f in universe(compile_part(definition), definition.pinouts[0]) if f.kind is Kind.BRIDGE}
    assert pairs == {("A", "B"), ("B", "GND")}


def test_an_inverting_loop_through_a_bridge_rests_at_neither_level():
    fault = PinFault(Kind.BRIDGE, "A", "Y", How.SECOND)
    lanes = Lanes(compile_part(by_hand(**NAND | {"order": "A Y GND B NC"})), [fault])
    lanes.set({"A": True, "B": True})
    assert lanes.nodes["Y"].between == 0b10
    lanes.set({"B": False})
    assert lanes.nodes["Y"].high == 0b11


def test_a_ripple_counter_ripples_and_begins_unknown():
    steps = checked(two_bits(COUNTER), [{"CLK": False, "CLR": False}, {"CLR": True}, {"CLR": False},
                                        *({"CLK": bool(k % 2 == 0)} for k in range(8))])
    assert steps[0].expect == {}
    counts = [(s.expect["Q1"] is Expect.HIGH) * 2 + (s.expect["Q0"] is Expect.HIGH) for s in steps[2:]]
    assert counts == [0, 0, 1, 1, 2, 2, 3, 3, 0]


@pytest.mark.parametrize(("rest", "count"), [(False, 1), (False, 3), (True, 2), (False, 5)])
def test_a_train_of_pulses_is_its_edges_one_by_one(rest, count):
    """In the sound counter and in each faulty one, whichever level the clock rests at; other pins of the step move before."""
    made = by_hand("CLK CLR", "Q0 Q1", [*COUNTER, "Q0 = q0", "Q1 = q1"], program="CLR=1")
    part = compile_part(made)
    faults = universe(part, made.pinouts[0])
    whole, single = Lanes(part, faults), Lanes(part, faults)
    for lanes in (whole, single):
        lanes.set({"CLK": rest, "CLR": True})
    whole.set({"CLR": False, f"CLK^{count}": True})
    for step in [{"CLR": False}, *[{"CLK": not rest}, {"CLK": rest}] * count]:
        single.set(step)
    assert whole.nodes == single.nodes and whole.state == single.state
    low, high = (whole.nodes[name].low & 1 for name in ("Q0", "Q1"))
    assert (1 - low) + 2 * (1 - high) == count % 4


def test_a_clock_that_is_stuck_is_found_whatever_the_part_powers_up_as():
    shift = two_bits(["q0 := CLR on falling CLK", "q1 := q0 on falling CLK"])
    steps = checked(shift, [{"CLK": False, "CLR": False}, *({"CLR": level} if name == "CLR" else {"CLK": level}
                           for name, level in [("CLK", True), ("CLK", False), ("CLR", True), ("CLK", True), ("CLK", False)])])
    assert all(step is not None for fault, step in simulate(
        shift, [PinFault(Kind.STUCK, "CLK", value=v) for v in (0, 1)], steps).found.items())


def test_a_sequence_that_the_sound_part_would_fail_is_refused():
    with pytest.raises(Contradiction, match="step 0: Y is expected H"):
        simulate(compile_part(by_hand(**NAND)), [], [NamedStep({"A": True, "B": True}, {"Y": Expect.HIGH})])


def test_nothing_of_a_part_file_reaches_the_compiled_source():
    """Names are replaced by numbers before Python sees them: a name that is Python is only a name."""
    gate = compile_part(by_hand("__import__ B", "Y", ["Y = !(__import__ & B)"]))
    assert not set(gate.evaluate.__code__.co_names) and "__import__" not in gate.evaluate.__code__.co_varnames
    assert checked(gate, [{"__import__": True, "B": True}])[0].expect == {"Y": Expect.LOW}


@settings(max_examples=40, deadline=None)
@given(ANY, st.data())
def test_lanes_that_are_kept_go_on_as_if_the_others_were_there(function, source):
    definition = load_file(LIBRARY / f"{function}.toml")
    compiled = compile_part(definition)
    faults = universe(compiled, definition.pinouts[0])
    steps = levels_of(definition, compiled, source)
    when = source.draw(st.integers(0, len(steps)))
    kept = source.draw(st.lists(st.integers(1, len(faults)), unique=True, min_size=1, max_size=12))
    all_lanes = Lanes(compiled, faults)
    for step in steps[:when]:
        all_lanes.set(step)
    few = all_lanes.keep(kept)
    for step in steps[when:]:
        all_lanes.set(step)
        few.set(step)
        for name, node in few.nodes.items():
            wide = all_lanes.nodes[name]
            assert node == tuple(sum((level >> lane & 1) << place for place, lane in enumerate([0, *kept])) for level in wide), name
