# SPDX-License-Identifier: MIT
"""`sagbench report FILE`: the report of a record that was kept."""
from __future__ import annotations

import argparse
import sys
from pathlib import Path

from sagbench.cli import output
from sagbench.errors import UsageError
from sagbench.record import SweepRecord


def run(arguments: argparse.Namespace) -> int:
    """Read, show, and end as the sweep ended."""
    output.check_targets(arguments.html)
    output.check_kept(arguments.record, arguments.html)
    record = read_record(arguments.record)
    if arguments.guard is not None:
        from sagbench.judge.rejudge import rejudge
        from sagbench.judge.rule import Rule
        record = rejudge(record, Rule(arguments.guard))
    output.deliver(record, arguments)
    return output.exit_code(record)


def read_record(name: str) -> SweepRecord:
    """The record in a file, or on standard input ("-").  Raises UsageError."""
    from sagbench.report.codec import from_json
    return from_json(text(name), name)


RECORD = "give a file written by `sagbench sweep --json`"


def text(name: str, hint: str = RECORD) -> str:
    """What stands in a file, or on standard input ("-"); hint: what the file should be.  Raises UsageError."""
    try:
        return sys.stdin.read() if name == "-" else Path(name).read_text(encoding="utf-8-sig")
    except OSError as wrong:
        raise UsageError(f"{name} cannot be read: {wrong.strerror or wrong}; {hint}.") from None
    except UnicodeDecodeError as wrong:
        line = bytes(wrong.object[: wrong.start]).count(b"\n") + 1
        raise UsageError(f"{name}:{line}: is not text; {hint}.") from None
