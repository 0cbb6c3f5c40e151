"""`sagbench soak PART`: one chip, again and again, while it warms, is cooled or tapped.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Sequence

from sagbench.cli import interrupts, options, output
from sagbench.cli.settings import settings

UNITS = {"s": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0}
EXAMPLES = """\
examples:
  sagbench soak 74LS00 --for 10m --html soak.html
  sagbench soak 7490 --for 2h --every 30s --until-fault --log

On a terminal the course has the full screen and its keys, which stand there. With --lines it is told line by line: type
what you do (`tapped`) and Enter to mark the moment, `end` to end it.

Tap it with a plastic rod, breathe warm air on it, or touch it with a cotton swab that was in the freezer; a spray
for cooling is cold enough to hurt skin and eyes: goggles, and air the room. Hot parts burn: do not touch with bare fingers.

exit codes, of the worst that came up:
    0  sound
    1  not sound: a limit is broken, or the chip is about to go
    2  the command cannot be carried out as given
    3  the fixture or the link to it failed
    4  no verdict: cannot tell, or not finished
  130  interrupted before the first sweep was done
"""


def seconds(text: str) -> float:
    """"90", "90s", "10m", "2h" as seconds; for argparse."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(s|min|m|h|)", text.strip())
    if not found or not 0 < float(found[1]) * UNITS[found[2] or "s"] <= 7 * 24 * 3600:
        raise argparse.ArgumentTypeError(f"{text!r} is no time; give seconds, minutes or hours such as 90s, 10m or 2h, a week at most")
    return float(found[1]) * UNITS[found[2] or "s"]


def share(text: str) -> float:
    """"10%" or "0.1"; for argparse."""
    found = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(%?)", text.strip())
    if not found or float(found[1]) == 0:
        raise argparse.ArgumentTypeError(f"{text!r} is no share; give such as 10% or 0.1")
    if not found[2] and float(found[1]) > 1:
        raise argparse.ArgumentTypeError(f"{text!r} would be {float(found[1]) * 100:.0f} %; give such as {text.strip()}% or 0.1")
    return float(found[1]) / (100 if found[2] else 1)


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench soak", epilog=EXAMPLES, formatter_class=options.Help,
        description="Measure one chip again and again: faults that come and go, figures that move. Ctrl-C ends it and shows the result.")  # fmt: skip
    parser.add_argument("part", metavar="PART", help="what is printed on the chip")
    parser.add_argument("--for", dest="length", metavar="TIME", type=seconds, default=600.0, help="how long: 90s, 10m, 2h (default: 10m)")
    parser.add_argument("--every", metavar="TIME", type=seconds, default=0.0, help="from one sweep to the next (default: without a pause)")
    parser.add_argument("--until-fault", action="store_true", help="stop when a fault comes up that was not there at first")
    parser.add_argument("--until-drift", metavar="SHARE", type=share, help="stop when a figure has surely moved by so much: 10%%")
    options.add_fixture(parser)
    options.add_library(parser)
    options.add_guard(parser)
    options.add_calibration(parser)
    parser.add_argument("--html", metavar="FILE", help="write the course as one page with plots")
    parser.add_argument("--log", action="store_true", help="keep the first sweep in the log, the last, and each whose verdict is another")
    options.add_lines(parser)
    parser.add_argument("--small", action="store_true", default=settings().get("small", False), help="no large letters")
    parser.add_argument("--quiet", action="store_true", help="only the summary")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `soak`; the exit code is that of the worst verdict."""
    arguments = build_parser().parse_args(list(words))
    output.check_targets(arguments.html)
    from sagbench.cli import sweep as one_sweep

    part = one_sweep.find_part(arguments.part, arguments.parts_dir)
    with interrupts.held():
        from sagbench.cli import soak_bench
    if arguments.log:
        from sagbench.log.database import open_log

        with open_log():
            pass  # what is wrong with the log is told before the fixture is touched
    full = sys.stdin.isatty() and sys.stdout.isatty() and not (arguments.lines or arguments.quiet or arguments.html == output.STDOUT)
    return soak_bench.measure_soak(arguments, part, full)
