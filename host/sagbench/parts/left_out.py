"""Types that were looked at and left out of the library on purpose; LEFT-OUT.md says which and why, and is read here.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import cache
from importlib import resources

from .model import Marking

_ROW = re.compile(r"^\| *(?P<types>[0-9][^|]*?) *\| *(?P<why>[^|]*?) *\|$")
_TYPE = re.compile(r"^(?:and )?(?P<whole>(?:[57]4H?)?(?P<function>\w+))(?: to (?:74)?(?P<last>\d+))?")
_NO_PINS = "No source for the pins"
_SOME = "In some families only"


@cache
def _reasons() -> dict[str, str]:
    """Function, as part files name it -> why it is left out."""
    section, found = "", dict[str, str]()
    for line in resources.files(__package__).joinpath("LEFT-OUT.md").read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            section = line[3:]
        elif (row := _ROW.match(line)) and section != _SOME:
            why = f"no sure source for its pins or its function was at hand ({row['why']})" if section == _NO_PINS else row["why"]
            found |= dict.fromkeys(_functions(row["types"]), why)
    return found


def _functions(types: str) -> Iterator[str]:
    for word in types.split(","):
        if named := _TYPE.match(word.strip()):
            yield named["whole"]
            first, last = named["function"], named["last"]
            yield from [first] if last is None else map(str, range(int(first), int(last) + 1))


def why(read_as: Iterable[Marking]) -> str:
    """Why a type is not in the library, in words; "" if nobody has looked at it."""
    return next((_reasons()[m.function] for m in read_as if m.function in _reasons()), "")
