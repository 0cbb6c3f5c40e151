"""What a dozen small changes come to, tried now; the long run, with every survivor and its reason, stands in tests/mutation/RESULT.md.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator

from mutation.rooms import ROOT

COUNT, SEED = 12, 1                  # another seed than the long run's


def noticed() -> Iterator[tuple[str, float, str]]:
    """Share of a few changes, some of each room, that a test notices: by chance it is off by ten and more from the long run's."""
    done = subprocess.run([sys.executable, "-m", "mutation", "--count", str(COUNT), "--seed", str(SEED), "--anew"], cwd=ROOT,
                          capture_output=True, text=True, check=False)
    found = re.search(r"^mutation: ([\d.]+) % of (\d+) noticed$", done.stdout, re.MULTILINE)
    if not found:
        raise RuntimeError(f"the mutants could not be tried: {(done.stderr or done.stdout).strip()[-300:]}")
    yield "mutation_killed_percent", float(found[1]), f"%_of_{found[2]}_tried_now"
