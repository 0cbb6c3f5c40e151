"""Line and column of the keys of a TOML file, which tomllib does not tell.

SPDX-License-Identifier: GPL-3.0-or-later
"""
from __future__ import annotations

import re

Path = tuple[str | int, ...]
HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(#.*)?$")
KEY = re.compile(r"^(\s*)([A-Za-z0-9_\-]+|\"[^\"]*\")((?:\s*\.\s*[A-Za-z0-9_\-]+)*)\s*=")
INLINE = re.compile(r"[{,]\s*([A-Za-z0-9_\-]+)\s*=")


def key_places(text: str) -> dict[Path, tuple[int, int]]:
    """Places (line, column), 1-based, by path: ("fault", 0, "pin").

    Lines inside a multi-line array are skipped by counting brackets.
    """
    places: dict[Path, tuple[int, int]] = {(): (1, 1)}
    here: Path = ()
    counts: dict[Path, int] = {}
    depth = 0
    for number, line in enumerate(text.splitlines(), 1):
        bare = _without_strings(line)
        if depth == 0 and (header := HEADER.match(bare)):
            names = tuple(n.strip().strip('"') for n in header[2].split("."))
            if header[1] == "[[":
                index = counts.get(names, 0)
                counts[names] = index + 1
                here = (*names, index)
            else:
                here = names
            places[here] = (number, line.index("[") + 1)
            continue
        if depth == 0 and (key := KEY.match(line)):
            names = (key[2].strip('"'), *(n.strip() for n in key[3].split(".")[1:]))
            places[(*here, *names)] = (number, len(key[1]) + 1)
            for inner in INLINE.finditer(bare):
                places[(*here, *names, inner[1])] = (number, inner.start(1) + 1)
        depth += bare.count("[") + bare.count("{") - bare.count("]") - bare.count("}")
    return places


def _without_strings(line: str) -> str:
    """The line with strings blanked and its comment cut; columns stay."""
    blank = re.sub(r"\"[^\"]*\"|'[^']*'", lambda m: "_" * len(m[0]), line)
    return blank.split("#", 1)[0]
