"""Gates, flip-flops and latches of the part library against the function tables of the data books.

Source: see tables/a_tables.py.

SPDX-License-Identifier: MIT
"""
import random
from collections.abc import Iterator
from itertools import product

import pytest
from paper_bench import Bench
from tables import a_tables as book
from tables.a_tables import Table

from sagbench.errors import NotInFamily
from sagbench.parts import Role, load_part
from sagbench.parts.lookup import file_names

LEVELS = {"L": False, "H": True}
INVERSE = {"L": "H", "H": "L"}
EXHAUSTIVE = 6                                         # more X than that in a row: all L, all H and a few at random


def spelt_out(symbols: list[str]) -> Iterator[list[str]]:
    """The row with its X replaced, in all ways or in some."""
    count = symbols.count("X")
    if count <= EXHAUSTIVE:
        fillings = list(product("LH", repeat=count))
    else:
        source = random.Random(1985)
        fillings = [("L",) * count, ("H",) * count, *(tuple(source.choices("LH", k=count)) for _ in range(16))]
    for filling in fillings:
        chosen = iter(filling)
        yield [next(chosen) if symbol == "X" else symbol for symbol in symbols]


def put(chip: Bench, pins: dict[str, int], levels: str) -> None:
    """ "A=H B=L, C=L": groups one after another, pins by column name."""
    for group in levels.split(","):
        for item in group.split():
            name, symbol = item.split("=")
            chip.set_pin(pins[name], LEVELS[symbol])


def ready(table: Table, pins: dict[str, int], before: str) -> Bench:
    """A chip with its inputs low, then brought to q = before if the table has a memory."""
    chip = Bench(table.part)
    chip.machine.set({name: False for name in chip.machine.network.inputs})
    put(chip, pins, table.low if before == "L" else table.high)
    return chip


def carry_out(chip: Bench, table: Table, pins: dict[str, int], symbols: dict[str, str]) -> None:
    """The clock to where it rests in this row, the data, then what the clock does."""
    clock = symbols.get("CLK", "")
    if clock in ("H", "v") and table.high:
        put(chip, pins, table.hold)
        chip.set_pin(pins["CLK"], True)
    for name, symbol in symbols.items():
        if name != "CLK" or not table.high:
            chip.set_pin(pins[name], LEVELS[symbol])
    for level in {"^": (True,), "v": (False,), "P": (True, False)}.get(clock, ()):
        chip.set_pin(pins["CLK"], level)


@pytest.mark.parametrize("table", book.TABLES, ids=lambda t: f"{t.part}-{t.columns.split()[0]}")
def test_follows_the_data_book(table: Table) -> None:
    inputs, outputs = (part.split() for part in table.columns.split("|"))
    for section in table.sections:
        assert len(section) == len(inputs) + len(outputs)
        pins = dict(zip([*inputs, *outputs], section, strict=True))
        for line in table.rows.strip().splitlines():
            given, wanted = (part.split() for part in line.split("|"))
            assert len(given) == len(inputs) and len(wanted) == len(outputs), line
            for symbols in spelt_out(given):
                for before in "LH" if table.high else "L":
                    chip = ready(table, pins, before)
                    carry_out(chip, table, pins, dict(zip(inputs, symbols, strict=True)))
                    for name, symbol in zip(outputs, wanted, strict=True):
                        expected = {"q": before, "/q": INVERSE[before]}.get(symbol, symbol)
                        assert chip.get(pins[name]) == expected, (section, line, symbols, before, name)


@pytest.mark.parametrize("table", book.TABLES, ids=lambda t: f"{t.part}-{t.columns.split()[0]}")
def test_pins_of_the_table_are_all_there_is(table: Table) -> None:
    """All tables of a type together name every input and output, and the rails are where the data book has them."""
    chip = Bench(table.part)
    told = {pin for t in book.TABLES if t.part == table.part for section in t.sections for pin in section}
    part = load_part(table.part)
    assert told == {p.number for p in part.pins if p.role.is_input or p.role.is_output}
    assert part.pin_count == book.PIN_COUNTS.get(chip.definition.function, 14)
    ground, supply = book.SUPPLY_PINS.get(table.part, (part.pin_count // 2, part.pin_count))
    assert [p.number for p in part.of_role(Role.GROUND)] == [ground]
    assert [p.number for p in part.of_role(Role.SUPPLY)] == [supply]


def test_every_table_is_of_a_function_of_the_library() -> None:
    functions = {Bench(t.part).definition.function for t in book.TABLES}
    assert functions <= set(file_names()) and len(functions) >= 80


@pytest.mark.parametrize("row", book.DRIVERS, ids=lambda r: r[0])
def test_drive_of_buffers(row: tuple) -> None:
    name, pin, vol, iol, high = row
    has = load_part(name).limits[pin]
    assert (has.vol[-1].limit.value, has.vol[-1].amperes) == (vol, pytest.approx(iol / 1000))
    if high is None:
        assert load_part(name).pin(pin).role is Role.OPEN_COLLECTOR
    else:
        assert (has.voh[-1].limit.value, has.voh[-1].amperes) == (high[0], pytest.approx(high[1] / 1000))


@pytest.mark.parametrize("row", book.UNIT_LOADS, ids=lambda r: f"{r[0]}-{r[1]}")
def test_unit_loads(row: tuple) -> None:
    name, pin, loads = row
    assert load_part(name).pin(pin).low_unit_loads == loads


@pytest.mark.parametrize("name", ["7413", "7414", "74LS18", "74LS19", "74LS24", "74132", "74HC7001", "74HC7002", "74HC7032"])
def test_schmitt_triggers(name: str) -> None:
    assert all(pin.schmitt for pin in load_part(name).inputs)
    assert not any(pin.schmitt for pin in load_part("7440").inputs)


@pytest.mark.parametrize(("part", "clock", "taken"), [("74110", 12, (3, 4, 5)), ("74111", 5, (4,)), ("74111", 11, (12,))])
def test_data_lockout(part: str, clock: int, taken: tuple[int, ...]) -> None:
    """74110, 74111: J and K count as they stood at the rising edge, the outputs follow at the falling one (TTL Data Book, from memory)."""
    chip = Bench(part)
    reset, outputs = {"74110": ((9, 10, 11), (8, 6)), "74111": ((1,) if clock == 5 else (15,), (7, 6) if clock == 5 else (9, 10))}[part]
    for pin in load_part(part).inputs:
        chip.set_pin(pin.number, False)
    for pin in load_part(part).inputs:                 # clear low first, preset released before it
        if "PRE" in pin.name:
            chip.set_pin(pin.number, True)
    for pin in load_part(part).inputs:
        if "CLR" in pin.name:
            chip.set_pin(pin.number, True)
    for pins, other, after in ((taken, reset, "HL"), (reset, taken, "LH")):
        before = "".join(map(chip.get, outputs))
        for pin in pins:
            chip.set_pin(pin, True)
        for pin in other:
            chip.set_pin(pin, False)
        chip.set_pin(clock, True)
        assert "".join(map(chip.get, outputs)) == before
        for pin in pins:                               # too late
            chip.set_pin(pin, False)
        for pin in other:
            chip.set_pin(pin, True)
        assert "".join(map(chip.get, outputs)) == before
        chip.set_pin(clock, False)
        assert "".join(map(chip.get, outputs)) == after


def test_priority_register_holds_what_it_took() -> None:
    """74278: data are taken while the strobe (pin 1) is high, held while it is low; P0 (pin 4) acts at once (from memory)."""
    chip = Bench("74278")
    data, outputs = (12, 13, 2, 3), (10, 9, 8, 6)
    for pin in (1, 4, *data):
        chip.set_pin(pin, False)
    for first in range(4):
        for k, pin in enumerate(data):
            chip.set_pin(pin, k >= first)
        chip.set_pin(1, True)
        chip.set_pin(1, False)
        for level in (False, True):
            for pin in data:
                chip.set_pin(pin, level)
            assert "".join(map(chip.get, outputs)) == "".join("H" if k == first else "L" for k in range(4))
        chip.set_pin(4, True)
        assert "".join(map(chip.get, outputs)) == "LLLL" and chip.get(5) == "H"
        chip.set_pin(4, False)


# J-K flip-flops whose master listens while the clock is high, or whose preset and clear are defined only while it is low.
STEADY = ("7472", "74H71", "7473", "74H73", "74L73", "7476", "74H76", "74107", "74L78", "74H78", "7470", "74110", "74111")


@pytest.mark.parametrize("name", STEADY)
def test_steps_are_fit_for_pulse_triggered_flip_flops(name: str) -> None:
    """J and K of a pulse-triggered flip-flop move only while its clock is low; preset and clear of the 7470, 74110 and 74111 too.

    Data books, notes on the function tables (from memory): pulse-triggered, "data must not be changed while the clock is high".
    """
    part = load_part(name)
    now: dict[str, bool | None] = {}
    for step in part.sequence:
        for number, level in step.set.items():
            pin = part.pin(number).name
            clock = next(p.name for p in part.inputs if p.name.endswith("CLK") and p.name in ("CLK", f"{pin[0]}CLK"))
            high = now.get(clock) or clock in {part.pin(n).name for n, v in step.set.items() if v} - {pin}
            if pin.lstrip("12")[0] in "JK" and name not in ("7470", "74110", "74111"):
                assert not high, step
            if pin.endswith(("PRE", "CLR")) and name in ("7470", "74110", "74111") and level is False:
                assert not high, step
        now |= {part.pin(n).name: v for n, v in step.set.items()}
        if name == "7470":
            assert not (now["CLK"] and not (now["PRE"] and now["CLR"]))


@pytest.mark.parametrize("name", ["7455", "74H107", "74S73", "74LS110", "7436"])
def test_families_that_never_were(name: str) -> None:
    """Common practice: none of these is in the makers' books."""
    with pytest.raises(NotInFamily):
        load_part(name)
