"""Netlists: reading, lines, collapsing, covers, and the gate diagrams that come with the library.

SPDX-License-Identifier: MIT
"""
from itertools import combinations
from random import Random

import pytest

from sagbench.errors import PartFileError
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.vectors.complete import NETLISTS, netlist_steps
from sagbench.vectors.cover import minimum_cover, transpose
from sagbench.vectors.faultsim import Simulator, columns_of, exhaustive_columns
from sagbench.vectors.generate import generate, missing
from sagbench.vectors.netlist import Gate, Line, build, read_bench
from sagbench.vectors.search import Answer, find_test

ADDER = """
# a half adder
INPUT(a)
INPUT(b)
OUTPUT(sum)
OUTPUT(carry)
sum = XOR(a, b)
carry = and(a, b)
"""


def test_the_bench_form_is_read_and_every_branch_is_a_line():
    netlist = read_bench(ADDER, "adder")
    assert netlist.inputs == ("a", "b") and netlist.outputs == ("sum", "carry")
    assert {str(line) for line in netlist.lines} == {"a", "b", "sum", "carry", "a->sum.0", "a->carry.0", "b->sum.1",
                                                     "b->carry.1"}
    # Of 16 faults only the AND's inputs and output stuck at 0 are equivalent: three in one class.
    assert len(netlist.faults) == 16 and len(netlist.collapsed) == 14


def test_an_output_that_also_feeds_a_gate_is_a_branch():
    netlist = build("n", "ab", ("y", "z"), [Gate("y", "AND", ("a", "b")), Gate("z", "NOT", ("y",))])
    assert {str(line) for line in netlist.lines} == {"a", "b", "y", "z", "y->pin", "y->z.0"}


@pytest.mark.parametrize(("text", "complaint"), [
    ("INPUT(a)\nOUTPUT(y)\ny = MAJ(a, a, a)", "x:3: found MAJ, expected one of AND"),
    ("INPUT(a)\nOUTPUT(y)\ny = NOT(a, a)", "x:3: NOT with 2 inputs"),
    ("INPUT(a)\nOUTPUT(y)\ny := a", "x:3: found 'y := a', expected INPUT"),
    ("INPUT(a)\nOUTPUT(y)\ny = AND(a, b)", "net b is driven by nothing"),
    ("INPUT(a)\nOUTPUT(y)\ny = NOT(a)\ny = BUF(a)", "net y is driven twice"),
    ("INPUT(a)\nOUTPUT(y)\ny = AND(a, z)\nz = NOT(y)", "a loop among y, z"),
])
def test_a_mistake_is_told_with_its_place(text, complaint):
    with pytest.raises(PartFileError) as caught:
        read_bench(text, "x")
    assert complaint in str(caught.value)


def test_two_mistakes_are_told_at_once():
    with pytest.raises(PartFileError) as caught:
        read_bench("INPUT(a\nOUTPUT(y)\ny = FOO(a)", "x")
    assert len(caught.value.mistakes) == 2


def test_columns_and_vectors_are_each_other_turned():
    assert columns_of(range(8), 3) == exhaustive_columns(3) == [0b10101010, 0b11001100, 0b11110000]
    rows = [0b0110, 0b1000, 0b0011]
    assert transpose(rows) == {0: 0b100, 1: 0b101, 2: 0b001, 3: 0b010}


def test_a_minimum_cover_is_minimum():
    rng = Random(5)
    for _ in range(40):
        rows = [rng.getrandbits(8) & rng.getrandbits(8) for _ in range(9)]
        wanted = [row for row in rows if row]
        least = next(n for n in range(9) for chosen in combinations(range(8), n)
                     if all(any(row >> c & 1 for c in chosen) for row in wanted))
        cover = minimum_cover(rows)
        assert cover.proved and len(cover.columns) == least
        assert all(any(row >> c & 1 for c in cover.columns) for row in wanted)


def test_a_larger_circuit_is_searched_and_what_is_found_is_a_test():
    # A 20-input parity behind an AND: random patterns seldom open the AND.
    gates = [Gate("x0", "XOR", ("i0", "i1"))]
    gates += [Gate(f"x{k}", "XOR", (f"x{k - 1}", f"i{k + 1}")) for k in range(1, 5)]
    gates.append(Gate("y", "AND", ("x4", *(f"i{k}" for k in range(6, 20)))))
    netlist = build("deep", [f"i{k}" for k in range(20)], ("y",), gates)
    found = generate(netlist)
    assert not found.undetectable and not found.given_up and found.coverage == 1
    simulator = Simulator(netlist, columns_of(found.vectors, 20), len(found.vectors))
    assert all(simulator.detects(fault) for fault in netlist.collapsed)
    fault = netlist.faults[0]
    test = find_test(netlist, fault)
    assert not isinstance(test, Answer)
    free = [net for net in netlist.inputs if net not in test]
    for level in (0, (1 << len(free)) - 1):
        filled = {**test, **{net: level >> k & 1 for k, net in enumerate(free)}}
        assert Simulator(netlist, [filled[net] for net in netlist.inputs], 1).detects(fault)


def test_missing_adds_only_what_is_missing():
    netlist = read_bench(ADDER, "adder")
    assert len(missing(netlist, [])) == len(generate(netlist).vectors)
    assert missing(netlist, [0, 1, 2, 3]) == ()


@pytest.mark.parametrize("path", sorted(NETLISTS.glob("*.bench")), ids=lambda path: path.stem)
def test_a_gate_diagram_does_what_the_equations_of_its_part_file_say(path):
    """Two ways to the same function: gate by gate, and the part file's equations in the part room's own evaluator."""
    netlist, network = read_bench(path.read_text(), path.name), Network(load_file(LIBRARY / f"{path.stem}.toml"))
    count = len(netlist.inputs)
    assert set(netlist.inputs) == set(network.inputs) and set(netlist.outputs) == set(network.drivers)
    simulator = Simulator(netlist, exhaustive_columns(count), 1 << count)
    machine = Machine(network, 1 << count)
    for net, column in zip(netlist.inputs, exhaustive_columns(count), strict=True):
        machine.set_lanes(net, column)
    machine.settle()
    for net, level in simulator.outputs().items():
        low, high, off = machine.output(net)
        assert (high | off, low) == (level, simulator.all & ~level), net


@pytest.mark.parametrize("restarts", [0, 3])
def test_a_cover_that_greed_does_not_find_is_found(restarts):
    """Two columns of seven rows each cover all; three of eight, four and two (half from each) look better one by one."""
    rows = [1 << side | 1 << middle for side in (3, 4) for middle, share in ((0, 4), (1, 2), (2, 1)) for _ in range(share)]
    # Rows of their own: each has one more column that covers nothing else.
    rows = [row | 1 << 5 + place for place, row in enumerate(rows)]
    cover = minimum_cover(rows, restarts=restarts)
    assert cover.columns == (3, 4) and cover.proved


GATES = [("AND", 2), ("AND", 3), ("NAND", 2), ("NAND", 4), ("OR", 2), ("NOR", 3), ("XOR", 2), ("XNOR", 3), ("NOT", 1), ("BUFF", 1)]


@pytest.mark.parametrize(("kind", "inputs"), GATES)
def test_faults_are_called_equivalent_only_if_no_pattern_tells_them_apart(kind, inputs):
    """A gate of n inputs has n + 2 classes of faults, one of one input two, one that adds modulo two 2 n + 2
    (Abramovici, Breuer and Friedman, Digital Systems Testing and Testable Design, 1990, chapter 4; from memory)."""
    netlist = build("one", "abcd"[:inputs], "y", [Gate("y", kind, tuple("abcd"[:inputs]))])
    simulator = Simulator(netlist, exhaustive_columns(inputs), 1 << inputs)
    for faults in netlist.classes.values():
        assert len({simulator.detects(fault) for fault in faults}) == 1, kind
    assert len(netlist.collapsed) == {"XOR": 2 * inputs + 2, "XNOR": 2 * inputs + 2, "NOT": 2, "BUFF": 2}.get(kind, inputs + 2)
    assert sum(map(len, netlist.classes.values())) == len(netlist.faults) == 2 * inputs + 2


def test_what_a_gate_diagram_needs_is_added_to_a_test():
    """From a test of one step and from one of three: what is added finds all that the diagram's own faults are."""
    definition = load_file(LIBRARY / "181.toml")
    netlist = read_bench((NETLISTS / "181.bench").read_text(), "181")
    for base in ([dict.fromkeys(netlist.inputs, False)],
                 [dict.fromkeys(netlist.inputs, True), {netlist.inputs[0]: False}, {netlist.inputs[3]: False, netlist.inputs[0]: True}]):
        now, vectors = {}, []
        for step in [*base, *netlist_steps(definition, base)]:
            assert all(now.get(net) is not level for net, level in step.items())       # nothing is set that is so already
            now |= step
            vectors.append(sum(1 << place for place, net in enumerate(netlist.inputs) if now[net]))
        assert len(vectors) > len(base) and missing(netlist, vectors) == ()
        assert 12 <= len(vectors) <= 14 + len(base)          # twelve is the least there is (tests/outside/test_fault_counts.py)


def test_a_line_of_a_single_sink_is_its_stem():
    netlist = build("n", "ab", "y", [Gate("y", "AND", ("a", "b"))])
    assert netlist.line_at("y", 1) == Line("b")
