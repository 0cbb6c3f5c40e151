"""Write generated files, or say which of them are stale.  Used by protocol.derive and hardware.derive.

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def stale(files: Mapping[str, str], root: Path = ROOT) -> list[str]:
    """Names (relative to `root`) of the files that are missing or differ from their text."""
    return [name for name, text in files.items()
            if not (root / name).is_file() or (root / name).read_text() != text]


def run(files: Mapping[str, str], arguments: Sequence[str], command: str, root: Path = ROOT) -> int:
    """Write the files that changed; with `--check` write nothing and return 1 if any would change."""
    if list(arguments) not in ([], ["--check"]):
        print(f"{command}: unknown argument {' '.join(arguments)}; use no argument, or --check", file=sys.stderr)
        return 2
    changed = stale(files, root)
    if arguments:
        for name in changed:
            print(f"{name}: not what its source says; run `python -m {command}`", file=sys.stderr)
        return 1 if changed else 0
    for name in changed:
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        (root / name).write_text(files[name])
        print(f"wrote {name}")
    return 0
