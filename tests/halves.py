"""The command line of a long run in parts, each with lines that are kept (study.lines): which parts, and what they say.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

Line = dict[str, Any]
Figure = tuple[str, float, str]


def asked(what: str, halves: Sequence[str], out: Path, count: str, default: int) -> argparse.Namespace:
    """`half` (all if none was named), `workers`, `out` and the count that this run has: name of its option and default."""
    parser = argparse.ArgumentParser(description=what)
    parser.add_argument("half", nargs="*", metavar="HALF", help=", ".join(halves))
    parser.add_argument(f"--{count}", type=int, default=default)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--out", type=Path, default=out)
    given = parser.parse_args()
    if unknown := set(given.half) - set(halves):
        parser.error(f"no such half: {', '.join(sorted(unknown))}; there are {', '.join(halves)}")
    given.half = given.half or list(halves)
    return given


def tell(half: str, lines: Iterable[Line], wrong: Callable[[Line], bool], figures: Iterable[Figure]) -> None:
    """Print what was wrong, then `name value unit`, a line each."""
    for one in lines:
        if wrong(one):
            print(f"{half}: {one}")
    for name, value, unit in figures:
        print(f"{name} {value:.4g} {unit}", flush=True)
