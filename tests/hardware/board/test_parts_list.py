"""The parts list: complete, current, of values that are sold, within the price.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import csv
import io
import re
from collections import Counter

from eseries import E24, series

from hardware import parts_list
from hardware.board.design import components
from protocol import emit


def rows() -> list[dict[str, str]]:
    """The committed list without its total."""
    return list(csv.DictReader(io.StringIO((emit.ROOT / "hardware/parts-list.csv").read_text())))[:-1]


def spelt_out(ranges: str) -> list[str]:
    """ "R101-R103, U1" -> R101, R102, R103, U1."""
    out = []
    for piece in ranges.split(", "):
        if not piece:
            continue
        letters, first, last = re.fullmatch(r"([A-Z]+)(\d+)(?:-[A-Z]+(\d+))?", piece).groups()
        out += [f"{letters}{n}" for n in range(int(first), int(last or first) + 1)]
    return out


def test_list_is_current() -> None:
    """A fresh list equals the committed file."""
    assert emit.stale(parts_list.files()) == []


def test_every_part_is_listed_once_and_counted() -> None:
    """Designators of all lines are those of the board; quantities count them."""
    listed = Counter(ref for row in rows() for ref in spelt_out(row["designators"]))
    assert listed == Counter(p.ref for p in components())
    assert all(int(row["quantity"]) == len(spelt_out(row["designators"])) for row in rows() if row["designators"])


def test_total_is_the_sum_and_below_the_limit() -> None:
    """30 dollars without the controller board; the total is that of the lines."""
    whole = list(csv.DictReader(io.StringIO((emit.ROOT / "hardware/parts-list.csv").read_text())))[-1]
    total = sum(int(row["quantity"]) * float(row["usd each"]) for row in rows())
    assert abs(float(whole["usd"]) - total) < 0.01
    assert total < 30
    assert all(row["price"].startswith("estimate, ") for row in rows())


def test_resistors_are_of_a_preferred_series() -> None:
    """IEC 60063 as the package eseries has it: E24 values only, which every shop sells in 1 %."""
    decade = {round(v / 10 ** (len(str(int(v))) - 1), 2) for v in series(E24)}
    for part in components():
        if part.kind == "resistor":
            digits, letter = re.fullmatch(r"([\d]+(?:[Rk]\d*)?)()", part.value).groups()
            ohm = float(re.sub(r"[Rk]", ".", digits).rstrip(".")) * (1000 if "k" in part.value else 1)
            mantissa = ohm
            while mantissa >= 10:
                mantissa /= 10
            assert round(mantissa, 2) in decade, (part.ref, part.value, letter)


def test_what_must_not_be_replaced_says_why() -> None:
    """No prohibition without a reason."""
    assert all(row["why"] for row in rows() if row["must not be replaced by"])
