"""Fault counts and shortest tests of published circuits.

Outside references
  c17, c432   ISCAS-85 benchmark circuits (Brglez and Fujiwara, 1985): 22 and 524 collapsed faults, 4 redundant faults
              in c432 (from memory); c17's netlist and a re-synthesised c432 come from the PyPI package circuitgraph
  74181       the ALU's gate diagram (TI data sheet SDLS136): 237 collapsed faults, 12 tests, the least possible: Akers and
              Krishnamurthy, "Test counting: a tool for VLSI testing", IEEE Design & Test 6(5), 1989 (figure from memory);
              its function: the function table of the same sheet, transcribed from memory
  n-input gate  n + 2 faults, n + 1 tests: any textbook of testing (Abramovici, Breuer, Friedman, 1990, ch. 4)
  python-sat (CaDiCaL) and scipy (HiGHS) are the referees for redundancy and for exact minima.
Convention: a line is a stem, and each branch of a net with several sinks, an output pin among them; XOR is
one gate whose faults are not collapsed.

SPDX-License-Identifier: MIT
"""
from itertools import combinations
from pathlib import Path

import circuitgraph
import numpy as np
import pytest
from pysat.examples.hitman import Hitman
from pysat.solvers import Cadical153
from scipy.optimize import Bounds, LinearConstraint, milp

import sagbench.vectors
from sagbench.vectors.faultsim import Simulator, columns_of, exhaustive_columns
from sagbench.vectors.generate import generate
from sagbench.vectors.netlist import PIN, Gate, Line, build, read_bench

from c432 import c432

NETLISTS = Path(sagbench.vectors.__file__).parent / "netlists"


def packaged(name):
    """A circuit as the package has it, gate for gate."""
    circuit = circuitgraph.from_lib(name)
    gates = [Gate(n, {"buf": "BUFF"}.get(circuit.type(n), circuit.type(n).upper()), tuple(sorted(circuit.fanin(n))))
             for n in sorted(circuit.nodes()) if circuit.type(n) != "input"]
    return build(name, sorted(circuit.inputs()), sorted(circuit.outputs()), gates)


@pytest.fixture(scope="module")
def c17():
    return packaged("c17")


@pytest.fixture(scope="module")
def alu():
    return read_bench((NETLISTS / "181.bench").read_text(), "181.bench")


@pytest.fixture(scope="module")
def big():
    return c432()


def rows_of(netlist, faults):
    """For each fault, the patterns (of all there are) that detect it."""
    simulator = Simulator(netlist, exhaustive_columns(len(netlist.inputs)), 1 << len(netlist.inputs))
    return [simulator.detects(fault) for fault in faults]


def faulty_outputs(netlist, fault, columns, every):
    """The faulty circuit computed anew, by substitution: nothing of the fault simulator is used."""
    def level(gate, pin, net):
        hit = fault.line.net == net and (fault.line.gate, fault.line.pin) == (gate, pin)
        return (every if fault.value else 0) if hit else level_of[net]

    level_of = {}
    for net, column in zip(netlist.inputs, columns, strict=True):
        level_of[net] = column
        level_of[net] = level("", 0, net)
    for gate in netlist.gates:
        ins = [level(gate.name, pin, net) for pin, net in enumerate(gate.fanin)]
        ones = {"AND": lambda v: every & _all(v), "OR": _any, "XOR": _odd, "NOT": _any, "BUFF": _any}
        kind = {"NAND": "AND", "NOR": "OR", "XNOR": "XOR"}.get(gate.kind, gate.kind)
        level_of[gate.name] = ones[kind](ins) ^ (every if gate.kind in ("NAND", "NOR", "XNOR", "NOT") else 0)
        level_of[gate.name] = level("", 0, gate.name)
    return tuple(level(PIN, 0, net) for net in netlist.outputs)


def _all(values):
    result = -1
    for value in values:
        result &= value
    return result


def _any(values):
    result = 0
    for value in values:
        result |= value
    return result


def _odd(values):
    result = 0
    for value in values:
        result ^= value
    return result


def least_cover(rows):
    """The exact minimum by a general integer-programming solver: number of columns."""
    rows = [row for row in set(rows) if row]
    rows = [row for row in rows if not any(other != row and other & row == other for other in rows)]
    columns = sorted({tuple(row >> c & 1 for row in rows) for c in range(max(r.bit_length() for r in rows))})
    matrix = np.array(columns).T
    result = milp(np.ones(matrix.shape[1]), constraints=LinearConstraint(matrix, lb=1), bounds=Bounds(0, 1),
                  integrality=np.ones(matrix.shape[1]))
    assert result.status == 0, result.message
    return round(result.fun)


def test_c17_has_34_faults_22_after_collapsing(c17):
    assert (len(c17.lines), len(c17.faults), len(c17.collapsed)) == (17, 34, 22)


def test_c17_collapsed_faults_all_differ_in_function(c17):
    columns = exhaustive_columns(5)
    assert len({faulty_outputs(c17, fault, columns, (1 << 32) - 1) for fault in c17.collapsed}) == 22


def test_c17_needs_4_tests_and_there_are_10_such_sets(c17):
    found = generate(c17)
    print(f"c17: {len(found.vectors)} tests, least possible 4")
    assert len(found.vectors) == 4 and found.proved_minimum and not found.undetectable
    rows = rows_of(c17, c17.collapsed)
    assert sum(all(any(row >> p & 1 for p in chosen) for row in rows) for chosen in combinations(range(32), 4)) == 10
    assert not any(all(any(row >> p & 1 for p in chosen) for row in rows) for chosen in combinations(range(32), 3))


def test_c17_agrees_with_an_exact_hitting_set(c17):
    with Hitman(bootstrap_with=[[p for p in range(32) if row >> p & 1] for row in rows_of(c17, c17.collapsed)],
                htype="sorted") as solver:
        assert len(solver.get()) == 4


@pytest.mark.parametrize("kind", ["AND", "NAND", "OR", "NOR"])
@pytest.mark.parametrize("inputs", [2, 3, 4, 8])
def test_an_n_input_gate_has_n_plus_2_faults_and_n_plus_1_tests(kind, inputs):
    names = tuple(f"i{k}" for k in range(inputs))
    gate = build(kind, names, ("y",), [Gate("y", kind, names)])
    assert len(gate.faults) == 2 * inputs + 2 and len(gate.collapsed) == inputs + 2
    assert len(generate(gate).vectors) == inputs + 1


def test_the_74181_has_237_collapsed_faults(alu):
    assert (len(alu.gates), len(alu.lines), len(alu.faults), len(alu.collapsed)) == (58, 187, 374, 237)


def test_the_74181_is_tested_by_12_vectors_the_least_possible(alu):
    found = generate(alu)
    rows = rows_of(alu, alu.collapsed)
    print(f"74181: {len(found.vectors)} tests, least possible {least_cover(rows)}")
    assert least_cover(rows) == 12
    assert len(found.vectors) == 12
    assert all(any(row >> vector & 1 for vector in found.vectors) for row in rows)


def test_the_fault_simulator_agrees_with_substitution(alu):
    vectors = list(generate(alu).vectors)
    columns, every = columns_of(vectors, 14), (1 << len(vectors)) - 1
    simulator = Simulator(alu, columns, len(vectors))
    good = tuple(simulator.outputs()[net] for net in alu.outputs)
    for fault in alu.faults:
        bad = faulty_outputs(alu, fault, columns, every)
        assert simulator.detects(fault) == _any(a ^ b for a, b in zip(good, bad, strict=True)), str(fault)


# The 74181's sheet, active-high data (table 2): logic functions for S = 0..15.
LOGIC = [lambda a, b: ~a, lambda a, b: ~(a | b), lambda a, b: ~a & b, lambda a, b: 0, lambda a, b: ~(a & b),
         lambda a, b: ~b, lambda a, b: a ^ b, lambda a, b: a & ~b, lambda a, b: ~a | b, lambda a, b: ~(a ^ b),
         lambda a, b: b, lambda a, b: a & b, lambda a, b: 15, lambda a, b: a | ~b, lambda a, b: a | b, lambda a, b: a]
# Arithmetic without carry (Cn high), sums of: A, A+B, A+B', minus 1, ...
PLUS = [lambda a, b: a, lambda a, b: a | b, lambda a, b: a | ~b & 15, lambda a, b: 15,
        lambda a, b: a + (a & ~b), lambda a, b: (a | b) + (a & ~b), lambda a, b: a + (~b & 15), lambda a, b: (a & ~b) + 15,
        lambda a, b: a + (a & b), lambda a, b: a + b, lambda a, b: (a | ~b & 15) + (a & b), lambda a, b: (a & b) + 15,
        lambda a, b: a + a, lambda a, b: (a | b) + a, lambda a, b: (a | ~b & 15) + a, lambda a, b: a + 15]


def test_the_74181_netlist_does_what_its_function_table_says(alu):
    simulator = Simulator(alu, exhaustive_columns(14), 1 << 14)
    level = {**{n: c for n, c in zip(alu.inputs, exhaustive_columns(14), strict=True)}, **simulator.outputs()}

    def number(prefix, pattern):
        return sum((level[f"{prefix}{k}"] >> pattern & 1) << k for k in range(4))

    for pattern in range(1 << 14):
        a, b, s = (number(prefix, pattern) for prefix in "ABS")
        mode, carry = level["M"] >> pattern & 1, level["CN"] >> pattern & 1
        wanted = (LOGIC[s](a, b) if mode else PLUS[s](a, b) + (not carry)) & 15
        assert number("F", pattern) == wanted, (a, b, s, mode, carry)
        if not mode and s in (9, 12):        # plain sums: Cn+4 is low for a carry
            assert level["CN4"] >> pattern & 1 == (PLUS[s](a, b) + (not carry) < 16)
        assert level["AEQB"] >> pattern & 1 == (wanted == 15)


def test_c432_has_864_faults_524_after_collapsing(big):
    assert (len(big.gates), len(big.lines), len(big.faults), len(big.collapsed)) == (160, 432, 864, 524)


def test_c432_is_the_packaged_circuit_in_function(big):
    other = packaged("c432")
    rename = {net: f"N{net}" for net in (*big.inputs, *big.outputs)}
    solver, left, right = Cadical153(), {}, {}
    clauses(solver, big, left, {})
    clauses(solver, other, right, {rename[net]: left[net] for net in big.inputs})
    differ = []
    for net in big.outputs:
        differ.append(xor_of(solver, left[net], right[rename[net]], (left, right)))
    solver.add_clause(differ)
    assert not solver.solve()


def test_c432_is_tested_but_for_its_4_redundant_faults(big):
    found = generate(big)
    print(f"c432: {len(found.vectors)} tests, 27 is the least known (from memory)")
    simulator = Simulator(big, columns_of(found.vectors, 36), len(found.vectors))
    left = [fault for fault in big.collapsed if not simulator.detects(fault)]
    assert len(left) == 4 and set(left) == {*found.undetectable, *found.given_up}
    assert all(not detectable(big, fault) for fault in left)
    assert len(found.vectors) <= 40


def test_the_search_and_a_sat_solver_agree_which_faults_can_be_seen(c17):
    redundant = build("redundant", ("a", "b"), ("y",), [Gate("n", "NOT", ("a",)), Gate("p", "AND", ("a", "b")),
                                                        Gate("q", "AND", ("n", "b")), Gate("r", "OR", ("p", "q")),
                                                        Gate("y", "OR", ("r", "b"))])
    from sagbench.vectors.search import Answer, find_test
    for netlist in (c17, redundant):
        for fault in netlist.collapsed:
            answer = find_test(netlist, fault)
            assert (answer is Answer.UNDETECTABLE) == (not detectable(netlist, fault)), str(fault)
    assert any(find_test(redundant, fault) is Answer.UNDETECTABLE for fault in redundant.collapsed)


# ------------------------------------------------------------ the SAT referee
def fresh(variables):
    """A new variable number, one above all in use."""
    count = max((max(map(abs, table.values()), default=0) for table in variables), default=0) + 1
    variables[0][f"_{count}"] = count
    return count


def xor_of(solver, a, b, variables):
    """A variable equal to a xor b."""
    y = fresh(variables)
    for clause in ([-y, a, b], [-y, -a, -b], [y, -a, b], [y, a, -b]):
        solver.add_clause(clause)
    return y


def clauses(solver, netlist, table, shared, fault=None, base=None):
    """Tseitin form of a netlist into `table` (net -> variable), its inputs from `shared`; a fault put in by hand."""
    tables = (table, shared, base or {})
    constant = fresh(tables)
    solver.add_clause([constant])

    def stuck(net, gate="", pin=0):
        if fault and fault.line == Line(net, gate, pin):
            return constant if fault.value else -constant
        return table[net]

    for net in netlist.inputs:
        table[net] = shared.get(net) or fresh(tables)
    for net in netlist.inputs:
        table[net] = stuck(net)
    for gate in netlist.gates:
        ins = [stuck(net, gate.name, pin) for pin, net in enumerate(gate.fanin)]
        if gate.kind in ("XOR", "XNOR"):
            y = xor_of(solver, ins[0], ins[1], tables)
        else:
            y = fresh(tables)
            ors = gate.kind in ("OR", "NOR")
            ins = [-i if ors else i for i in ins]
            out = -y if ors else y
            for i in ins:
                solver.add_clause([-out, i])
            solver.add_clause([out, *(-i for i in ins)])
        table[gate.name] = -y if gate.kind in ("NAND", "NOR", "NOT", "XNOR") else y
        table[gate.name] = stuck(gate.name)
    return stuck


def detectable(netlist, fault):
    """Whether some input makes an output differ, by SAT on good and faulty circuit."""
    solver, good, bad = Cadical153(), {}, {}
    clauses(solver, netlist, good, {})
    stuck = clauses(solver, netlist, bad, {net: good[net] for net in netlist.inputs}, fault, good)
    differ = [xor_of(solver, good[net], stuck(net, PIN, 0), (bad, good)) for net in netlist.outputs]
    solver.add_clause(differ)
    return solver.solve()
