"""Adders, comparators, parity, look-ahead, arithmetic units, shifters, delay elements of the part library against arithmetic itself.

What each pin is: Texas Instruments, The TTL Data Book, volume 2, 1985, and the ALS/AS Logic Data Book, 1986, from memory.  Pins were
compared with the KiCad 6.0.10 symbols (74xx), those of Lepton EDA 1.9.18 and the pin lists of a VHDL library of bipolar TTL (D. R. Brooks,
2016) where there is one; from memory alone are those of 185, 350, 381, 382, 518, 519, 521, 522, 682, 683, 685, 689.

SPDX-License-Identifier: MIT
"""
import random
from itertools import product

import pytest
from paper_bench import Bench

from sagbench.parts import Role, load_part


class Chip(Bench):
    """A chip whose pins are set and read as numbers."""

    def put(self, pins: tuple[int, ...], value: int) -> None:
        """A number to pins, the lowest bit first."""
        self.machine.set({self.name(pin): bool(value >> bit & 1) for bit, pin in enumerate(pins)})

    def take(self, pins: tuple[int, ...]) -> int:
        """The number at pins, the lowest bit first; an open-collector output that is off counts as high."""
        levels = [self.get(pin) for pin in pins]
        assert set(levels) <= set("LHZ")
        return sum((level in "HZ") << bit for bit, level in enumerate(levels))


# part; A, B, carry in; sum and carry out; lowest bit first
ADDERS = [
    ("7482", (2, 14), (3, 13), 5, (1, 12, 10)),
    ("7483", (10, 8, 3, 1), (11, 7, 4, 16), 13, (9, 6, 2, 15, 14)),
    ("74283", (5, 3, 14, 12), (6, 2, 15, 11), 7, (4, 1, 13, 10, 9)),
    ("74H183", (1,), (3,), 4, (6, 5)), ("74H183", (13,), (12,), 11, (8, 10)),
]


@pytest.mark.parametrize(("part", "a", "b", "carry", "total"), ADDERS)
def test_adders_add(part: str, a: tuple[int, ...], b: tuple[int, ...], carry: int, total: tuple[int, ...]) -> None:
    chip = Chip(part)
    for one, other, more in product(range(1 << len(a)), range(1 << len(b)), (0, 1)):
        chip.put((*a, *b, carry), one | other << len(a) | more << len(a) + len(b))
        assert chip.take(total) == one + other + more


def test_7480_gated_full_adder() -> None:
    """A is A1 A2 while the control AC is high, and 1 while it is low; B likewise; the carry comes out inverted."""
    chip = Chip("7480")
    for a1, a2, ac, b1, b2, bc, cn in product((0, 1), repeat=7):
        chip.put((8, 9, 11, 12, 13, 2, 3), a1 | a2 << 1 | ac << 2 | b1 << 3 | b2 << 4 | bc << 5 | cn << 6)
        total = (a1 & a2 if ac else 1) + (b1 & b2 if bc else 1) + cn
        assert (chip.take((5,)), chip.take((6,)), chip.take((4,))) == (total & 1, 1 - (total & 1), 1 - (total >> 1))


def test_7485_function_table() -> None:
    """Words that differ decide; equal ones pass the cascading inputs on, by the last rows of the table."""
    chip = Chip("7485")
    a, b, less, equal, more = (10, 12, 13, 15), (9, 11, 14, 1), 2, 3, 4
    # inputs A>B, A<B, A=B; outputs A>B, A<B, A=B
    cascade = {(1, 0, 0): (1, 0, 0), (0, 1, 0): (0, 1, 0), (1, 0, 1): (0, 0, 1), (0, 1, 1): (0, 0, 1), (1, 1, 1): (0, 0, 1),
               (0, 0, 1): (0, 0, 1), (1, 1, 0): (0, 0, 0), (0, 0, 0): (1, 1, 0)}
    for one, other in product(range(16), repeat=2):
        for (gt, lt, eq), through in cascade.items():
            chip.put((*a, *b, more, less, equal), one | other << 4 | gt << 8 | lt << 9 | eq << 10)
            wanted = through if one == other else (int(one > other), int(one < other), 0)
            assert (chip.take((5,)), chip.take((7,)), chip.take((6,))) == wanted


def test_74h87_function_table() -> None:
    """B and C: low low the complement, low high the word itself, high low all high, high high all low."""
    chip = Chip("74H87")
    for b, c, word in product((0, 1), (0, 1), range(16)):
        chip.put((8, 1, 2, 5, 10, 13), b | c << 1 | word << 2)
        assert chip.take((3, 6, 9, 12)) == {(0, 0): 15 - word, (0, 1): word, (1, 0): 15, (1, 1): 0}[b, c]


def test_74180_function_table() -> None:
    chip = Chip("74180")
    # number of highs is even?, EVEN, ODD: sum even, sum odd
    table = {(1, 1, 0): (1, 0), (0, 1, 0): (0, 1), (1, 0, 1): (0, 1), (0, 0, 1): (1, 0), (1, 1, 1): (0, 0), (0, 1, 1): (0, 0),
             (1, 0, 0): (1, 1), (0, 0, 0): (1, 1)}
    for word, even, odd in product(range(256), (0, 1), (0, 1)):
        chip.put((8, 9, 10, 11, 12, 13, 1, 2, 3, 4), word | even << 8 | odd << 9)
        assert (chip.take((5,)), chip.take((6,))) == table[1 - word.bit_count() % 2, even, odd]


def test_74ls280_counts() -> None:
    chip = Chip("74LS280")
    for word in range(512):
        chip.put((8, 9, 10, 11, 12, 13, 1, 2, 4), word)
        assert (chip.take((5,)), chip.take((6,))) == (1 - word.bit_count() % 2, word.bit_count() % 2)


def test_74182_looks_ahead() -> None:
    """Four groups that each stop, pass on or make a carry: the carries into groups 1 to 3, and what the whole does."""
    chip = Chip("74182")
    g, p, cn = (3, 1, 14, 5), (4, 2, 15, 6), 13
    for groups in product(("stop", "pass", "make", "make and pass"), repeat=4):
        for carry_in in (0, 1):
            lows = [("make" not in kind, "pass" not in kind) for kind in groups]
            chip.put((*g, *p, cn), sum(low[0] << k | low[1] << k + 4 for k, low in enumerate(lows)) | carry_in << 8)
            carries = [carry_in]
            for kind in groups:
                carries.append(int("make" in kind or (kind == "pass" and carries[-1] == 1)))
            assert chip.take((12, 11, 9)) == carries[1] | carries[2] << 1 | carries[3] << 2
            made = 0
            for kind in groups:
                made = int("make" in kind or ("pass" in kind and made == 1))
            assert chip.take((10,)) == 1 - made
            assert chip.take((7,)) == int(not all("pass" in kind for kind in groups))


@pytest.mark.parametrize("part", ["74LS381", "74LS382"])
def test_arithmetic_units(part: str) -> None:
    """0 clear, 1 B minus A, 2 A minus B, 3 A plus B, 4 exclusive or, 5 or, 6 and, 7 preset; a minus needs a carry in."""
    chip = Chip(part)
    a, b, select, cn, f = (3, 1, 19, 17), (4, 2, 18, 16), (5, 6, 7), 15, (8, 9, 11, 12)
    source = random.Random(381)
    for one, other in [*((source.randrange(16), source.randrange(16)) for _ in range(60)), (0, 0), (15, 15), (8, 8), (7, 7), (0, 15)]:
        for s, carry in product(range(8), (0, 1)):
            chip.put((*a, *b, *select, cn), one | other << 4 | s << 8 | carry << 11)
            terms = {1: (15 - one, other), 2: (one, 15 - other), 3: (one, other)}.get(s)
            if terms is None:
                assert chip.take(f) == {0: 0, 4: one ^ other, 5: one | other, 6: one & other, 7: 15}[s]
                continue
            total = sum(terms) + carry
            assert chip.take(f) == total & 15
            if part == "74LS381":                      # G and P, active low; P is open where a bit makes a carry: designs differ
                through, makes = terms[0] | terms[1] == 15, terms[0] & terms[1] != 0
                assert chip.take((13,)) == int(sum(terms) <= 15)
                assert chip.get(14) == ("?" if through and makes else "HL"[through])
            else:
                signed = sum(t - 16 * (t > 7) for t in terms) + carry
                assert chip.take((14, 13)) == total >> 4 | int(not -8 <= signed <= 7) << 1


def test_74185_converts() -> None:
    """Twice the word on A to E, as two decimal digits; the lowest bit goes round the chip.  Enable high: all off."""
    chip = Chip("74185")
    for word in range(32):
        chip.put((10, 11, 12, 13, 14, 15), word)
        tens, units = divmod(2 * word, 10)
        assert chip.take((1, 2, 3, 4, 5, 6)) == units >> 1 | tens << 3
        chip.put((15,), 1)
        assert {chip.get(pin) for pin in (1, 2, 3, 4, 5, 6)} == {"Z"}


def test_74f350_shifts() -> None:
    chip = Chip("74F350")
    for word, by in product(range(128), range(4)):     # bits I-3 to I3
        chip.put((1, 2, 3, 4, 5, 6, 7, 10, 9, 13), word | by << 7)
        assert chip.take((15, 14, 12, 11)) == word >> 3 - by & 15
    chip.put((13,), 1)
    assert {chip.get(pin) for pin in (15, 14, 12, 11)} == {"Z"}


P, Q = (2, 4, 6, 8, 11, 13, 15, 17), (3, 5, 7, 9, 12, 14, 16, 18)


def words() -> list[tuple[int, int]]:
    source = random.Random(688)
    near = [(word, word ^ 1 << bit) for word in (0, 255, 0x55, 0xAA, 0x3C) for bit in range(8)]
    some = [source.randrange(256) for _ in range(40)]
    return [*near, *((word, word) for word in some), *((word, source.randrange(256)) for word in some)]


@pytest.mark.parametrize(("part", "collector", "when_equal"), [
    ("74ALS518", True, 1), ("74ALS519", True, 1), ("74ALS520", False, 0), ("74ALS521", False, 0), ("74ALS522", True, 0),
    ("74LS688", False, 0), ("74LS689", True, 0)])
def test_identity_comparators(part: str, collector: bool, when_equal: int) -> None:
    chip = Chip(part)
    assert load_part(part).pin(19).role is (Role.OPEN_COLLECTOR if collector else Role.OUTPUT)
    for p, q in words():
        for g in (0, 1):
            chip.put((*P, *Q, 1), p | q << 8 | g << 16)
            assert chip.take((19,)) == (when_equal if p == q and not g else 1 - when_equal)


@pytest.mark.parametrize(("part", "collector"), [("74LS682", False), ("74LS683", True), ("74LS684", False), ("74LS685", True)])
def test_magnitude_comparators(part: str, collector: bool) -> None:
    chip = Chip(part)
    for pin in (1, 19):
        assert load_part(part).pin(pin).role is (Role.OPEN_COLLECTOR if collector else Role.OUTPUT)
    for p, q in words():
        chip.put((*P, *Q), p | q << 8)
        assert (chip.take((1,)), chip.take((19,))) == (int(p <= q), int(p != q))


def test_74ls31_elements() -> None:
    """Elements 1 and 6 invert, 2 and 5 do not, 3 and 4 are NAND gates (TTL Data Book, from memory; pins as in Lepton EDA)."""
    chip = Chip("74LS31")
    for word in range(256):
        bits = [word >> k & 1 for k in range(8)]
        chip.put((1, 3, 5, 6, 10, 11, 13, 15), word)
        assert chip.take((2, 4, 7, 9, 12, 14)) == sum(level << k for k, level in enumerate((
            1 - bits[0], bits[1], 1 - (bits[2] & bits[3]), 1 - (bits[4] & bits[5]), bits[6], 1 - bits[7])))
