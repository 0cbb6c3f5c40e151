"""Functions of the library taken as unknown parts, through their pins only: how many are recovered exactly.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from collections.abc import Iterator

from rig import ROOT

Figure = tuple[str, float, str]
EACH = 8
sys.path.append(str(ROOT / "tests/host/learn"))


def recovered() -> Iterator[Figure]:
    """Without memory, up to 16 inputs; with memory, up to 64 states.  Every EACH-th function: all of them take ten minutes."""
    import same

    for name, parts in (("learn_combinational_percent", same.combinational()), ("learn_clocked_percent", same.clocked())):
        looks, good = [], 0
        parts = parts[::EACH]
        for part in parts:
            found = same.learnt(part)
            good += same.exact(part, found)
            looks.append(found.learnt.looks)
        yield name, 100 * good / len(parts), f"% of {len(parts)}"
        yield name.replace("percent", "looks_max"), max(looks), "looks"
