"""The behaviour of every part of the library against the function tables of the data books.

Source: see databook.py.

SPDX-License-Identifier: MIT
"""
from itertools import product

import pytest

import paper_bench as paper
import databook
from databook import TABLES, Table
from sagbench.parts import load_file
from sagbench.parts.lookup import file_names

LEVELS = {"L": False, "H": True}
INVERSE = {"L": "H", "H": "L"}


def rows(table: Table):
    """Every row with its X spelt out: input symbols, output symbols."""
    for line in table.rows.strip().splitlines():
        left, right = (part.split() for part in line.split("|"))
        for chosen in product(*("LH" if symbol == "X" else (symbol,) for symbol in left)):
            yield chosen, tuple(right)


def prepared(table: Table, section: tuple[int, ...], inputs: list[str], level: str) -> paper.Bench:
    """A chip with all its inputs low, then brought to q = level by the table's own means."""
    chip = paper.Bench(table.part)
    chip.machine.set({name: False for name in chip.machine.network.inputs})
    for together in (table.low if level == "L" else table.high).split(","):
        for item in together.split():
            name, symbol = item.split("=")
            chip.set_pin(section[inputs.index(name)], LEVELS[symbol])
    return chip


def apply(chip: paper.Bench, section: tuple[int, ...], inputs: list[str], symbols: tuple[str, ...]) -> None:
    """Clock to its resting level, data, then the rest that is not a clock edge, then the edge."""
    pins = dict(zip(inputs, zip(section, symbols, strict=False), strict=True))
    edges = {name: (pin, symbol) for name, (pin, symbol) in pins.items() if symbol in "^v"}
    for pin, symbol in edges.values():
        chip.set_pin(pin, symbol == "v")
    for name, (pin, symbol) in pins.items():
        if name not in edges:
            chip.set_pin(pin, LEVELS[symbol])
    for pin, symbol in edges.values():
        chip.set_pin(pin, symbol == "^")


@pytest.mark.parametrize("table", TABLES, ids=lambda t: f"{t.part}-{t.columns.split()[1]}")
def test_follows_the_data_book(table: Table) -> None:
    inputs, outputs = (part.split() for part in table.columns.split("|"))
    checked = 0
    for section in table.sections:
        pins = section[len(inputs):]
        for symbols, wanted in rows(table):
            remembers = bool(table.low)
            for before in "LH" if remembers else "L":
                if remembers:
                    # A resting clock must rest already: a row that says "clock H" is not an edge.
                    chip = prepared(table, section, inputs, before)
                    clock = next((i for i, name in enumerate(inputs) if name == "CLK" and symbols[i] in "LHv"), None)
                    if clock is not None:
                        raise_clock_unseen(chip, table, section, inputs, before, symbols[clock] in "Hv")
                else:
                    chip = paper.Bench(table.part)
                    chip.machine.set({name: False for name in chip.machine.network.inputs})
                apply(chip, section, inputs, symbols)
                for pin, symbol in zip(pins, wanted, strict=True):
                    expected = {"q": before, "/q": INVERSE[before]}.get(symbol, symbol)
                    assert chip.get(pin) == expected, (section, symbols, before, pin)
                    checked += 1
    assert checked


def raise_clock_unseen(chip: paper.Bench, table: Table, section: tuple[int, ...], inputs: list[str], before: str,
                       high: bool) -> None:
    """Bring the clock to its resting level and the state back to q if that edge changed it."""
    place = section[inputs.index("CLK")]
    if "PRE" in inputs:
        chip.set_pin(place, high)
        for together in (table.low if before == "L" else table.high).split(","):
            for item in together.split():
                name, symbol = item.split("=")
                chip.set_pin(section[inputs.index(name)], LEVELS[symbol])
    elif high:                                         # D flip-flops: the edge takes in q itself
        chip.set_pin(section[inputs.index("D")], before == "H")
        chip.set_pin(place, True)


def test_every_function_of_the_first_group_has_a_check_here() -> None:
    """Here or in a file of its own group (test_tables_*.py, tables/)."""
    tabled = {paper.Bench(t.part).definition.function for t in TABLES}
    told_in_words = {"161", "164", "181", "245"}
    assert tabled | told_in_words == set(databook.PIN_COUNTS)
    for function, pins in databook.PIN_COUNTS.items():
        names = load_file(file_names()[function]).pinouts[0].pins
        assert len(names) == pins
        assert names[pins // 2 - 1] in ("GND", "VSS") and names[-1] in ("VCC", "VDD")      # all of these have corner supplies


def test_161_sequence_of_the_data_book() -> None:
    """The typical sequence printed for the 74161: clear, preset to twelve, count 13 14 15 0 1 2, inhibit (from memory)."""
    chip = paper.Bench("74161")
    chip.set(CLR=True, LOAD=True, ENP=False, ENT=False, CLK=False, A=False, B=False, C=True, D=True)

    def count() -> int:
        return sum((chip.get(pin) == "H") << bit for bit, pin in enumerate((14, 13, 12, 11)))   # QA QB QC QD

    def clock() -> None:
        chip.set(CLK=True)
        chip.set(CLK=False)

    chip.set(CLR=False)
    assert count() == 0
    chip.set(CLR=True)
    chip.set(LOAD=False)
    assert count() == 0                                # loading waits for the clock
    clock()
    assert count() == 12
    chip.set(LOAD=True)
    chip.set(ENP=True, ENT=True)
    seen = []
    for _ in range(6):
        clock()
        seen.append((count(), chip.get(15)))           # RCO
    assert seen == [(13, "L"), (14, "L"), (15, "H"), (0, "L"), (1, "L"), (2, "L")]
    chip.set(ENP=False)
    clock()
    chip.set(ENP=True, ENT=False)
    clock()
    assert count() == 2


def test_161_carry_needs_ent_only() -> None:
    """RCO = ENT & QA & QB & QC & QD (logic diagram of the 74161, from memory)."""
    chip = paper.Bench("74161")
    chip.set(CLR=True, LOAD=False, ENP=False, ENT=True, A=True, B=True, C=True, D=True, CLK=False)
    chip.set(CLK=True)
    assert chip.get(15) == "H"
    chip.set(ENT=False)
    assert chip.get(15) == "L"


def test_164_shifts_the_and_of_its_inputs() -> None:
    """74164: QA takes A & B, the others their neighbour; clear by itself (function table, from memory)."""
    chip = paper.Bench("74164")
    outputs = (3, 4, 5, 6, 10, 11, 12, 13)
    chip.set(CLR=False, CLK=False, A=True, B=True)
    assert "".join(map(chip.get, outputs)) == "LLLLLLLL"
    chip.set(CLR=True)
    register = "LLLLLLLL"
    for a, b in ((1, 1), (0, 1), (1, 0), (0, 0), (1, 1), (1, 1), (0, 1), (1, 1), (1, 0), (1, 1)):
        chip.set(A=bool(a))
        chip.set(B=bool(b))
        chip.set(CLK=True)
        register = ("H" if a and b else "L") + register[:7]
        assert "".join(map(chip.get, outputs)) == register
        chip.set(CLK=False)
        assert "".join(map(chip.get, outputs)) == register


def test_181_function_table() -> None:
    """All 16 logic and all 16 arithmetic functions of the 74181, active-high data, every A, B and carry; A=B, P and G too."""
    chip = paper.Bench("74181")
    machine, network = chip.machine, chip.machine.network
    cases = list(product(range(16), range(16), (0, 1), (0, 1)))       # A, B, CN, M in lanes
    machine = type(machine)(network, len(cases))
    for name, of in (("CN", 2), ("M", 3)):
        machine.set_lanes(name, sum(case[of] << lane for lane, case in enumerate(cases)))
    for letter, of in (("A", 0), ("B", 1)):
        for bit in range(4):
            machine.set_lanes(f"{letter}{bit}", sum((case[of] >> bit & 1) << lane for lane, case in enumerate(cases)))
    assert [chip.name(p) for p in (2, 23, 21, 19, 1, 22, 20, 18, 9, 10, 11, 13)] == [
        "A0", "A1", "A2", "A3", "B0", "B1", "B2", "B3", "F0", "F1", "F2", "F3"]
    assert [chip.name(p) for p in (6, 5, 4, 3, 7, 8, 14, 15, 16, 17)] == [
        "S0", "S1", "S2", "S3", "CN", "M", "AEQB", "P", "CN4", "G"]
    for select in range(16):
        for bit in range(4):
            machine.set({f"S{bit}": bool(select >> bit & 1)})
        got = {name: machine.output(name) for name in network.drivers}
        for lane, (a, b, cn, m) in enumerate(cases):
            f = sum((got[f"F{bit}"][1] >> lane & 1) << bit for bit in range(4))
            names = {"A": a, "B": b}
            if m:
                assert f == eval(databook.ALU_LOGIC[select], {}, names) & 15, (select, a, b)
            else:
                left, right = (eval(t, {}, names) & 15 for t in databook.ALU_PLUS[select])
                total = left + right + (not cn)        # CN low is a carry
                assert f == total & 15, (select, a, b, cn)
                is_low = {name: bool(low >> lane & 1) for name, (low, _, _) in got.items()}
                if select in (6, 9):                   # subtract and add: the rows that make use of the carry
                    assert is_low["CN4"] == (total > 15), (select, a, b, cn)
                    # P and G have their names from active-low data, for which 6 and 9 subtract and add as well.
                    one, other = 15 - a, (15 - b if select == 9 else b)
                    assert is_low["G"] == (one + other > 15), (select, a, b)
                    assert is_low["P"] == (one | other == 15), (select, a, b)
            assert bool(got["AEQB"][2] >> lane & 1) == (f == 15)      # open collector: off is high


def test_245_both_ways() -> None:
    """74LS245: G low, DIR high A to B, DIR low B to A; G high both sides off (function table, from memory)."""
    a_pins, b_pins = (2, 3, 4, 5, 6, 7, 8, 9), (18, 17, 16, 15, 14, 13, 12, 11)
    chip = paper.Bench("74LS245")
    for direction, sources, drains in ((True, a_pins, b_pins), (False, b_pins, a_pins)):
        chip.set_pin(19, True)
        for pin in (*a_pins, *b_pins):
            chip.set_pin(pin, None)
        chip.set_pin(1, direction)
        assert {chip.get(pin) for pin in (*a_pins, *b_pins)} == {"Z"}
        for k, (source, drain) in enumerate(zip(sources, drains, strict=True)):
            for level in (True, False):
                chip.set_pin(source, level)
                chip.set_pin(19, False)
                assert chip.get(drain) == ("H" if level else "L"), k
                assert chip.get(source) == "Z"         # the driving side's own outputs are off
                chip.set_pin(19, True)
                assert chip.get(drain) == "Z"


@pytest.mark.parametrize("part", ["7474", "74109", "74LS112"])
def test_after_clear_and_set_at_once_nothing_is_expected(part: str) -> None:
    """Data books: the state does not persist when both go inactive together; so it must not be tested."""
    chip = paper.Bench(part)
    chip.machine.set({name: False for name in chip.machine.network.inputs})
    chip.machine.set({"1PRE": True, "1CLR": True})
    assert chip.machine.expect("1Q") is None and chip.machine.expect("1QN") is None
