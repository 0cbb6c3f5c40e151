# SPDX-License-Identifier: MIT
"""`sagbench parts [WORD...]`: which parts there are."""
from __future__ import annotations

import argparse
import sys

from sagbench.errors import UsageError
from sagbench.report.safe import visible


def run(arguments: argparse.Namespace) -> int:
    """One line a function: number, pins, title, families.  Raises UsageError if no part has all the words."""
    from sagbench import parts
    words = [word.casefold() for word in arguments.words]
    found = 0
    for function, title, families, pin_count in parts.catalogue():
        names = [full_name(function, family) for family in families]
        text = " ".join((function, title, *names)).casefold()
        if all(word in text for word in words):
            found += 1
            sys.stdout.write(visible(f"{function:<6} {pin_count:>2} pins  {title}: {', '.join(names)}") + "\n")
    if not found:
        raise UsageError(f"no part has {' and '.join(repr(w) for w in arguments.words)}; "
                         "`sagbench parts` without words lists all.")
    return 0


def full_name(function: str, family: str) -> str:
    """The usual name of a function in a family: 74LS04; 4000 series functions are whole names already."""
    return function if family == "4000B" else f"74{family}{function}"
