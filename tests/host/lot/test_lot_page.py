"""The page of a box: each chip stands at its value, none covers another, one far off does not flatten the rest.

SPDX-License-Identifier: MIT
"""

import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given, strategies as st
from pages_here import fill

from sagbench.judge.character import Norm
from sagbench.log.database import open_log
from sagbench.log.entry import Entry, Facts
from sagbench.log.history import Odd
from sagbench.lot import page
from sagbench.lot.summary import by_chip, summary
from sagbench.record import Quantity


def entry(number, verdict="sound"):
    return Entry(number, "2026-11-25T16:40:00Z", 1, "74LS04", "74LS04", verdict, "", Facts(), 1, "", "", "0.1.0", None, None)


def strip(values, u=0.01, name="VOL"):
    return ElementTree.fromstring(page._strip(name, [(entry(n), Quantity(v, u, "V")) for n, v in enumerate(values, start=1)]))


def signs(drawing):
    """(x, y) of each chip's middle, in the order of the page: lowest value first."""
    found = []
    for group in drawing.iter("g"):
        x, y, _ = map(float, re.match(r"translate\(([-\d.]+) ([-\d.]+)\) scale\(([\d.]+)\)", group.get("transform")).groups())
        found.append((x + page.SIGN / 2, y + page.SIGN / 2))
    return found


@given(st.lists(st.floats(0, 500), max_size=60))
def test_no_sign_covers_another(places):
    places = sorted(places)
    levels = page._stacked(places)
    assert all(abs(a - b) >= page.SIGN for n, (a, i) in enumerate(zip(places, levels, strict=True)) for b, j in list(zip(places, levels, strict=True))[:n] if i == j)
    assert all(level == 0 or level - 1 in levels for level in levels)


def test_a_chip_stands_at_its_value():
    """By hand: 0.30, 0.34 and 0.40 V; the spread is 1.4826 x 0.04 V = 0.0593 V, which is the margin at both ends: 0.2407 to 0.4593 V
    over 720 - 150 - 32 = 538 from 150 on."""
    xs = [x for x, _ in signs(strip([0.30, 0.34, 0.40]))]
    assert xs == pytest.approx([150 + 538 * (v - 0.2407) / 0.2186 for v in (0.30, 0.34, 0.40)], abs=0.3)


def test_one_far_off_stands_at_the_edge_with_its_value():
    drawing = strip([0.30, 0.31, 0.32, 0.33, 0.34, 4.7])
    xs = [x for x, _ in signs(drawing)]
    assert xs[-1] == pytest.approx(page.WIDTH - page.RIGHT, abs=0.1) and xs[4] - xs[0] > 60
    assert any(text.text == "6: 4.7 V" for text in drawing.iter("text"))


def test_what_is_within_the_uncertainty_lies_close_together():
    xs = [x for x, _ in signs(strip([0.3000, 0.3001, 0.3002], u=0.02))]
    assert xs[-1] - xs[0] < 5


def test_all_the_same_and_not_a_number_do_no_harm():
    assert len(signs(strip([0.3, 0.3, 0.3], u=0.0))) == 3
    assert page._worst_of([(("VOL", 1, ""), (float("nan"), 0.1, "V")), (("VOL", 2, ""), (0.2, 0.1, "V"))]) == {"VOL": Quantity(0.2, 0.1, "V")}


def test_the_worst_of_a_chip_is_its_lowest_high_level_and_else_the_largest_whatever_its_sign():
    values = [(("VOH", 1, ""), (3.4, 0.1, "V")), (("VOH", 2, ""), (2.9, 0.1, "V")), (("IIL", 1, ""), (-0.4e-3, 1e-5, "A")), (("IIL", 2, ""), (-0.2e-3, 1e-5, "A"))]
    assert {name: q.value for name, q in page._worst_of(values).items()} == {"VOH": 2.9, "IIL": -0.4e-3}


def test_the_page_counts_what_the_log_has(tmp_path):
    with open_log(tmp_path / "log.sqlite3") as log:
        lot = fill(log, 12)
        log.take_back(13)                                            # the last
        text = page.to_html(log, summary(log, lot))
    assert "8 sound" in text and "3 not sound" in text and "11 chips: 8 sound, 3 not sound" in text
    assert "<script>" not in text and "U11" not in text


def test_sound_chips_that_are_unlike_the_rest_come_first_one_line_a_chip():
    """Of a chip that is bad one knows already; the sound one that is unlike the others is the news."""
    entries = [entry(1), entry(2, "not sound"), entry(3)]
    odd = [Odd(number, ("VOL", pin, "0.016 A"), Quantity(0.4, 0.01, "V"), Norm(0.2, 0.01, 9), far) for number, pin, far in ((2, 3, 90.0), (2, 6, 80.0), (3, 6, 8.0))]
    assert [(chip.id, len(several)) for chip, several in by_chip(odd, entries)] == [(3, 1), (2, 2)]
