"""`python -m speed growth [--page tests/speed]`, `python -m speed memory --chips 1000`: speed's pages and long runs.

`make test` runs slices of the same code (test_speed.py).

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path

from sagbench.parts import load_part

from speed import growth, memory, page
from speed.sweeps import took

HERE = Path(__file__).parent
PARTS = ("74LS00", "74LS04", "74LS74", "74LS138", "74LS163", "74LS193", "74HC00", "74LS244", "74LS245", "74LS374", "74181")


def when(command: str) -> str:
    """Date, commit and command of what is written."""
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], cwd=HERE, text=True, capture_output=True, check=True).stdout.strip()
    return f"{datetime.now(UTC):%Y-%m-%d}, commit {commit}, `{command}`"


def main() -> int:
    """0."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    verbs = parser.add_subparsers(dest="verb", required=True)
    verbs.add_parser("growth").add_argument("--page", type=Path, default=HERE)
    verbs.add_parser("memory").add_argument("--chips", type=int, default=1000)
    asked = parser.parse_args()
    if asked.verb == "growth":
        sweeps = [(name, part.pin_count, len(part.sequence), took(name, (1,))) for name in PARTS for part in [load_part(name)]]
        page.write(asked.page, growth.measured(), sweeps, when("python -m speed growth"))
        return 0
    begun, found = when(f"python -m speed memory --chips {asked.chips}"), list[memory.Held]()

    def keep(one: memory.Held) -> None:
        """After each: a run that is stopped has told how far it came."""
        found.append(one)
        print(f"{one.chips} chips: {one.mb:.1f} MB", flush=True)
        (HERE / "memory.json").write_text(json.dumps({
            "when": begun, "chips": one.chips, "first_chips": found[0].chips, "first_mb": round(found[0].mb, 1),
            "last_mb": round(one.mb, 1), "most_mb": round(max(each.mb for each in found), 1)}, indent=1) + "\n")

    memory.held(asked.chips, progress=keep)
    return 0


if __name__ == "__main__":
    sys.exit(main())
