"""Functions written as expressions, read back by the part files' own language.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sagbench.learn.functions import Sampled, Table, written
from sagbench.parts.behaviour import Machine, Network
from sagbench.parts.model import Expect
from sagbench.parts.reader import read

NAMES = ["A", "B", "C", "D", "E", "F"]


def values(text: str, wires: tuple[str, ...], count: int) -> list[bool]:
    """What an expression comes to at each point, by the behaviour machine."""
    file = f"""function = "99"
title = "a function"
sources = ["memory"]
[[pinout]]
pins = [{", ".join(f'"{n}"' for n in (*NAMES, "GND", "Y", "NC", "VCC"))}]
[[block]]
inputs = [{", ".join(f'"{n}"' for n in NAMES)}]
outputs = ["Y"]
logic = [{", ".join(f'"{line}"' for line in (*wires, f"Y = {text}"))}]
[family.LS]
"""
    machine = Machine(Network(read(file, "function", origin="own")))
    out = []
    for point in range(1 << count):
        machine.set({name: bool((point >> i) & 1) for i, name in enumerate(NAMES)})
        out.append(machine.expect("Y") is Expect.HIGH)
    return out


@settings(max_examples=40, deadline=None)
@given(table=st.integers(0, (1 << 64) - 1), care=st.integers(0, (1 << 64) - 1))
def test_what_is_written_does_what_was_seen(table: int, care: int) -> None:
    ones = frozenset(p for p in range(64) if (care & table) >> p & 1)
    zeros = frozenset(p for p in range(64) if (care & ~table) >> p & 1)
    got = values(*written(Sampled(ones, zeros), 6, NAMES), 6)
    assert all(got[p] for p in ones) and not any(got[p] for p in zeros)


def test_a_parity_is_a_chain_and_not_half_of_all_products() -> None:
    ones = frozenset(p for p in range(64) if p.bit_count() & 1)
    text, wires = written(Sampled(ones, frozenset(range(64)) - ones), 6, NAMES)
    assert len(wires) == 5 and all("^" in line for line in wires)
    assert values(text, wires, 6) == [p in ones for p in range(64)]


def test_the_textbook_example_of_quine_and_mccluskey() -> None:
    """f(A,B,C,D) = sum of minterms 4,8,10,11,12,15, free at 9 and 14: three products of 7 literals, BC'D' + AB' + AC
    (a worked example that many textbooks of the method print; from memory).  A is the highest bit of a minterm."""
    lower = sum(1 << m for m in (4, 8, 10, 11, 12, 15))
    cubes, covered = Table(4).sum(lower, lower | 1 << 9 | 1 << 14)
    assert covered & lower == lower and not covered & ~(lower | 1 << 9 | 1 << 14)
    assert len(cubes) == 3 and sum((p | q).bit_count() for p, q in cubes) == 7


def test_the_support_is_what_cannot_be_left_out() -> None:
    ones = frozenset(p for p in range(64) if (p >> 1) & 1 and not (p >> 4) & 1)
    assert Sampled(ones, frozenset(range(64)) - ones).support(6) == 0b010010


def test_contradictions_are_not_written() -> None:
    with pytest.raises(ValueError, match="same point"):
        written(Sampled(frozenset({1}), frozenset({1})), 1, ["A"])
