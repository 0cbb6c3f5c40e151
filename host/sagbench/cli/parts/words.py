# SPDX-License-Identifier: MIT
"""Search in words: what somebody types against what a part is called.

Both sides become sets of terms: "quad" and "4" (gates), "tri-state" and "3-state", "mux" and
"selector" are one term each.  The synonyms are those of data books and of the bench (common practice).
"""
from __future__ import annotations

import re
from collections.abc import Iterable

# The first word of a line stands for all of it.
SYNONYMS = """
single|one
dual|two|double
triple|three
quad|four|quadruple
hex|six|sextuple
octal|eight|octuple
inverter
inverting|inverted|invert
buffer|driver|amplifier
selector|mux|multiplexer|multiplexor
decoder|demux|demultiplexer|demultiplexor
flip-flop|flipflop|bistable|ff
d-type|d
j-k|jk|jk-type
r-s|rs|s-r|sr|set-reset
tri-state|tristate|3-state|three-state|hi-z
open-collector|oc|open-drain
schmitt-trigger|schmitt|hysteresis
exclusive-or|xor|eor|ex-or|exor
exclusive-nor|xnor|enor|ex-nor|exnor
transceiver|bidirectional
seven-segment|7-segment|7seg
decade|decimal
clear|reset
preset|set
register|latches|registers
alu|arithmetic
and-or-invert|aoi
up/down|up-down|updown
parity|odd/even
"""
_TERM = {word: line.split("|")[0] for line in SYNONYMS.split() for word in line.split("|")}
_NUMBERS = {"one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9",
            "ten": "10", "twelve": "12", "thirteen": "13", "sixteen": "16"}
_COUNTED = re.compile(r"\b(\d+|" + "|".join(_NUMBERS) + r")[ -]?(inputs?|bits?|lines?|stages?|wide)\b")
_PAIRS = (("open collector", "open-collector"), ("open drain", "open-collector"), ("flip flop", "flip-flop"),
          ("tri state", "tri-state"), ("three state", "tri-state"), ("3 state", "tri-state"), ("exclusive or", "exclusive-or"),
          ("exclusive nor", "exclusive-nor"), ("seven segment", "seven-segment"), ("7 segment", "seven-segment"),
          ("schmitt trigger", "schmitt-trigger"), ("j k", "j-k"), ("r s", "r-s"), ("d type", "d-type"), ("up down", "up/down"),
          ("and or invert", "and-or-invert"), ("one shot", "monostable"), ("data selector", "selector"),
          ("arithmetic logic unit", "alu"), ("set reset", "set-reset"),
          ("not gate", "inverter"))
_WORD = re.compile(r"[a-z0-9]+(?:[-/][a-z0-9]+)*")
_EMPTY = frozenset({"gate", "gates", "with", "a", "the", "of", "by", "in", "its", "for", "to", "chip", "ic", "outputs", "output",
                    "type"})


def terms(text: str) -> list[str]:
    """The terms of a text, in order, synonyms replaced, filling words left out."""
    plain = text.casefold()
    for apart, together in _PAIRS:
        plain = re.sub(rf"\b{apart}\b", together, plain)
    plain = _COUNTED.sub(lambda m: f"{_NUMBERS.get(m[1], m[1])}-{m[2].rstrip('s')}", plain)
    plain = re.sub(r"\b(\d+)(?:-line)?[ -](?:to|of)[ -](\d+)(?:-line)?\b", r"\1-to-\2", plain)
    found = [_term(word) for word in _WORD.findall(plain)]
    return [term for term in found if term not in _EMPTY]


def _term(word: str) -> str:
    if word in _TERM:
        return _TERM[word]
    single = word[:-1] if word.endswith("s") and not word.endswith("ss") and len(word) > 3 else word
    return _TERM.get(single, single)


def missing(wanted: Iterable[str], names: Iterable[str], text: str) -> list[str]:
    """The words of `wanted` (as typed, terms) that a part does not have.

    names: its type numbers, in which a word with a digit may stand anywhere; text: its title and what its outputs are.
    """
    have = terms(text)
    numbers = [name.casefold() for name in names]
    return [word for word in wanted if not _has(word, have, numbers)]


def _has(word: str, have: list[str], numbers: list[str]) -> bool:
    if word in have or any(word in part.split("-") for part in have if not part.startswith("exclusive")):
        return True
    if len(word) > 3 and any(term.startswith(word) for term in have):
        return True
    return any(character.isdigit() for character in word) and any(word in number for number in numbers) or word in numbers
