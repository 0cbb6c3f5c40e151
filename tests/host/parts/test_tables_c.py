"""Selectors, decoders, display drivers, bus drivers, transceivers and wide registers of the part library against the
function tables of the data books.

Source: see tables/c_tables.py; bus drivers, latches, registers and transceivers are in tables/c_bus_tables.py.

SPDX-License-Identifier: MIT
"""
import pytest
from paper_bench import Bench
from tables import c_bus_tables, follow  # noqa: F401  the first adds its tables to those of the book
from tables import c_tables as book
from tables.c_tables import Table
from tables.follow import INVERSE, LEVELS

from sagbench.parts import Expect, Role, load_file
from sagbench.parts.lookup import file_names

@pytest.mark.parametrize("table", book.TABLES, ids=lambda t: f"{t.part} {t.columns.split('|')[0].strip()[:24]}")
def test_follows_the_data_book(table: Table) -> None:
    follow.check(table)


def test_every_function_of_the_group_has_a_table() -> None:
    assert {Bench(t.part).definition.function for t in book.TABLES} | {"8212"} == set(book.FUNCTIONS)      # its own test below


@pytest.mark.parametrize("function", book.FUNCTIONS)
def test_pins_and_supply(function: str) -> None:
    made = load_file(file_names()[function])
    for pinout in made.pinouts:
        count = len(pinout.pins)
        assert count == book.FUNCTIONS[function]
        supply = [i for i, name in enumerate(pinout.pins, 1) if name == "VCC"]
        ground = [i for i, name in enumerate(pinout.pins, 1) if name == "GND"]
        assert (supply, ground) == (([5], [12]) if function in ("41", "141") else ([count], [count // 2]))


@pytest.mark.parametrize(("part", "held"), [("74LS137", "L"), ("74HC237", "H")])
def test_addresses_are_held_while_the_latch_is_shut(part: str, held: str) -> None:
    """GL high: the output of the address last taken stays (function table of the 137, last row; from memory)."""
    outputs = (15, 14, 13, 12, 11, 10, 9, 7)
    for address in range(8):
        chip = Bench(part)
        chip.machine.set({name: False for name in chip.machine.network.inputs})
        chip.set_pin(6, True)
        for bit, pin in enumerate((1, 2, 3)):
            chip.set_pin(pin, bool(address >> bit & 1))
        chip.set_pin(4, True)
        for other in range(8):
            for bit, pin in enumerate((1, 2, 3)):
                chip.set_pin(pin, bool(other >> bit & 1))
            assert [chip.get(pin) for pin in outputs] == [held if k == address else INVERSE[held] for k in range(8)]


@pytest.mark.parametrize("part", ["74LS354", "74LS356"])
def test_selector_with_register_holds_data_and_address(part: str) -> None:
    """SC high holds the address; DC high holds the data (354), between clock edges they are held anyway (356); from memory."""
    data, address = (8, 7, 6, 5, 4, 3, 2, 1), (14, 13, 12)
    chip = Bench(part)
    chip.machine.set({name: False for name in chip.machine.network.inputs})
    chip.set_pin(17, True)                             # G3
    pattern = (True, False, False, True, False, True, True, False)
    for pin, level in zip(data, pattern, strict=True):
        chip.set_pin(pin, level)
    chip.set_pin(9, True)                              # DC up: data held; CLK up: data taken
    for pin, level in zip(data, pattern, strict=True):
        chip.set_pin(pin, not level)
    if part == "74LS356":
        chip.set_pin(9, False)                         # nothing by the falling edge
    for n, level in enumerate(pattern):
        chip.set_pin(11, False)
        for bit, pin in enumerate(address):
            chip.set_pin(pin, bool(n >> bit & 1))
        assert (chip.get(19), chip.get(18)) == (("H", "L") if level else ("L", "H"))
        chip.set_pin(11, True)
        for pin in address:
            chip.set_pin(pin, False)
            chip.set_pin(pin, True)
        assert chip.get(19) == ("H" if level else "L")


@pytest.mark.parametrize("part", ["74LS620", "74LS623", "74LS242", "74LS243", "74F861", "74LS652"])
def test_both_directions_at_once_are_never_judged(part: str) -> None:
    """Data books: both sides drive and keep each other's state; what that was before is not known here."""
    chip = Bench(part)
    both = {"74LS620": ((1, True), (19, False)), "74LS623": ((1, True), (19, False)), "74LS242": ((1, False), (13, True)),
            "74LS243": ((1, False), (13, True)), "74F861": ((1, False), (13, False)), "74LS652": ((3, True), (21, False))}[part]
    roles = chip.definition.roles
    shared = [name for name, role in roles.items() if role is Role.BIDIRECTIONAL]
    chip.machine.set({name: None if name in shared else False for name in chip.machine.network.inputs})
    for pin, level in both:
        chip.set_pin(pin, level)
    assert not any(chip.machine.expect(name) in (Expect.LOW, Expect.HIGH, Expect.OFF) for name in shared)


def test_8212_port() -> None:
    """8212: both modes, clear that an open latch does not heed, service request (Intel, MCS-80 user's manual; from memory)."""
    chip = Bench("8212")
    ds1, mode, strobe, ds2, clear, request = 1, 2, 11, 13, 14, 23
    inputs, outputs = (3, 5, 7, 9, 16, 18, 20, 22), (4, 6, 8, 10, 15, 17, 19, 21)

    def put(word: str) -> None:
        for pin, symbol in zip(inputs, word, strict=True):
            chip.set_pin(pin, LEVELS[symbol])

    def word() -> str:
        return "".join(map(chip.get, outputs))

    chip.machine.set({name: False for name in chip.machine.network.inputs})
    for pin in (ds1, clear, mode, ds2):
        chip.set_pin(pin, True)
    assert word() == "L" * 8                           # cleared, and on in output mode
    chip.set_pin(ds1, False)                           # output mode, selected: open
    put("HLHLHHLL")
    assert word() == "HLHLHHLL" and chip.get(request) == "L"
    chip.set_pin(clear, False)
    assert word() == "HLHLHHLL"                        # clock overrides clear
    chip.set_pin(clear, True)
    chip.set_pin(ds2, False)
    put("LLLLHHHH")
    assert word() == "HLHLHHLL" and chip.get(request) == "H"      # held, still on
    chip.set_pin(clear, False)
    assert word() == "L" * 8
    chip.set_pin(clear, True)
    chip.set_pin(mode, False)                          # input mode, not selected: off
    assert word() == "Z" * 8
    chip.set_pin(strobe, True)
    put("LHHLHLLH")
    chip.set_pin(strobe, False)
    put("HHHHHHHH")
    assert word() == "Z" * 8 and chip.get(request) == "L"         # asks for service
    chip.set_pin(ds2, True)
    assert word() == "LHHLHLLH" and chip.get(request) == "L"      # selected: shows what was strobed
    chip.set_pin(ds2, False)
    assert word() == "Z" * 8 and chip.get(request) == "H"
