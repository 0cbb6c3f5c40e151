"""The schematic's pages can be read: no word lies on another word, or on a line of a symbol, a label's flag or a wire.

Of the committed files, as `pages.py` draws them for the PDF.  Widths are Helvetica's.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import math
from itertools import combinations

import pytest

from hardware.board.design import HERE
from hardware.schematic import reader
from hardware.schematic.pages import Mark, Stroke, Word, page
from hardware.schematic.paper import width

PAGES = {name: page(tree) for name, tree in reader.sheets(HERE / "bench24.kicad_sch")}
AIR = 0.05         # mm of a word's box that may be shared: letters rarely fill it

Rect = tuple[float, float, float, float]


def box(word: Word) -> Rect:
    """What a word covers: from the baseline up by its capitals; as wide as its letters."""
    wide, high = width(word), word.size
    start = {"left": 0.0, "middle": -wide / 2, "right": -wide}[word.anchor]
    if word.degrees % 180 == 90:
        return word.at[0] - high, word.at[1] - start - wide, word.at[0], word.at[1] - start
    return word.at[0] + start, word.at[1] - high, word.at[0] + start + wide, word.at[1]


def overlap(a: Rect, b: Rect) -> bool:
    return min(a[2], b[2]) - max(a[0], b[0]) > AIR and min(a[3], b[3]) - max(a[1], b[1]) > AIR


def crosses(stroke: Stroke, rect: Rect) -> bool:
    """True if a line of the stroke passes through the inside of a rectangle (sampled every tenth of a millimetre)."""
    for (x1, y1), (x2, y2) in zip(stroke.points, stroke.points[1:], strict=False):
        if min(x1, x2) > rect[2] or max(x1, x2) < rect[0] or min(y1, y2) > rect[3] or max(y1, y2) < rect[1]:
            continue
        steps = max(1, math.ceil(math.dist((x1, y1), (x2, y2)) * 10))
        for n in range(steps + 1):
            x, y = x1 + (x2 - x1) * n / steps, y1 + (y2 - y1) * n / steps
            if rect[0] + AIR < x < rect[2] - AIR and rect[1] + AIR < y < rect[3] - AIR:
                return True
    return False


def troubles(marks: list[Mark]) -> list[str]:
    """Words on words, words on lines."""
    words = [(m, box(m)) for m in marks if isinstance(m, Word) and m.say]
    strokes = [m for m in marks if isinstance(m, Stroke)]
    out = [f"{a.say!r} on {b.say!r} at {a.at}" for (a, ra), (b, rb) in combinations(words, 2) if overlap(ra, rb)]
    return out + [f"{w.say!r} on a line ({s.colour}) at {w.at}" for w, rect in words for s in strokes if crosses(s, rect)]


@pytest.mark.parametrize("name", PAGES)
def test_nothing_overlaps(name: str) -> None:
    assert troubles(PAGES[name]) == []


def test_overlaps_are_found() -> None:
    """The check above can fail: a word moved onto its neighbour, a line drawn through one."""
    marks = PAGES[next(name for name in PAGES if "drive" in name)]
    word = next(m for m in marks if isinstance(m, Word) and m.say == "R101")
    assert troubles([*marks, Word("R999", word.at, word.size, word.anchor, word.degrees, "word")])
    (x0, y0, x1, y1) = box(word)
    assert troubles([*marks, Stroke(((x0, y0), (x1, y1)), "wire")])
