"""Write everything that follows from protocol/spec.toml.

    python -m protocol.derive            # write
    python -m protocol.derive --check    # exit 1, naming each stale file

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys

from protocol import derive_c, derive_md, derive_py, emit, spec


def files() -> dict[str, str]:
    """Every derived file: name from the checkout's root -> text."""
    wire = spec.load()
    return {
        "firmware/gen/protocol.h": derive_c.header(wire),
        "firmware/gen/protocol.c": derive_c.source(wire),
        "host/sagbench/wire/numbers.py": derive_py.numbers(wire),
        "host/sagbench/wire/messages.py": derive_py.messages(wire),
        "host/sagbench/wire/steps.py": derive_py.steps(wire),
        "protocol/REFERENCE.md": derive_md.reference(wire, spec.PATH.read_text()),
    }


if __name__ == "__main__":
    sys.exit(emit.run(files(), sys.argv[1:], "protocol.derive"))
