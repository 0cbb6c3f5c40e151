"""Counters, shift registers, registers and arithmetic of the part library against the data books.

Sources: see tables/b_counters.py, tables/b_registers.py and the tests below.

SPDX-License-Identifier: MIT
"""
import pytest
from tables import b_counters, b_registers
from tables.walk import Book, walk

from sagbench.parts import Role, load_part

BOOKS = (*b_counters.BOOKS, *b_registers.BOOKS)


@pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.part)
def test_does_what_the_function_table_says(book: Book) -> None:
    chip = walk(book)
    assert chip.checked > book.steps / 2
    for table in (*chip.does, *chip.shows):
        assert all(table.hits), [row for row, hits in zip(table.rows, table.hits, strict=True) if not hits]


@pytest.mark.parametrize("book", BOOKS, ids=lambda b: b.part)
def test_pins_are_those_of_the_data_book(book: Book) -> None:
    part = load_part(book.part)
    names = dict(enumerate(book.pins.split(), 1))
    assert part.pin_count == len(names)
    for pin in part.pins:
        name = names[pin.number]
        wanted = {"VCC": Role.SUPPLY, "GND": Role.GROUND}.get(name, Role.UNUSED if name.startswith("NC") else None)
        assert pin.role is wanted if wanted else pin.role not in (Role.SUPPLY, Role.GROUND, Role.UNUSED), pin
