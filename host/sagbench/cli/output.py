# SPDX-License-Identifier: MIT
"""Where reports go: the terminal, files, and the exit code that belongs to a verdict."""
from __future__ import annotations

import argparse
import errno
import os
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from sagbench.errors import (
    EXIT_INTERRUPTED, EXIT_NO_VERDICT, EXIT_NOT_SOUND, EXIT_SOUND, UsageError)
from sagbench.record import SweepRecord, Verdict

if TYPE_CHECKING:
    from sagbench.judge.risk import Risks

STDOUT = "-"
FULL = (errno.ENOSPC, errno.EDQUOT)
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
    files = [os.path.realpath(target) for target in targets if target is not None and target != STDOUT]
    if len(set(files)) < len(files):
        raise UsageError(f"--json and --html both name {files[0]}; the one would overwrite the other, give two names.")
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


def check_kept(record: str, target: str | None) -> None:
    """Refuse to write the page over the record it is made from.  Raises UsageError."""
    if target is None or STDOUT in (record, target):
        return
    there = os.path.exists(record) and os.path.exists(target)
    if os.path.realpath(record) == os.path.realpath(target) or there and os.path.samefile(record, target):
        raise UsageError(f"--html names {target}, the record itself, which would be lost; give the page another name.")


def write(target: str, text: str) -> None:
    """Write the whole text or nothing: a file that was there stays until the new one is complete.  Raises UsageError."""
    try:
        if target == STDOUT:
            _to_stdout(lambda: sys.stdout.write(text))
        else:
            _to_file(Path(target), text)
    except OSError as wrong:
        raise UsageError(unwritable("standard output" if target == STDOUT else target, wrong)) from None


def _to_file(path: Path, text: str) -> None:
    if path.exists() and not path.is_file():         # /dev/stdout and the like cannot be replaced
        path.write_text(text, encoding="utf-8")
        return
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(text)
        os.chmod(temporary, 0o666 & ~_umask())       # mkstemp makes it private
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise


def _to_stdout(put: Callable[[], object]) -> None:
    """Put it there and see that it arrived.  Raises OSError if it cannot; a reader that went away is no trouble."""
    try:
        put()
        sys.stdout.flush()
    except BrokenPipeError:
        forget_stdout()                              # `| head` has what it wanted; the verdict stays the exit code
    except OSError:
        forget_stdout()
        raise


def unwritable(what: str, wrong: OSError) -> str:
    """The sentence for output that could not be written."""
    if wrong.errno in FULL:
        why, then = "no space left on the device", "free some and sweep again"
    else:
        why, then = (wrong.strerror or "the system refuses").lower(), "write elsewhere and sweep again"
    return f"{what} cannot be written: {why}; {then}, or use `sagbench report` on a kept record."


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
    """The report on standard output, unless a file goes there or it is not wanted; then, whatever became of it, the files.

    Raises UsageError, when all is done that can be, with a sentence for each thing that could not be written.
    """
    targets = ((getattr(arguments, "json", None), _json), (arguments.html, lambda record: _html(record, arguments)))
    troubles: list[str] = []
    try:
        if STDOUT not in (target for target, _ in targets) and not getattr(arguments, "quiet", False):
            _to_stdout(lambda: _show(record, arguments))
    except OSError as wrong:
        troubles.append(f'the verdict is "{record.verdict.value}", but {unwritable("standard output", wrong)}')
    finally:                                         # an interrupted report must not lose the files
        for target, render in targets:
            try:
                if target:
                    write(target, render(record))
            except UsageError as error:
                verdict = f'the verdict is "{record.verdict.value}", but ' if target == STDOUT else ""
                troubles.append(f"{verdict}{error}")
    if troubles:
        raise UsageError("\n".join(troubles))


def _show(record: SweepRecord, arguments: argparse.Namespace) -> None:
    from sagbench.report.terminal import print_record
    print_record(record, sys.stdout, color=wants_color(arguments, sys.stdout), plain=wants_plain(arguments, sys.stdout),
                 risks=_risks(record, arguments))


def forget_stdout() -> None:
    """Nobody reads our output any more: let what is still to come, the interpreter's last flush too, go nowhere."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _json(record: SweepRecord) -> str:
    from sagbench.report.codec import to_json
    return to_json(record)


def _html(record: SweepRecord, arguments: argparse.Namespace) -> str:
    from sagbench.report.page import to_html
    return to_html(record, _risks(record, arguments))


def _risks(record: SweepRecord, arguments: argparse.Namespace) -> Risks | None:
    if not getattr(arguments, "risk", False):
        return None
    from sagbench.judge.risk import of_all
    return of_all(record)
