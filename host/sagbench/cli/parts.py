# SPDX-License-Identifier: MIT
"""`sagbench parts [WORD...]`: which parts there are."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.errors import UsageError
from sagbench.report.safe import visible

if TYPE_CHECKING:
    from sagbench.parts import Entry


def run(arguments: argparse.Namespace) -> int:
    """One line a function: number, pins, title, families.

    Words are looked for in full names too, so that "74ls04" finds the 04.
    Raises UsageError if no part has all the words.
    """
    from sagbench import parts
    check_folders(arguments.parts_dir)
    words = [word.casefold() for word in arguments.words]
    found = 0
    for entry in parts.catalogue(map(Path, arguments.parts_dir)):
        names = [full_name(entry.function, family) for family in entry.families]
        text = " ".join((entry.function, entry.title, *names)).casefold()
        if all(word in text for word in words):
            found += 1
            sys.stdout.write(visible(f"{entry.function:<5} {entry.pin_count:>2} pins  {entry.title}: {short_names(entry)}") + "\n")
    if not found:
        raise UsageError(f"no part has {' and '.join(repr(w) for w in arguments.words)}; "
                         "`sagbench parts` without words lists all.")
    return 0


def check_folders(folders: list[str]) -> None:
    """Raises UsageError if a folder of the user's own part files is none."""
    for folder in folders:
        if not Path(folder).is_dir():
            raise UsageError(f"there is no folder {folder}; --parts-dir takes a folder with part files in it.")


def short_names(entry: Entry) -> str:
    """Its families as one says them: "74 H LS", "4000B"."""
    return " ".join(family or "74" for family in entry.families)


def full_name(function: str, family: str) -> str:
    """The usual name of a function in a family: 74LS04; 4000 series functions are whole names already."""
    from sagbench.parts.names import type_name
    return type_name(function, family)
