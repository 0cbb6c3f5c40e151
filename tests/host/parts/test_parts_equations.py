"""The statements of part files: what they mean, and where a mistake is found.

SPDX-License-Identifier: MIT
"""
import string
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sagbench.parts.equations import Assign, EquationError, Register, parse, parse_expr
from sagbench.parts.reader import read

NAMES = ("A", "B", "C")


def value(expression: str) -> str:
    """Its truth table over A, B, C (A counts slowest), by a part made of it."""
    from sagbench.parts.behaviour import Machine, Network
    part = read(f'function = "99"\ntitle = "x"\n[[pinout]]\npins = ["A", "B", "C", "Y", "GND", "VCC"]\n[[block]]\n'
                f'inputs = ["A", "B", "C"]\noutputs = ["Y"]\nlogic = ["Y = {expression}"]\n[family.LS]\n', "x")
    machine = Machine(Network(part))
    table = ""
    for levels in product((False, True), repeat=3):
        machine.set(dict(zip(NAMES, levels, strict=True)))
        table += {"L": "0", "H": "1"}[machine.expects()["Y"].value]
    return table


@pytest.mark.parametrize(("expression", "table"), [
    ("A & B | C", "01010111"),           # and binds stronger than or
    ("A | B & C", "00011111"),
    ("A ^ B & C", "00011110"),
    ("A | B ^ C", "01101111"),           # exclusive or binds stronger than or
    ("!A & B", "00110000"),              # not binds strongest
    ("!(A & B)", "11111100"),
    ("A ? B : C", "01010011"),
    ("A ? 1 : B ? C : 0", "00011111"),
    ("!!A ^ 1", "11110000"),
])
def test_operators(expression: str, table: str) -> None:
    """Tables worked by hand."""
    assert value(expression) == table


def _tree(depth: int) -> st.SearchStrategy[str]:
    leaf = st.sampled_from([*NAMES, "0", "1"])
    if not depth:
        return leaf
    inner = _tree(depth - 1)
    return st.one_of(leaf, inner.map(lambda x: f"(not {x})"),
                     st.tuples(inner, st.sampled_from(["and", "or", "!="]), inner).map(lambda t: f"({t[0]} {t[1]} {t[2]})"))


@given(_tree(3))
def test_agrees_with_python(expression: str) -> None:
    """Referee: Python's own Boolean operators."""
    ours = expression.replace("not ", "!").replace("and", "&").replace("or", "|").replace("!=", "^")
    expected = "".join(str(int(bool(eval(expression, {}, dict(zip(NAMES, levels, strict=True))))))
                       for levels in product((0, 1), repeat=3))
    assert value(ours) == expected


def test_kinds_of_statement() -> None:
    assert isinstance(parse("Y = A when !G"), Assign)
    latch = parse("q := D while LE")
    assert isinstance(latch, Register) and latch.edge == ""
    flip_flop = parse("q := D on falling CLK, clear !CLR, set !PRE")
    assert isinstance(flip_flop, Register) and flip_flop.edge == "falling" and flip_flop.clear and flip_flop.set


@pytest.mark.parametrize(("text", "column", "found"), [
    ("Y = A &", 7, "the end of the statement"),
    ("Y = A & & B", 8, "'&'"),
    ("Y = (A | B", 10, "the end of the statement"),
    ("Y = A B", 6, "'B'"),
    ("Y = A @ B", 6, "'@'"),
    ("Y == A", 3, "'='"),
    ("= A", 0, "'='"),
    ("Y = 7", 4, "'7'"),
    ("q := D", 6, "the end of the statement"),
    ("q := D on CLK", 10, "'CLK'"),
    ("q := D on rising CLK, clear A, clear B", 31, "'clear'"),
    ("Y = A ? B", 9, "the end of the statement"),
    ("Y = __import__('os')", 15, "'''"),
    ("Y = f(A)", 5, "'('"),
    ("Y = when", 4, "'when'"),
])
def test_mistakes_have_a_column(text: str, column: int, found: str) -> None:
    with pytest.raises(EquationError) as caught:
        parse(text)
    assert (caught.value.column, caught.value.found) == (column, found)
    assert caught.value.expected


@given(st.text(alphabet=string.ascii_letters + string.digits + " =:!&|^?()_,.'\"@\n", max_size=60))
def test_no_text_does_anything_but_parse_or_fail(text: str) -> None:
    for reader in (parse, parse_expr):
        try:
            reader(text)
        except EquationError as error:
            assert 0 <= error.column <= len(text)
