# SPDX-License-Identifier: MIT
"""The package seen from above, in letters: pin 1 at the top left, the notch at the top, a word beside each pin."""
from __future__ import annotations

from collections.abc import Callable

from sagbench.record import Outcome, SweepRecord
from sagbench.report import view

BODY = 12                                # characters between the two rows of pins
Cell = tuple[str, Outcome | None]        # text and the outcome that may colour it


def sides(record: SweepRecord) -> list[tuple[int, int]]:
    """The rows of a dual in-line package: pin numbers left and right, from the notch down."""
    return [(left, record.pin_count + 1 - left) for left in range(1, record.pin_count // 2 + 1)]


def drawing(record: SweepRecord, clean: Callable[[str], str]) -> list[list[Cell]]:
    """Lines of cells.  `clean` makes text from outside fit to print; the widest line has at most 76 characters."""
    pins = {pin.pin: pin for pin in record.pins}
    words = {number: view.pin_word(record, pin) for number, pin in pins.items()}
    names = {number: _cut(clean(pin.name), 8) for number, pin in pins.items()}
    word_width = max((len(word) for word, _ in words.values()), default=0)
    name_width = max((len(name) for name in names.values()), default=0)
    indent = " " * (word_width + name_width + 5)
    rows = sides(record)
    label = _cut(clean(record.part), BODY)
    lines: list[list[Cell]] = [[(indent + "+" + r"-\_/-".center(BODY, "-") + "+", None)]]
    for index, (left, right) in enumerate(rows):
        body = label if index == len(rows) // 2 else ""
        lines.append([
            (words.get(left, ("", None))[0].rjust(word_width), words.get(left, ("", None))[1]),
            (f"  {names.get(left, '').rjust(name_width)} {left:>2}|{body.center(BODY)}|{right:<2} "
             f"{names.get(right, '').ljust(name_width)}  ", None),
            words.get(right, ("", None)),
        ])
    lines.append([(indent + "+" + "-" * BODY + "+", None)])
    return lines


def _cut(text: str, width: int) -> str:
    return text if len(text) <= width else text[:width - 1] + "~"
