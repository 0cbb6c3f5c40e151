"""What is printed on a chip, taken apart: maker's prefix, grade, family, function, suffix.

    SN 74 LS 04 N        N 74 LS 138 N      CD 4011 BE      MC1 4011 BCP      7404      ls04
    N 8T26 AN            DM 9300 N          93 L 08 PC      MC 846 P          F 9946 DC  DM 81LS95 N

Prefixes and package letters are common practice of the makers' ordering guides;
54 means -55 to 125 C, 74 means 0 to 70 C (Motorola and National ordering tables
of the LS00); 8xx and 9xx are the 0 to 75 C and the -55 to 125 C type of one DTL function, which Fairchild
called 99xx and Texas SN158xx and SN159xx (from memory); a date code is year and week, YYWW (source: common practice).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator
from dataclasses import replace

from . import names
from .model import Marking

_FAMILIES = "ALS|ACT|HCT|LS|AS|HC|AC|F|H|L|S"
_FULL = re.compile(rf"^(?P<prefix>[A-Z]{{0,4}}?)(?P<grade>54|74)(?P<family>{_FAMILIES}|)(?P<function>\d{{2,5}})(?P<suffix>.*)$")
_SHORT = re.compile(rf"^(?P<family>{_FAMILIES})(?P<function>\d{{2,5}})(?P<suffix>.*)$")
_CMOS = re.compile(r"^(?P<prefix>[A-Z]{0,4}?1?)(?P<function>40\d{3}|4\d{3})(?!\d)(?P<suffix>.*)$")
_NINES = re.compile(r"^(?P<prefix>F?)9(?P<family>N|H|S|L|LS)(?P<function>\d{2,3})(?P<suffix>.*)$")     # Fairchild: 9N00 is the 7400
# Whole type numbers: family, pattern.  Their prefixes are listed, so that an LM833 is not taken for a logic chip.
_MAKERS = "AM|DM|DS|F|FJ|ITT|MC|MIC|N|S|SFC|SN|SP|TD|TL|UA|UPB|HD|M|P|D"
_OWN = tuple((family, re.compile(rf"^(?P<prefix>(?:{makers})?){pattern}(?P<suffix>.*)$")) for family, makers, pattern in (
    ("TTL", _MAKERS, r"(?P<function>8T\d{2,3})"),
    ("TTL", _MAKERS, r"(?P<function>(?:25|26|29|71|81)LS\d{2,4})"),
    ("TTL", _MAKERS, r"(?P<function>(?:14|34|75|82|86|88|93|96)\d{2}(?:\d(?=\D|$))?)"),
    ("93L", _MAKERS, r"93L(?P<function>\d{2})"),
    ("DTL", "SN15", r"(?P<grade>[89])(?P<function>[3-6]\d)(?=\D|$)"),
    ("DTL", "DM|F|ITT|MC|MIC|N|SFC|UA", r"9?(?P<grade>[89])(?P<function>[3-6]\d)(?=\D|$)")))
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
    for family, pattern in (("", _FULL), ("", _SHORT), ("4000B", _CMOS), ("", _NINES), *_OWN):
        match = pattern.match(plain)
        if not match or not _TAIL.match(match["suffix"]):
            continue
        part = match.groupdict()
        grade = 0 if family else int(part.get("grade") or 74)
        made = Marking(text, part.get("prefix") or "", grade, family or part["family"].replace("N", ""),
                       {"DTL": "9", "93L": "93"}.get(family, "") + part["function"], part["suffix"], _package(part["suffix"]))
        yield replace(made, note=DATE_NOTE) if _may_be_date(plain) else made


def _may_be_date(plain: str) -> bool:
    return bool(re.fullmatch(r"[789]\d\d\d", plain)) and 1 <= int(plain[2:]) <= 53


def _package(suffix: str) -> str:
    rest = _VERSION.sub("", suffix)
    return next((name for letters, name in _PACKAGES if rest.startswith(letters)), "")


def nearest_names(text: str, read_as: Iterable[Marking], functions: Iterable[str]) -> tuple[str, ...]:
    """Up to four names of functions that are in the library and look like what was typed, the likest first."""
    plain = _BETWEEN.sub("", text.upper())
    families = sorted({m.family for m in read_as if m.family not in names.OWN_NUMBER}) or ["", "LS"]
    own = [f for f in functions if names.order(f)[0]]
    offered = [(f, f) for f in own] + [(names.type_name(f, family), f) for f in functions if f not in own
                                       for family in families]
    wanted = [(names.type_name(m.function, m.family), m.function) for m in read_as]
    ranked = []
    for word, number in wanted or [(plain, "")]:
        for name, function in offered:
            likeness = difflib.SequenceMatcher(None, word, name).ratio()
            if likeness >= 0.5:
                ranked.append((-likeness, names.distance(function, number) if number else 0, name))
    return tuple(dict.fromkeys(name for _, _, name in sorted(ranked)))[:4]
