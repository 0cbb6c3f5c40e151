"""Types added late against the data books: tables, walks, and arithmetic for those whose table is a rule.

Sources: see tables/e_tables.py.

SPDX-License-Identifier: MIT
"""
import random
from itertools import product

import pytest
from paper_bench import Bench
from tables import e_tables, follow
from tables.c_tables import Table
from tables.walk import Book, walk

from sagbench.parts.lookup import file_names


@pytest.mark.parametrize("table", e_tables.TABLES, ids=lambda t: f"{t.part} {t.columns.split('|')[0].strip()[:24]}")
def test_follows_the_data_book(table: Table) -> None:
    follow.check(table)


@pytest.mark.parametrize("book", e_tables.BOOKS, ids=lambda b: b.part)
def test_does_what_the_function_table_says(book: Book) -> None:
    chip = walk(book)
    assert chip.checked > book.steps / 2
    for table in (*chip.does, *chip.shows):
        assert all(table.hits), [row for row, hits in zip(table.rows, table.hits, strict=True) if not hits]


def test_parity_of_nine_bits() -> None:
    """40101: EVEN high for an even number of ones, ODD its complement, both low while inhibited."""
    chip = Bench("40101")
    for bits in product((False, True), repeat=9):
        for pin, bit in zip((1, 2, 3, 4, 10, 11, 12, 13, 5), bits, strict=True):
            chip.set_pin(pin, bit)
        chip.set_pin(8, False)
        assert (chip.get(9), chip.get(6)) == (("L", "H") if sum(bits) % 2 else ("H", "L"))
        chip.set_pin(8, True)
        assert (chip.get(9), chip.get(6)) == ("L", "L")


def test_carry_is_looked_ahead() -> None:
    """40182: a carry begins where G is low, passes where P is low; group G and P as if it were one position."""
    chip = Bench("40182")
    for levels in product((False, True), repeat=9):
        carry, *pairs = levels
        generate, pass_on = pairs[0::2], pairs[1::2]
        for pins, row in (((3, 1, 14, 5), generate), ((4, 2, 15, 6), pass_on)):
            for pin, level in zip(pins, row, strict=True):
                chip.set_pin(pin, level)
        chip.set_pin(13, carry)
        for place, out in enumerate((12, 11, 9)):
            carry = not generate[place] or not pass_on[place] and carry
            assert chip.get(out) == "LH"[carry]
        group = False
        for g, p in zip(generate, pass_on, strict=True):
            group = not g or not p and group
        assert chip.get(10) == "LH"[not group] and chip.get(7) == "LH"[any(pass_on)]


@pytest.mark.parametrize(("part", "top"), [("40103", 256), ("40102", 100)])
def test_counts_down_to_zero(part: str, top: int) -> None:
    """Loaded with n, by the clock or at once, CO comes low after n pulses; clear is the highest count."""
    chip = Bench(part)
    data = (4, 5, 6, 7, 10, 11, 12, 13)
    chip.set_pin(1, False)
    for pin in (2, 3, 9, 15):                                            # clear, enable, presets: all off
        chip.set_pin(pin, True)

    def pulse() -> None:
        chip.set_pin(1, True)
        chip.set_pin(1, False)

    def left() -> int:
        """Pulses until CO is low."""
        chip.set_pin(3, False)
        for n in range(top + 1):
            if chip.get(14) == "L":
                chip.set_pin(3, True)
                assert chip.get(14) == "H"
                return n
            assert chip.get(14) == "H"
            pulse()
        raise AssertionError("never")

    source = random.Random(part)
    for n in sorted({0, 1, top - 1, *source.sample(range(top), 12)}):
        word = n if top == 256 else n // 10 * 16 + n % 10
        for bit, pin in enumerate(data):
            chip.set_pin(pin, bool(word >> bit & 1))
        if n % 2:
            chip.set_pin(9, False)
            chip.set_pin(9, True)
        else:
            chip.set_pin(15, False)
            pulse()
            chip.set_pin(15, True)
        pulse()                                                          # not enabled
        assert left() == n
        chip.set_pin(2, False)
        chip.set_pin(2, True)
        assert left() == top - 1


def test_memory_of_256_bits_keeps_every_bit() -> None:
    """201: the complement of what was written is read; off while not selected and while written (DL-S 7512257, page 1)."""
    chip = Bench("74S201")
    address = (1, 2, 15, 7, 9, 10, 11, 14)

    def go(word: int) -> None:
        for bit, pin in enumerate(address):
            chip.set_pin(pin, bool(word >> bit & 1))

    chip.set_pin(12, True)
    for pin in (3, 4, 5):
        chip.set_pin(pin, False)
    for word in range(256):
        go(word)
        chip.set_pin(13, word * 37 % 11 < 5)
        chip.set_pin(12, False)
        assert chip.get(6) == "Z"
        chip.set_pin(12, True)
    for word in reversed(range(256)):
        go(word)
        assert chip.get(6) == ("L" if word * 37 % 11 < 5 else "H")
    for pin in (3, 4, 5):
        chip.set_pin(pin, True)
        assert chip.get(6) == "Z"
        chip.set_pin(12, False)                                          # not selected: not written
        chip.set_pin(12, True)
        chip.set_pin(pin, False)
    assert chip.get(6) == "L"


def test_each_of_these_functions_is_in_the_library() -> None:
    assert set(e_tables.FUNCTIONS) <= set(file_names())
