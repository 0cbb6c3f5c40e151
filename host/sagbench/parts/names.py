"""What a type is called: 74LS04, but 4011, 8T26, 9300, 930, which have no series in front.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re

from .definition import PLAIN

# Families whose functions are called by whole type numbers.
OWN_NUMBER = frozenset({"4000B", "TTL", "93L", "DTL"})
# The form of a function's number, as in part files.
FUNCTION = r"[0-9]{2,5}|[0-9]{1,2}[A-Z]{1,2}[0-9]{2,4}"
_DIGITS = re.compile(r"\d+")


def type_name(function: str, family: str, grade: int = 74) -> str:
    """The usual name of a function in a family ("" and "74" both mean the plain series): "74LS04", "4011", "93L08"."""
    if family == "93L":
        return f"{function[:2]}L{function[2:]}"
    if family in OWN_NUMBER:
        return function
    return f"{grade or 74}{'' if family == PLAIN else family}{function}"


def order(function: str) -> tuple[bool, int, str]:
    """For sorting: the 74 series by number, then whole type numbers."""
    digits = _DIGITS.findall(function)
    return len(function) > 3 or _is_dtl(function), int("".join(digits)), function


def _is_dtl(function: str) -> bool:
    return bool(re.fullmatch(r"9[3-6]\d", function))


def distance(one: str, other: str) -> int:
    """How far two numbers are apart, for offering what is near."""
    return abs(order(one)[1] - order(other)[1])
