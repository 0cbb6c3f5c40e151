"""Which forms of other functions a part may be mistaken for.

SPDX-License-Identifier: MIT
"""
from sagbench.judge.identity import _fitting
from sagbench.parts import load_part
from sagbench.parts.lookup import LIBRARY, load_file


def test_a_likeness_has_its_rails_at_the_same_pins():
    """Of the forms of a function those with as many pins, and supply and ground at the same ones (7473: 4 and 11; TI data book, from memory)."""
    part = load_part("7400")
    for entry in ("08", "74", "54"):
        for _, pinout in _fitting(part, load_file(LIBRARY / f"{entry}.toml")):
            assert pinout.pins[7 - 1] in pinout.ground and pinout.pins[14 - 1] in pinout.supply
    assert [len(list(_fitting(part, load_file(LIBRARY / f"{name}.toml")))) for name in ("08", "85", "121", "189")] == [1, 0, 0, 0]
    assert list(_fitting(part, load_file(LIBRARY / "73.toml"))) == []
    assert len(list(_fitting(load_part("7473"), load_file(LIBRARY / "73.toml")))) == 1
