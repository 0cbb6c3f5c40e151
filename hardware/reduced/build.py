"""Write what is made from the reduced build's wiring: its wiring list and drawings.

    python -m hardware.reduced.build            # write
    python -m hardware.reduced.build --check    # exit 1, naming each stale file

SPDX-License-Identifier: CERN-OHL-S-2.0
"""

from __future__ import annotations

import sys

from hardware.reduced import breadboard, drawing, listing
from hardware.wiring import REDUCED, load
from protocol import emit


def files() -> dict[str, str]:
    """Every derived file: name from the checkout's root -> text."""
    fixture = load(REDUCED)
    folder = "hardware/reduced"
    return {
        f"{folder}/WIRING.md": listing.text(fixture),
        f"{folder}/chips.svg": drawing.chips(fixture),
        f"{folder}/socket.svg": drawing.socket(fixture),
        f"{folder}/others.svg": drawing.others(fixture),
        **{f"{folder}/{name}": text for name, text in breadboard.files(fixture)},
    }


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "hardware.reduced.build"))
