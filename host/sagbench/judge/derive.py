"""`python -m sagbench.judge.derive [--check]`: write draws.json anew, or tell whether it is current.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import json
import sys

from sagbench.judge.draws import DRAWS
from sagbench.parts import ratings
from sagbench.parts.lookup import LIBRARY, load_file


def draws() -> str:
    """The text of the file: of every function that has any, the limits of its supply current by family and state.

    Amperes; of several makers' limits the loosest, which is the one that judges.
    """
    found: dict[str, dict[str, dict[str, float]]] = {}
    for path in sorted(LIBRARY.glob("*.toml")):
        definition = load_file(path)
        for family, entry in definition.families.items():
            for key, unit in (("icc_ma", ratings.MILLI), ("icc_ua", ratings.MICRO)):
                for state, said in entry.get(key, {}).items():
                    limit = float(f"{ratings.figure(said, 'max', unit=unit).value:.6g}")
                    found.setdefault(definition.function, {}).setdefault(family, {})[state] = limit
    rows = (f" {json.dumps(function)}: {json.dumps(families)}" for function, families in found.items())
    return "{\n" + ",\n".join(rows) + "\n}\n"


def main(arguments: list[str]) -> int:
    """Exit status: 1 if --check finds the file out of date."""
    text = draws()
    if "--check" not in arguments:
        DRAWS.write_text(text, encoding="utf-8")
        return 0
    if DRAWS.exists() and DRAWS.read_text(encoding="utf-8") == text:
        return 0
    print(f"{DRAWS} is not current; run `python -m sagbench.judge.derive`", file=sys.stderr)
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
