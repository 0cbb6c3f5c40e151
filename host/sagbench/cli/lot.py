"""`sagbench lot`: a box of chips, one after the other.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from sagbench.cli import interrupts, options, output
from sagbench.cli.log import FACTS
from sagbench.cli.settings import settings

HELP = """\
On a terminal the lot has the full screen and its keys, which stand there. With
--lines, or in a pipe, type between two chips, then Enter:
  again         measure the chip in the socket once more (after cleaning its legs)
  undo          take the last entry back, then the one before it; after `again`
                the first measurement counts again
  skip          do not measure the chip that is in the socket
  note TEXT     to the last chip
  photo FILE    path of a picture, to the last chip
  place U14     where the next chip sat
  chip N12      name of the next chip, so that it is known again another year
  code 8142     date code of the next chips
  maker TI      who made the next chips
  board CPU     which board the next chips are from
  part 74LS04   what the next chips are
  last place U9 the same of the chip measured last: last code 8142
  pause         go on another time: sagbench lot --resume N
  end           the box is done: shows the summary
  help          this
"""
EXITS = """\
exit codes:
    0  the box is done, or paused (so does Ctrl-C), or its summary is shown
    2  the command cannot be carried out as given
    3  the fixture or the link to it failed; what was shown is kept: --resume
"""
EXAMPLES = """\
examples:
  sagbench lot 74LS00 --name "box from the attic" --board CPU
  sagbench lot --resume 3
  sagbench lot --summary 3 --html box.html

""" + HELP
CAUTION = """\
Cautions: discharge yourself before you touch chips; insert or remove one only while the lamp at the
socket is dark; a chip that was hot or that tripped the supply may burn fingers.
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench lot", epilog=f"{EXAMPLES}\n{EXITS}\n{CAUTION}", formatter_class=options.Help,
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
    parser.add_argument("--html", metavar="FILE", help="write the summary as one page: when the box is done, or with --summary")
    options.add_lines(parser)
    parser.add_argument("--silent", action="store_true", default=settings().get("silent", False), help="no tones")
    parser.add_argument("--small", action="store_true", default=settings().get("small", False), help="no large letters: for a narrow screen or a screen reader")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `lot`; 0, or an error of the tree."""
    arguments = build_parser().parse_args(list(words))
    output.check_targets(arguments.html)
    with interrupts.held():
        from sagbench.cli import lot_bench
        from sagbench.log.database import open_log
    if arguments.summary is not None:
        with open_log(write=False) as log:
            lot_bench.show_summary(log, arguments.summary, arguments.html)
        return 0
    with open_log() as log:  # what is wrong with it, or with the lot's number, is told before the fixture is touched
        if arguments.resume is not None:
            lot_bench.open_lot(log, arguments.resume)
    full = sys.stdin.isatty() and sys.stdout.isatty() and not arguments.lines
    return lot_bench.measure_lot(arguments, full)
