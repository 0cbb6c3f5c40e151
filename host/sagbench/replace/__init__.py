"""What can stand in for a part: the same function in other families or with other pins, and what is near it.

    read_place(part, find, ["Y: 4x 74H00"])      what hangs on it and what drives it
    replacements(part, own, every, place)        judged in that place, ranked

    functions, alike, differ    which parts do the same, pin for pin, or how they differ
    connect, fit                the arithmetic of a line; a part in a place
    search                      all of the library

Knows parts, no fixture and no wire.  Every figure is a limit of the part files with its source; speed classes and what
outputs stand are from speed.toml and known.toml.

SPDX-License-Identifier: MIT
"""
from .fit import Finding, Fit, Verdict
from .place import Place
from .place import read as read_place
from .search import replacements

__all__ = ["Finding", "Fit", "Place", "Verdict", "read_place", "replacements"]
