"""`python -m sagbench.vectors.derive [--check]`: write additions.json anew, or tell whether it is current.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import sys
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from sagbench.parts import sequence
from sagbench.parts.behaviour import Network
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.vectors import complete


def additions() -> str:
    """The text of the file, for every pinout of every function of the library; all processors search."""
    paths = sorted(LIBRARY.glob("*.toml"))
    for path in paths:                   # mistakes are told here, before anything is searched
        load_file(path)
    found: dict[str, object] = {}
    with ProcessPoolExecutor() as workers:
        for some in workers.map(of_file, paths, chunksize=4):
            found |= some
    return json.dumps(found, indent=1) + "\n"


def of_file(path: Path) -> dict[str, object]:
    """What is to be kept for the pinouts of one function."""
    found: dict[str, object] = {}
    for definition, pinout in load_file(path).forms():
        base = sequence.levels(definition, Network(definition))
        found[complete.key(definition, pinout)] = {
            "of": complete.digest(definition, pinout, base),
            "steps": [complete.written(step) for step in complete.find(definition, pinout, base)]}
    return found


def outdated() -> list[str]:
    """Pinouts of the library of which other additions are kept, or none, and kept ones of which there is no pinout.

    What was searched is not searched again: whether it still belongs to the part is what its digest tells.
    """
    kept = json.loads(complete.ADDITIONS.read_text(encoding="utf-8")) if complete.ADDITIONS.exists() else {}
    wanted = {}
    for path in sorted(LIBRARY.glob("*.toml")):
        for definition, pinout in load_file(path).forms():
            base = sequence.levels(definition, Network(definition))
            wanted[complete.key(definition, pinout)] = complete.digest(definition, pinout, base)
    return sorted(name for name in {*wanted, *kept} if kept.get(name, {}).get("of") != wanted.get(name))


def main(arguments: list[str]) -> int:
    """Exit status: 1 if --check finds the file out of date."""
    if "--check" not in arguments:
        complete.ADDITIONS.write_text(additions(), encoding="utf-8")
        return 0
    if not (old := outdated()):
        return 0
    print(f"{complete.ADDITIONS} is not current for {', '.join(old)}; run `python -m sagbench.vectors.derive`", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
