"""Every page in a real browser: no word on its console, nothing fetched, the text as expected, right on a narrow window and on paper.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
import zlib
from collections.abc import Iterator

import pytest
from browser import Browser, Seen
from inprocess import sweep_here
from pages_here import HOSTILE, pages

from sagbench.report.page import to_html
from virtual_fixture.inproc import Fixture

# CSS pixels of the widest table that have to be scrolled to.
HIDDEN = "Math.max(...[...document.querySelectorAll('.wide')].map(e => e.scrollWidth - e.clientWidth))"
BAD = """<!DOCTYPE html><html><head><title>bad</title><meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'"></head>
<body style="width: 3000px"><script>alert(1)</script><img src="http://127.0.0.1:9/x.png"><svg width="9" height="9"><text x="50">out</text></svg></body></html>"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with Browser() as made:
        yield made


@pytest.fixture(scope="module")
def seen(browser: Browser) -> dict[str, Seen]:
    return {name: browser.look(page) for name, (page, _) in pages().items()}


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text)


def test_the_browser_sees_what_is_wrong_with_a_bad_page(browser: Browser) -> None:
    """The other tests here can fail: a script, a picture from outside, a page too wide, a text outside its drawing."""
    bad = browser.look(BAD)
    told = " ".join(bad.complaints)
    assert "Content Security Policy" in told and len(bad.complaints) >= 3 and bad.overflow > 1000 and bad.clipped == ("out",)
    assert bad.sheets == 1


def test_no_page_complains_or_asks_for_anything(seen: dict[str, Seen]) -> None:
    assert {name: page.complaints for name, page in seen.items() if page.complaints} == {}


@pytest.mark.parametrize("name", pages())
def test_the_text_is_there(seen: dict[str, Seen], name: str) -> None:
    text = plain(seen[name].text)
    for expected in pages()[name][1]:
        assert plain(expected) in text, expected
    assert "None" not in text.replace("None.", "") and "nan" not in text.split() and "Quantity(" not in text


def test_what_a_user_typed_stands_there_as_typed(seen: dict[str, Seen]) -> None:
    assert plain(seen["lot"].text).count(HOSTILE) == 2


def test_nothing_stands_outside_of_its_drawing(seen: dict[str, Seen]) -> None:
    assert {name: page.clipped for name, page in seen.items() if page.clipped} == {}


def test_no_page_is_wider_than_its_window(browser: Browser, seen: dict[str, Seen]) -> None:
    assert {name: page.overflow for name, page in seen.items() if page.overflow > 0} == {}
    narrow = {name: browser.look(page, width=600).overflow for name, (page, _) in pages().items() if name in ("chip weak_gate", "soak")}
    assert set(narrow.values()) == {0}, narrow


def words_on_paper(pdf: bytes) -> int:
    """How many pieces of text the PDF's sheets draw (operators Tj and TJ: ISO 32000-1, 9.4.3)."""
    count = 0
    for stream in re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL):
        try:
            count += len(re.findall(rb"T[jJ]\b", zlib.decompress(stream)))
        except zlib.error:
            continue
    return count


def test_on_paper_it_is_all_there_on_few_sheets_of_a4(seen: dict[str, Seen]) -> None:
    """A4 is 595 x 842 points (ISO 216).  The table of sixty chips takes three of them."""
    # 182 mm between the margins are 687.9 pixels of 1/96 inch: one is lost by rounding.
    assert {name: page.paper_overflow for name, page in seen.items() if page.paper_overflow > 1} == {}
    for name, page in seen.items():
        boxes = {tuple(round(float(x)) for x in found.split()) for found in re.findall(rb"/MediaBox\s*\[([^\]]+)\]", page.paper)}
        assert boxes <= {(0, 0, 595, 842), (0, 0, 596, 842), (0, 0, 595, 841)}, (name, boxes)
        assert 1 <= page.sheets <= 6, (name, page.sheets)
        assert words_on_paper(page.paper) >= 0.5 * len(page.text.split("\n")) / 2, name


def test_a_plain_chip_sold_as_a_low_power_one_with_a_dead_gate_fits_its_window_and_its_paper(browser: Browser) -> None:
    """Its figures are as wide as they get: beyond everywhere, with margins and uncertainties of three digits."""
    with Fixture(7) as fixture:
        fixture.insert("tests/virtual_fixture/chips/demo/dead_gate_7400.toml")
        page = browser.look(to_html(sweep_here(fixture, "74LS00").record))
    assert "NOT SOUND" in page.text and (page.overflow, page.paper_overflow, page.complaints) == (0, 0, ())
    assert browser._value(HIDDEN) == 0


def test_a_table_of_chips_is_all_to_be_seen_on_a_usual_window(browser: Browser) -> None:
    """Every column is filled, the photo's path too: nothing is left to be scrolled sideways."""
    browser.look(pages()["lot"][0])
    assert browser._value(HIDDEN) == 0
