"""The 4000 series, DTL, 9300, 8T and other whole type numbers of the part library against the data books.

Source: see tables/d_tables.py and tables/d_books.py.

SPDX-License-Identifier: MIT
"""
import pytest
from paper_bench import Bench
from tables import d_books, d_tables, follow
from tables.c_tables import Table
from tables.walk import Book, walk

from sagbench.parts import Role, load_part

@pytest.mark.parametrize("table", d_tables.TABLES, ids=lambda t: f"{t.part} {t.columns.split('|')[0].strip()[:24]}")
def test_follows_the_data_book(table: Table) -> None:
    follow.check(table)


@pytest.mark.parametrize("book", d_books.BOOKS, ids=lambda b: b.part)
def test_does_what_the_function_table_says(book: Book) -> None:
    chip = walk(book)
    assert chip.checked > book.steps / 2
    for table in (*chip.does, *chip.shows):
        assert all(table.hits), [row for row, hits in zip(table.rows, table.hits, strict=True) if not hits]


@pytest.mark.parametrize("book", d_books.BOOKS, ids=lambda b: b.part)
def test_pins_are_those_of_the_data_book(book: Book) -> None:
    part = load_part(book.part)
    names = dict(enumerate(book.pins.split(), 1))
    assert part.pin_count == len(names)
    for pin in part.pins:
        name = names[pin.number]
        rails = {"VCC": Role.SUPPLY, "VDD": Role.SUPPLY, "GND": Role.GROUND, "VSS": Role.GROUND}
        wanted = rails.get(name, Role.UNUSED if name.startswith("NC") else None)
        assert pin.role is wanted if wanted else pin.role not in (Role.SUPPLY, Role.GROUND, Role.UNUSED), pin


@pytest.mark.parametrize("part", [t for t in ("74LS189", "74S289", "74LS219", "74LS319", "7489")])
def test_memory_keeps_every_word(part: str) -> None:
    """16 words of 4 bits: what is written is read (inverted in 89, 189, 289), off while not selected (TI data book, from memory)."""
    chip = Bench(part)
    chip.machine.set({name: True for name in chip.machine.network.inputs})
    inverted, open_collector = part[-2:] == "89", part[-3:] in ("289", "319", "489")
    data, out = (4, 6, 10, 12), (5, 7, 9, 11)

    def address(word: int) -> None:
        for bit, pin in enumerate((1, 15, 14, 13)):
            chip.set_pin(pin, bool(word >> bit & 1))

    chip.set_pin(2, False)                             # selected
    for word in range(16):
        address(word)
        for bit, pin in enumerate(data):
            chip.set_pin(pin, bool((word * 7 + 3) >> bit & 1))
        chip.set_pin(3, False)
        chip.set_pin(3, True)
    for word in reversed(range(16)):
        address(word)
        for bit, pin in enumerate(out):
            high = bool((word * 7 + 3) >> bit & 1) != inverted
            assert chip.get(pin) == ("L" if not high else "Z" if open_collector else "H"), (word, pin)
    chip.set_pin(2, True)
    assert {chip.get(pin) for pin in out} == {"Z"}


def test_every_function_of_the_group_has_a_second_description() -> None:
    described = {Bench(t.part).definition.function for t in d_tables.TABLES} | {Bench(b.part).definition.function for b in d_books.BOOKS}
    assert described == set(d_books.FUNCTIONS.split()), described ^ set(d_books.FUNCTIONS.split())
