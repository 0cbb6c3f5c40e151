"""The part library: definitions of functions, limits of families, and what follows from them for a test.

    parse_marking("SN74LS04N")      what a marking says
    load_part("74LS04")             pins, limits, logic test, supply states
    load_file("my/05.toml")         a definition of one's own, with all its mistakes if it has any
    catalogue()                     what there is

How a part file is written: LANGUAGE.md.

The data classes come with the package, the rooms behind the functions when one is first used:
a command that only talks to the fixture does not wait for them.

SPDX-License-Identifier: MIT
"""
from typing import TYPE_CHECKING, Any

from .model import Expect, FamilyLimits, Limit, Marking, Part, Pin, Rated, Role, Step, SupplyState

if TYPE_CHECKING:
    from .lookup import Entry, catalogue, load_file, load_part
    from .markings import parse_marking

__all__ = ["Entry", "Expect", "FamilyLimits", "Limit", "Marking", "Part", "Pin", "Rated", "Role", "Step",
           "SupplyState", "catalogue", "load_file", "load_part", "parse_marking"]


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module {__name__} has no attribute {name}")
    from . import lookup, markings

    return getattr(markings if name == "parse_marking" else lookup, name)
