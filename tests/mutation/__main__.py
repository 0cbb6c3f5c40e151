"""`python -m mutation`: a sample of the mutants, drawn by a seed; what was tried stays in build/mutation and is not tried again.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import argparse
import sys

from mutation import page
from mutation.rooms import BUILD, rooms
from mutation.sample import SEED, known, tried


def main() -> int:
    """0 when every survivor has its reason and the goal is reached."""
    words = argparse.ArgumentParser(prog="python -m mutation", description=__doc__.partition("\n")[0])
    words.add_argument("--count", type=int, default=440, help="mutants, over all rooms; 0: all there are (a day)")
    words.add_argument("--seed", type=int, default=SEED)
    words.add_argument("--rooms", nargs="*", default=[room.name for room in rooms()])
    words.add_argument("--page", action="store_true", help="write tests/mutation/RESULT.md")
    words.add_argument("--known", action="store_true", help="try nothing, show what was tried before a run was stopped")
    words.add_argument("--anew", action="store_true", help="take nothing over from earlier runs and keep nothing")
    given = words.parse_args()
    chosen = [room for room in rooms() if room.name in given.rooms]
    done = known(chosen, given.seed, BUILD) if given.known else tried(chosen, given.count, given.seed, BUILD, say=True, anew=given.anew)
    if given.page:
        if missing := page.write(done, sys.argv[1:]):
            print(f"mutation: {missing} survivors have no reason in tests/mutation/reasons.toml")
    print(f"mutation: {page.percent(done.values()):.1f} % of {len(done)} noticed")
    return 0 if page.percent(done.values()) >= page.GOAL else 1


if __name__ == "__main__":
    sys.exit(main())
