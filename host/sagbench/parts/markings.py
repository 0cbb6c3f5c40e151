"""What is printed on a chip, taken apart: maker's prefix, grade, family, function, suffix.

    SN 74 LS 04 N        N 74 LS 138 N      CD 4011 BE      MC1 4011 BCP      7404      ls04

Prefixes and package letters are common practice of the makers' ordering guides;
54 means -55 to 125 C, 74 means 0 to 70 C (Motorola and National ordering tables
of the LS00); a date code is year and week, YYWW (source: common practice).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from .model import Marking

_FAMILIES = "ALS|ACT|HCT|LS|AS|HC|AC|F|H|L|S"
_FULL = re.compile(rf"^(?P<prefix>[A-Z]{{0,4}}?)(?P<grade>54|74)(?P<family>{_FAMILIES}|)(?P<function>\d{{2,5}})(?P<suffix>.*)$")
_SHORT = re.compile(rf"^(?P<family>{_FAMILIES})(?P<function>\d{{2,5}})(?P<suffix>.*)$")
_CMOS = re.compile(r"^(?P<prefix>[A-Z]{0,4}?1?)(?P<function>4\d{3}|40\d{3})(?P<suffix>.*)$")
_BETWEEN = re.compile(r"[\s\-_]+")
_TAIL = re.compile(r"^[A-Z0-9/.+]*$")
_VERSION = re.compile(r"^(UB|BC|BM|[AB](?=[A-Z]|$)|C(?=[NPJ]))")
# Longest first; the letters makers put behind the version for the package.
_PACKAGES = (("PC", "plastic DIP"), ("DC", "ceramic DIP"), ("NT", "plastic DIP"), ("JT", "ceramic DIP"),
             ("CP", "plastic DIP"), ("CL", "ceramic DIP"), ("JD", "ceramic DIP"),
             ("N", "plastic DIP"), ("P", "plastic DIP"), ("E", "plastic DIP"),
             ("J", "ceramic DIP"), ("F", "ceramic DIP"), ("L", "ceramic DIP"),
             ("D", "small outline"), ("M", "small outline"), ("W", "flat pack"))
DATE_NOTE = "a bare four-digit number may also be a date code (year and week): look for a second mark on the chip"


def parse_marking(text: str) -> tuple[Marking, ...]:
    """Every way to read a marking, the likeliest first; () if it looks like no logic chip.

    Several words may be one marking with spaces ("SN 74 LS 04 N") or several marks of one chip ("74LS00 8432").
    """
    words = _BETWEEN.split(text.strip().upper())
    found = list(_readings(text, "".join(words)))
    for word in words if len(words) > 1 else ():
        found += _readings(text, word)
    return tuple(dict.fromkeys(found))


def _readings(text: str, plain: str) -> Iterator[Marking]:
    for pattern in (_FULL, _SHORT, _CMOS):
        match = pattern.match(plain)
        if not match or not _TAIL.match(match["suffix"]):
            continue
        part = match.groupdict()
        family = "4000B" if pattern is _CMOS else part["family"]
        grade = 0 if pattern is _CMOS else int(part.get("grade") or 74)
        made = Marking(text, part.get("prefix") or "", grade, family, part["function"], part["suffix"],
                       _package(part["suffix"]))
        yield replace(made, note=DATE_NOTE) if _may_be_date(plain) else made


def _may_be_date(plain: str) -> bool:
    return bool(re.fullmatch(r"74\d\d", plain)) and 1 <= int(plain[2:]) <= 53


def _package(suffix: str) -> str:
    rest = _VERSION.sub("", suffix)
    return next((name for letters, name in _PACKAGES if rest.startswith(letters)), "")


def nearest_names(text: str, read_as: Iterable[Marking], functions: Iterable[str]) -> tuple[str, ...]:
    """Up to four names of functions that are in the library and look like what was typed, the likest first."""
    plain = _BETWEEN.sub("", text.upper())
    families = sorted({m.family for m in read_as if m.family != "4000B"}) or ["", "LS"]
    offered = [(f, f) for f in functions if len(f) > 3] + [(f"74{family}{f}", f) for f in functions if len(f) <= 3
                                                           for family in families]
    wanted = [(f"{'' if m.family == '4000B' else f'74{m.family}'}{m.function}", m.function) for m in read_as]
    ranked = []
    for word, number in wanted or [(plain, "")]:
        for name, function in offered:
            likeness = difflib.SequenceMatcher(None, word, name).ratio()
            if likeness >= 0.5:
                distance = abs(int(function) - int(number)) if number else 0
                ranked.append((-likeness, distance, name))
    return tuple(dict.fromkeys(name for _, _, name in sorted(ranked)))[:4]
