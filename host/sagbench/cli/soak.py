"""`sagbench soak PART`: one chip, again and again, while it warms, is cooled or tapped.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Sequence
from typing import TYPE_CHECKING

from sagbench.cli import interrupts, options, output

if TYPE_CHECKING:
    from sagbench.soak.course import Course

UNITS = {"s": 1.0, "m": 60.0, "min": 60.0, "h": 3600.0}
EXAMPLES = """\
examples:
  sagbench soak 74LS00 --for 10m --html soak.html
  sagbench soak 7490 --for 2h --every 30s --until-fault --log

Tap it with a plastic rod, breathe warm air on it, or touch it with a cotton swab that was in the freezer; a spray
for cooling is cold enough to hurt skin and eyes: goggles, and air the room. Hot parts burn: do not touch with bare fingers.
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
    parser.add_argument("--quiet", action="store_true", help="only the summary")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `soak`; the exit code is that of the worst verdict."""
    arguments = build_parser().parse_args(list(words))
    output.check_targets(arguments.html)
    from sagbench.cli import sweep as one_sweep

    part = one_sweep.find_part(arguments.part, arguments.parts_dir)
    with interrupts.held():
        from sagbench.cli.fixture_calibration import options_for
        from sagbench.device import Device
        from sagbench.soak import run as loop
        from sagbench.soak.page import to_html
        from sagbench.sweep import sweep
    if arguments.log:
        from sagbench.log.database import open_log

        with open_log():
            pass
    bounds = loop.Bounds(arguments.length, arguments.until_fault, arguments.until_drift)
    with Device.connect(arguments.port) as device:
        how = options_for(device.info, without=arguments.no_calibration)
        course, ended = loop.soak(
            lambda: one_sweep.judged(sweep(device, part, marking=arguments.part, options=how), [], arguments.guard),
            time.monotonic, time.sleep, bounds, arguments.every, lambda c: None if arguments.quiet else _line(c))  # fmt: skip
    if not course.samples:
        print("sagbench: interrupted before the first sweep was done.", file=sys.stderr)
        return 130
    if arguments.log:
        with open_log() as log:
            kept = [s for n, s in enumerate(course.samples)
                    if n in (0, len(course.samples) - 1) or s.record.verdict is not course.samples[n - 1].record.verdict]  # fmt: skip
            for sample in kept:
                log.add(sample.record, library=one_sweep.definition(part))
    _summary(course, ended.value)
    if arguments.html:
        output.write(arguments.html, to_html(course, ended))
    return output.EXIT_OF[course.worst]


def _line(course: Course) -> None:
    """The last sweep in a line: seconds, verdict, what is wrong."""
    sample = course.samples[-1]
    why = sample.record.reasons[0].sentence if sample.record.reasons else ""
    output.write("-", f"{sample.seconds:8.1f} s  {sample.record.verdict.value:<16} {why}"[:79].rstrip() + "\n")


def _summary(course: Course, ended: str) -> None:
    from sagbench.log.history import in_words
    from sagbench.report.figures import figure

    count = len(course.samples)
    print(f"{count} sweep{'s' * (count > 1)} in {course.samples[-1].seconds:.0f} s; ended because {ended}. Worst: {course.worst.value}.")
    for fault in course.intermittents():
        print(f"  came and went: {fault.what}, in {fault.times} of {fault.of} sweeps, first at {fault.first_s:.0f} s")
    for drift in course.drifts()[:12]:
        print(f"  moved: {in_words(drift.key):<26} {figure(drift.first)} -> {figure(drift.last)}")
    if not course.intermittents() and not course.drifts():
        print("  nothing came and went, no figure has moved by more than its uncertainty")
