"""python -m log_trials kills|damage|disk [COUNT]: goes on where it was, shows how far it is, ends with 1 if anything was lost.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import json
import sys
import tempfile
import time
from pathlib import Path

from . import damage, disk, kills

STATE = Path(__file__).resolve().parent.parent.parent / "build/log_trials"
EVERY_S = 5.0        # between two lines of progress


def main(words: list[str]) -> int:
    """0 if nothing was lost in all trials so far."""
    what, count = words[0], int(words[1]) if len(words) > 1 else 1000
    if what == "disk":
        print(json.dumps(disk.run()))
        return 0
    STATE.mkdir(parents=True, exist_ok=True)
    state = STATE / f"{what}.json"
    found = json.loads(state.read_text()) if state.exists() else {"done": 0, "lost": [], "kinds": {}}
    told = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="sagbench-log-") as folder:
        while found["done"] < count:
            kind, lost = ("", kills.trial(found["done"], Path(folder) / "log")) if what == "kills" else damage.trial(found["done"], Path(folder))
            found["done"] += 1
            found["kinds"][kind] = found["kinds"].get(kind, 0) + 1
            if lost:
                found["lost"].append(lost)
                print(lost, flush=True)
            state.write_text(json.dumps(found))
            if time.monotonic() - told > EVERY_S:
                told = time.monotonic()
                print(f"{what}: {found['done']} of {count}, {len(found['lost'])} lost", flush=True)
    print(f"{what}: {found['done']} trials, {len(found['lost'])} lost {found['kinds']}")
    return 1 if found["lost"] else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
