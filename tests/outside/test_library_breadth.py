"""What the library must hold: its size, and each number that was asked for, or the reason why it is not there.

The numbers: types often met on boards of the 1970s and 80s, a list of the project's own.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re
from pathlib import Path

from sagbench import parts
from sagbench.parts import catalogue
from sagbench.parts.lookup import file_names

LEFT_OUT = Path(parts.__file__).with_name("LEFT-OUT.md")
GATES = """00 01 02 03 04 05 06 07 08 09 10 11 12 13 14 15 16 17 18 20 21 22 23 25 26 27 28 30 32 33 37 38 40 45 50 51 53 54 55 60 64 65"""
STORAGE = "70 72 73 74 75 76 78 107 109 112 170 172 173 174 175 298 373 374 377 573 574 670 81 84 89 189 201 289"
ARITHMETIC = "80 82 83 85 180 181 182 280 283"
COUNTERS = "90 91 92 93 95 160 161 162 163 164 165 166 190 191 192 193 194 195 196 197"
DECODERS = "42 46 47 48 138 139 145 147 148 150 151 153 154 155 156 157 158 251 253 257 258"
BUS = "125 126 240 241 242 243 244 245 365 366 367 368 540 541 640 641 642 643 644 645"
TIMING = "121 122 123 221"
OTHERS = "8T26 8T28 8T37 8T38 8T95 8T96 8T97 8T98 930 932 936 937 944 945 946 948 949 961 962 " \
    "9300 9311 9312 9316 9322 26LS31 26LS32 1488 1489"
WANTED = " ".join([GATES, STORAGE, ARITHMETIC, COUNTERS, DECODERS, BUS, TIMING, OTHERS]).split()


def left_out() -> set[str]:
    """Functions named in the page, "a to b" spelt out, 74 series without the 74."""
    found: set[str] = set()
    for line in LEFT_OUT.read_text(encoding="utf-8").splitlines():
        cell = line.split("|")[1] if line.startswith("|") else ""
        words = re.sub(r"(\d+) to (\d+)", lambda m: ", ".join(map(str, range(int(m[1]), int(m[2]) + 1))), cell)
        for word in re.findall(r"[0-9A-Z]+", words):
            plain = re.fullmatch(r"74H?(\d{2,3})", word)
            found.add(plain[1] if plain else word)
    return found


def test_the_library_is_as_large_as_promised() -> None:
    rows = list(catalogue())
    types = sum(len(row.families) for row in rows)
    print(f"{len(rows)} functions, {types} types")
    assert len(rows) >= 220 and types >= 400


def test_each_number_asked_for_is_there_or_its_absence_has_a_reason() -> None:
    there, reasons = set(file_names()), left_out()
    assert [n for n in WANTED if n not in there and n not in reasons] == []


def test_what_is_said_to_be_left_out_is() -> None:
    assert left_out() & set(file_names()) == set()
    assert len(left_out()) > 80
