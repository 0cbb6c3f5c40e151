# SPDX-License-Identifier: MIT
"""`sagbench report FILE`: the report of a record that was kept."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sagbench.cli import output
from sagbench.errors import UsageError
from sagbench.report.codec import from_json


def run(arguments: argparse.Namespace) -> int:
    """Read, show, and end as the sweep ended."""
    output.check_targets(arguments.html)
    record = from_json(text(arguments.record), arguments.record)
    output.deliver(record, arguments)
    return output.exit_code(record)


def text(name: str) -> str:
    """What stands in a record's file, or on standard input.  Raises UsageError."""
    try:
        return sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8")
    except OSError as wrong:
        raise UsageError(f"{name} cannot be read: {wrong.strerror}; give a file written by `sagbench sweep --json`.") from None
    except UnicodeDecodeError:
        raise UsageError(f"{name} is not text; give a file written by `sagbench sweep --json`.") from None
