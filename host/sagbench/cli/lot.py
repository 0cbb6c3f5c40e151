"""`sagbench lot`: a box of chips, one after the other.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import queue
import shutil
import sys
import threading
import time
from collections.abc import Sequence
from typing import TextIO

from sagbench.cli import interrupts, options
from sagbench.cli.log import FACTS
from sagbench.cli.settings import settings
from sagbench.errors import UsageError

HELP = """\
Type between two chips, then Enter:
  again         measure the chip in the socket once more (after cleaning its legs)
  undo          take the last entry back
  skip          do not measure the chip that is in the socket
  note TEXT     to the last chip
  place U14     position of the next chip
  code 8142     date code of the next chips
  part 74LS04   what the next chips are
  pause         go on another time: sagbench lot --resume N
  end           the box is done: shows the summary
  help          this
"""
EXAMPLES = """\
examples:
  sagbench lot 74LS00 --name "box from the attic" --board CPU
  sagbench lot --resume 3
  sagbench lot --summary 3

""" + HELP
CAUTION = """\
Cautions: discharge yourself before you touch chips; insert or remove one only while the lamp at the
socket is dark; a chip that was hot or that tripped the supply may burn fingers.
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench lot", epilog=EXAMPLES + "\n" + CAUTION, formatter_class=options.Help,
        description="Measure a box of chips: insert one, hear and see the result, remove it, insert the next. Each goes into the log\n"
                    "before its result is shown; `sagbench log` has them afterwards.")  # fmt: skip
    parser.add_argument("part", metavar="PART", nargs="?", help="what is printed on the chips; without it, say it before each kind")
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--name", metavar="TEXT", help="what you call this box")
    which.add_argument("--resume", metavar="N", type=int, help="go on with this lot (`sagbench log lots` lists them)")
    which.add_argument("--summary", metavar="N", type=int, help="show the summary of this lot and measure nothing")
    for fact in ("maker", "date_code", "board"):
        parser.add_argument(f"--{fact.replace('_', '-')}", metavar="TEXT", help=FACTS[fact])
    options.add_fixture(parser)
    options.add_library(parser)
    options.add_guard(parser)
    options.add_calibration(parser)
    parser.add_argument("--silent", action="store_true", default=settings().get("silent", False), help="no tones")
    parser.add_argument("--small", action="store_true", default=settings().get("small", False), help="no large letters: for a narrow screen or a screen reader")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `lot`; 0, or an error of the tree."""
    arguments = build_parser().parse_args(list(words))
    with interrupts.held():
        from sagbench.cli import lot_bench
        from sagbench.log.database import open_log
    if arguments.summary is not None:
        with open_log(write=False) as log:
            lot_bench.show_summary(log, arguments.summary, sys.stdout)
        return 0
    with open_log() as log:
        return lot_bench.measure_lot(log, arguments, Typed(sys.stdin), Screen(sys.stdout, arguments.small))


class Typed:
    """Lines typed, taken without waiting. Ctrl-D, or the end of a pipe, is None once."""

    def __init__(self, stream: TextIO) -> None:
        self._lines: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        threading.Thread(target=self._read, args=(stream,), daemon=True).start()

    def _read(self, stream: TextIO) -> None:
        for line in stream:
            self._lines.put(line.strip())
        self._lines.put(None)

    def take(self) -> tuple[bool, str | None]:
        """(True, line) if one has come, else (False, None)."""
        try:
            return True, self._lines.get_nowait()
        except queue.Empty:
            return False, None


class Screen:
    """Where results are written; as large as the terminal lets them."""

    def __init__(self, stream: TextIO, small: bool) -> None:
        self._stream, self._small = stream, small

    def line(self, text: str) -> None:
        """One line, at once."""
        from sagbench.report.safe import visible

        print(visible(text), file=self._stream, flush=True)

    def large(self, text: str) -> None:
        """In letters for two metres."""
        from sagbench.lot.loud import letters

        width = shutil.get_terminal_size().columns
        for line in [text.upper()] if self._small else letters(text, width):
            self.line(line)


def rest(seconds: float) -> None:
    """Let real time pass."""
    time.sleep(seconds)


def no_such(word: str) -> UsageError:
    """For a word that is no command."""
    return UsageError(f"{word!r} is no command here; type `help` for what there is.")
