"""A board file whose text follows from its content: KiCad gives every item a random identity and sorts by it.

Two builds of the same board are the same text, and a change shows as what it is.

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import re
import uuid
from itertools import count

SPACE = uuid.UUID("5a9b0000-0000-4000-8000-000000000025")
STAMP = re.compile(r"\(tstamp [0-9a-f-]{36}\)")
SORTED = ("footprint", "gr_line", "gr_text", "segment", "via", "zone")
KEPT_FIRST = ("tedit", "at", "descr", "tags", "path", "attr", "property")  # of a footprint


def _key(block: str) -> str:
    return STAMP.sub("", block)


def _kind(block: str) -> str:
    return block.strip().removeprefix("(").split()[0]


def _footprint(block: str) -> str:
    """Its items sorted, after what KiCad writes first."""
    head, *items = re.split(r"\n(?=    \()", block.rstrip().removesuffix(")").rstrip())
    first = [i for i in items if _kind(i) in KEPT_FIRST]
    rest = sorted((i for i in items if _kind(i) not in KEPT_FIRST), key=_key)
    return "\n".join([head, *first, *rest, "  )"])


def settled(text: str) -> str:
    """The same board with items sorted by what they are and identities counted."""
    head, *blocks = re.split(r"\n(?=  \()", text.rstrip().removesuffix(")").rstrip())
    first = [b.rstrip() for b in blocks if _kind(b) not in SORTED]
    rest = [_footprint(b) if _kind(b) == "footprint" else b.rstrip() for b in blocks if _kind(b) in SORTED]
    rest.sort(key=lambda b: (SORTED.index(_kind(b)), _key(b)))
    number = count(1)
    whole = "\n".join([head.rstrip(), *first, *rest, ")"]) + "\n"
    return STAMP.sub(lambda _: f"(tstamp {uuid.uuid5(SPACE, str(next(number)))})", whole)
