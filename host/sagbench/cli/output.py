# SPDX-License-Identifier: MIT
"""Where reports go: the terminal, files, and the exit code that belongs to a verdict."""
from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path
from typing import TextIO

from sagbench.errors import (
    EXIT_INTERRUPTED, EXIT_NO_VERDICT, EXIT_NOT_SOUND, EXIT_SOUND, UsageError)
from sagbench.record import SweepRecord, Verdict

STDOUT = "-"
EXIT_OF = {
    Verdict.SOUND: EXIT_SOUND,
    Verdict.TIRED: EXIT_NOT_SOUND,
    Verdict.FAILED: EXIT_NOT_SOUND,
    Verdict.UNSURE: EXIT_NO_VERDICT,
    Verdict.INCOMPLETE: EXIT_NO_VERDICT,
}


def exit_code(record: SweepRecord) -> int:
    """The exit code of a record: its verdict's, or 130 if the user broke it off."""
    return EXIT_INTERRUPTED if record.partial.startswith("interrupted") else EXIT_OF[record.verdict]


def check_targets(*targets: str | None) -> None:
    """Say before the sweep, not after it, that a file cannot be written there.  Raises UsageError."""
    if targets.count(STDOUT) > 1:
        raise UsageError("only one of --json and --html can go to standard output (-); give the other a file name.")
    for target in targets:
        if target is None or target == STDOUT:
            continue
        path = Path(target)
        if path.is_dir():
            raise UsageError(f"{target} is a folder; give the name of a file to write.")
        if not path.parent.is_dir():
            raise UsageError(f"there is no folder {path.parent}; make it, or write elsewhere.")
        if not os.access(path.parent, os.W_OK) or (path.exists() and not os.access(path, os.W_OK)):
            raise UsageError(f"{target} cannot be written: no permission; write elsewhere.")


def write(target: str, text: str) -> None:
    """Write the whole text or nothing: a file that was there stays until the new one is complete.  Raises UsageError."""
    if target == STDOUT:
        sys.stdout.write(text)
        return
    path = Path(target)
    if path.exists() and not path.is_file():         # /dev/stdout and the like cannot be replaced
        path.write_text(text, encoding="utf-8")
        return
    try:
        handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(text)
            os.chmod(temporary, 0o666 & ~_umask())   # mkstemp makes it private
            os.replace(temporary, path)
        except BaseException:
            os.unlink(temporary)
            raise
    except OSError as wrong:
        raise UsageError(f"{target} could not be written: {wrong.strerror}; the report is shown, but not kept.") from None


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def wants_color(arguments: argparse.Namespace, stream: TextIO) -> bool:
    """Colour only on a terminal that can, and if nobody said no (https://no-color.org: NO_COLOR set and not empty)."""
    return not (arguments.no_color or arguments.plain or os.environ.get("NO_COLOR")
                or os.environ.get("TERM") == "dumb") and stream.isatty()


def wants_plain(arguments: argparse.Namespace, stream: TextIO) -> bool:
    """ASCII only if asked for, or if the stream's encoding has no signs of measure."""
    try:
        "±≤≥Ωµ".encode(stream.encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return bool(arguments.plain)


def deliver(record: SweepRecord, arguments: argparse.Namespace) -> None:
    """Files first, since they last; then the report on standard output, unless a file went there or it was not wanted.

    Raises UsageError, after the report was shown, if a file could not be written.
    """
    json_target = getattr(arguments, "json", None)
    trouble: UsageError | None = None
    for target, render in ((json_target, _json), (arguments.html, _html)):
        if target:
            try:
                write(target, render(record))
            except UsageError as error:
                trouble = error
    if STDOUT not in (json_target, arguments.html) and not getattr(arguments, "quiet", False):
        try:
            _show(record, arguments)
        except BrokenPipeError:
            forget_stdout()                          # `| head` has what it wanted; the verdict stays the exit code
    if trouble:
        raise trouble


def _show(record: SweepRecord, arguments: argparse.Namespace) -> None:
    from sagbench.report.terminal import print_record
    print_record(record, sys.stdout, color=wants_color(arguments, sys.stdout), plain=wants_plain(arguments, sys.stdout))
    sys.stdout.flush()


def forget_stdout() -> None:
    """Nobody reads our output any more: let what is still to come, the interpreter's last flush too, go nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _json(record: SweepRecord) -> str:
    from sagbench.report.codec import to_json
    return to_json(record)


def _html(record: SweepRecord) -> str:
    from sagbench.report.page import to_html
    return to_html(record)
