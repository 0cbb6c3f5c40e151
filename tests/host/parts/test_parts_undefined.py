"""`undefined`: a level that the data book leaves open is never expected, and what hangs on it neither.

Referee for the 4028: its function table in `tables/d_tables.py` says nothing of Q8 and Q9 beyond nine.

SPDX-License-Identifier: MIT
"""
from itertools import product

import pytest

from sagbench.parts import load_part
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect
from sagbench.parts.reader import read
from sagbench.report.statement import statement
from sagbench.vectors.compile import compile_part
from sagbench.vectors.complete import find
from sagbench.vectors.coverage import simulate
from sagbench.vectors.pinfaults import Kind, universe
from sagbench.vectors.proof import undetectable

FILE = '''\
function = "99"
title = "x"
[[pinout]]
pins = ["A", "B", "C", "Y", "GND", "VCC"]
[[block]]
inputs = ["A", "B", "C"]
tri_state = ["Y"]
logic = ["Y = {} when {}"]
[family.LS]
'''


def table(value: str, enable: str = "1") -> str:
    """What Y does over A, B, C (A counts slowest); `-` where nothing is expected."""
    machine = Machine(Network(read(FILE.format(value, enable), "x", "x")))
    seen = ""
    for levels in product((False, True), repeat=3):
        machine.set(dict(zip("ABC", levels, strict=True)))
        seen += (machine.expect("Y") or "-")
    return seen


@pytest.mark.parametrize(("value", "enable", "wanted"), [
    ("undefined", "1", "--------"),
    ("!undefined", "1", "--------"),
    ("A ? undefined : B", "1", "LLHH----"),
    ("A & undefined", "1", "LLLL----"),                  # low whatever it is
    ("A | undefined", "1", "----HHHH"),
    ("undefined ^ undefined", "1", "--------"),          # each is one of its own
    ("undefined ? B : B", "1", "LLHHLLHH"),              # the same either way
    ("A", "B ? undefined : 1", "LL--HH--"),              # whether it drives is open
    ("undefined", "C", "Z-Z-Z-Z-"),
])
def test_where_it_counts_nothing_is_expected(value: str, enable: str, wanted: str) -> None:
    assert table(value, enable) == wanted


def test_it_is_written_as_it_is_read() -> None:
    made = read(FILE.format("A ? undefined : !B", "C"), "x", "x")
    assert statement(made.assigns[0]) == "Y = A ? undefined : !B when C"


def test_the_fault_simulator_expects_nothing_there_either() -> None:
    """Y is open while A is high: A stuck low cannot show, stuck high cannot be told from it; B and C can."""
    made = read(FILE.format("A ? undefined : B & C", "1"), "x", "x").of("LS")
    compiled, pinout = compile_part(made), made.pinouts[0]
    steps = find(made, pinout, [dict.fromkeys("ABC", False)])
    assert steps
    network = Network(made)
    machine = Machine(network)
    from sagbench.vectors.coverage import checked
    whole = [dict.fromkeys("ABC", False), *steps]
    missed = {str(f) for f in simulate(compiled, universe(compiled, pinout), checked(compiled, whole)).missed() if f.kind is Kind.STUCK}
    assert {name for name in missed if name[0] in "BCY"} == set(), missed
    for step in whole:
        machine.set(step)
        assert machine.expect("Y") in (None, Expect.LOW, Expect.HIGH)


def test_no_fault_is_called_invisible_because_of_one_of_its_levels() -> None:
    """A stuck high makes Y follow what is open, which may be high or low: that is no proof that nothing differs."""
    made = read(FILE.format("A & undefined", "1"), "x", "x").of("LS")
    compiled = compile_part(made)
    inside = [f for f in universe(compiled, made.pinouts[0]) if f.kind is Kind.INSIDE]
    assert inside and not undetectable(made, inside)


def test_beyond_nine_the_4028_is_not_looked_at_where_makers_differ() -> None:
    part = load_part("4028")
    number = {pin.name: pin.number for pin in part.pins}
    now: dict[int, bool | None] = {}
    beyond = 0
    for step in part.sequence:
        now.update(step.set)
        value = sum(bool(now[number[name]]) << place for place, name in enumerate("ABCD"))
        looked = {name for name in ("Q8", "Q9") if number[name] in step.expect}
        assert looked == (set() if value > 9 else {"Q8", "Q9"})
        beyond += value > 9
    assert beyond
