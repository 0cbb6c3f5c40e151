"""`python -m sagbench.vectors.derive [--check]`: write additions.json anew, or tell whether it is current.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import sys

from sagbench.parts import sequence
from sagbench.parts.behaviour import Network
from sagbench.parts.lookup import LIBRARY, load_file
from sagbench.vectors import complete


def additions() -> str:
    """The text of the file, for every pinout of every function of the library."""
    found = {}
    for path in sorted(LIBRARY.glob("*.toml")):
        definition = load_file(path)
        base = sequence.levels(definition, Network(definition))
        for pinout in definition.pinouts:
            steps = complete.find(definition, pinout, base)
            found[complete.key(definition, pinout)] = {
                "of": complete.digest(definition, pinout, base), "steps": [complete.written(step) for step in steps]}
    return json.dumps(found, indent=1) + "\n"


def main(arguments: list[str]) -> int:
    """Exit status: 1 if --check finds the file out of date."""
    text = additions()
    if "--check" not in arguments:
        complete.ADDITIONS.write_text(text, encoding="utf-8")
        return 0
    if complete.ADDITIONS.exists() and complete.ADDITIONS.read_text(encoding="utf-8") == text:
        return 0
    print(f"{complete.ADDITIONS} is not current; run `python -m sagbench.vectors.derive`", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
