"""Counters, shift registers, registers and arithmetic of the part library against the data books.

Sources: see tables/b_counters.py, tables/b_registers.py and the tests below.

SPDX-License-Identifier: MIT
"""
from dataclasses import replace

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


# Rules of the plain TTL data sheets (TTL Data Book, from memory): what may change only while the clock is high, and which way.
WHILE_HIGH = [
    ("74160", 2, {7: "fall", 10: "fall", 9: "rise"}), ("74161", 2, {7: "fall", 10: "fall", 9: "rise"}),
    ("74162", 2, {7: "fall", 10: "fall", 9: "rise", 1: "rise"}), ("74163", 2, {7: "fall", 10: "fall", 9: "rise", 1: "rise"}),
    ("74190", 14, {4: "both", 5: "both"}), ("74191", 14, {4: "both", 5: "both"}),
    ("74194", 11, {9: "both", 10: "both"}), ("74198", 11, {1: "both", 23: "both"}),
]


@pytest.mark.parametrize(("part", "clock", "rules"), WHILE_HIGH, ids=lambda v: v if isinstance(v, str) else "")
def test_controls_change_only_while_the_clock_is_high(part: str, clock: int, rules: dict[int, str]) -> None:
    """In every step of the whole sequence; from the second step on, for the first is power-on."""
    now: dict[int, bool | None] = {}
    changes = 0
    for index, step in enumerate(load_part(part).sequence):
        for pin, way in rules.items():
            if index and pin in step.set and way in ("both", "rise" if step.set[pin] else "fall"):
                assert now[clock] and step.set.get(clock, True), (index, step)
                changes += 1
        now.update(step.set)
    assert changes


@pytest.mark.parametrize("part", ["74192", "74193"])
def test_one_clock_at_a_time(part: str) -> None:
    now: dict[int, bool | None] = {}
    for step in load_part(part).sequence:
        now.update(step.set)
        assert now[4] or now[5]


def test_a_table_with_two_pins_changed_round_is_found() -> None:
    """The walk itself can fail."""
    book = next(b for b in BOOKS if b.part == "74194")
    with pytest.raises(AssertionError):
        walk(replace(book, pins=book.pins.replace("QB QA", "QA QB")))
