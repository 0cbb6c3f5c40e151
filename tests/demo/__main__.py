"""`make demo`: sweep two chips of the same type and show both reports.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from pathlib import Path

from rig import ROOT, sagbench, virtual_port

HERE = Path(__file__).parent
OUT = ROOT / "build" / "demo"
CHIPS = {"sound": "U7", "tired": "U12"}


def main() -> int:
    """Sweep both chips; returns 0 if the command told them apart."""
    OUT.mkdir(parents=True, exist_ok=True)
    print("Two 74LS00 off the timing card of a 1981 paper-tape reader. Both pass every logic test.\n"
          "The fixture is virtual; the firmware in it is the image a real board would run.\n")
    codes = []
    for seed, (name, place) in enumerate(CHIPS.items(), start=21):
        print(f"---- {place}: sagbench sweep SN74LS00N " + "-" * 41, flush=True)
        page = OUT / f"{name}.html"
        with virtual_port(HERE / f"{name}.toml", seed) as port:
            done = sagbench("sweep", "SN74LS00N", "--port", port, "--html", str(page))
        print(done.stdout + done.stderr)
        print(f"exit code {done.returncode}; the same as a page: {page.relative_to(ROOT)}\n")
        codes.append(done.returncode)
    return 0 if codes == [0, 1] else 1


if __name__ == "__main__":
    sys.exit(main())
