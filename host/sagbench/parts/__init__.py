"""The part library: definitions of functions, limits of families, and what follows from them for a test.

    parse_marking("SN74LS04N")      what a marking says
    load_part("74LS04")             pins, limits, logic test, supply states
    load_file("my/05.toml")         a definition of one's own, with all its mistakes if it has any
    catalogue()                     what there is

How a part file is written: LANGUAGE.md.

SPDX-License-Identifier: MIT
"""
from .lookup import Entry, catalogue, load_file, load_part
from .markings import parse_marking
from .model import Expect, FamilyLimits, Limit, Marking, Part, Pin, Rated, Role, Step, SupplyState

__all__ = ["Entry", "Expect", "FamilyLimits", "Limit", "Marking", "Part", "Pin", "Rated", "Role", "Step",
           "SupplyState", "catalogue", "load_file", "load_part", "parse_marking"]
