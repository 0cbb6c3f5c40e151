# SPDX-License-Identifier: MIT
"""Text from outside made harmless: markings, part names and notes may hold anything.

A terminal obeys control characters and a reader is fooled by those that turn the
direction of writing, so both are shown by their code instead.
"""
from __future__ import annotations

import unicodedata

_PLAIN = {"±": "+-", "Ω": "ohm", "µ": "u", "≤": "<=", "≥": ">=", "–": "-", "—": "-", "…": "...", "×": "x",
          "·": "-", "→": "->", "−": "-"}
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def visible(text: str) -> str:
    """One line without control, formatting or unassigned characters; each stands as its code, `<U+001B>`."""
    return "".join(f"<U+{ord(c):04X}>" if unicodedata.category(c) in _HIDDEN else c for c in text)


def ascii_only(text: str) -> str:
    """The same in ASCII: signs of measure spelt out (± is "+-", Ω is "ohm"), other letters as their code."""
    spelt = "".join(_PLAIN.get(c, c) for c in text)
    return "".join(c if c.isascii() else f"<U+{ord(c):04X}>" for c in spelt)


def clipped(line: str, width: int) -> str:
    """The line in plain ASCII, not longer than that, marked where it is cut off."""
    text = ascii_only(visible(line))
    return text if len(text) <= width else text[:width - 3].rstrip() + "..."
