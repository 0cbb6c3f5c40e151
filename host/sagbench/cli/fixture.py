# SPDX-License-Identifier: MIT
"""`sagbench fixture ...`: who answers at the port and how it is, its self-test, its calibration."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from sagbench.cli import options
from sagbench.errors import EXIT_USAGE

EXIT_CODES = """\
exit codes:
    0  done; of the self-test: nothing wrong was found
    2  the command cannot be carried out as given
    3  the fixture, its supply or the link to it failed; of the self-test: a fault was found
    4  not finished, or the self-test cannot tell
   70  a mistake in sagbench itself
  130  interrupted
"""
INFO = "Say which fixture answers, how it is, and how it is calibrated."
SELFTEST = """\
Test the fixture itself, with nothing in the socket: references, registers, multiplexers, every resistor that drives or
loads a position, power switches, dead-man. Each fault names the part to look at by its designator on the board.
hardware/SELFTEST.md has a section for each."""
CALIBRATE = """\
Calibrate the fixture, in up to three stages:
  1  with what is on the board, nothing in the socket: some seconds
  2  with a resistor that you know well, put between the positions that are asked for one pair after the other;
     470 ohm, 0.1 % or better, its leads 0.6 in apart, is best (--resistor)
  3  with one reading of a multimeter, at the 5 V rail (--rail) or at the 2.5 V reference (--reference)
What has been measured is kept when the command is broken off; the same command goes on with it."""
EXAMPLES = """\
examples:
  sagbench fixture calibrate --serial 7            (a new fixture: gives it its number)
  sagbench fixture calibrate --resistor 470,0.1%
  sagbench fixture calibrate --rail 5.012,0.005    (5.012 V, within 5 mV by the meter's data sheet)
"""


def build_parser() -> argparse.ArgumentParser:
    """The verbs of `sagbench fixture`."""
    raw = options.Help
    parser = argparse.ArgumentParser(
        prog="sagbench fixture",
        description="Ask about the fixture, test it, calibrate it.",
        epilog="example: sagbench fixture info\n\n" + EXIT_CODES,
        formatter_class=raw,
    )
    questions = parser.add_subparsers(dest="question", metavar="QUESTION")
    info = questions.add_parser(
        "info",
        help="which fixture answers",
        description=INFO,
        epilog="example: sagbench fixture info --port /dev/ttyUSB0",
    )
    options.add_fixture(info)
    options.add_json(info)

    test = questions.add_parser(
        "selftest",
        help="test the fixture itself",
        description=SELFTEST,
        formatter_class=raw,
        epilog="example: sagbench fixture selftest\n\n" + EXIT_CODES,
    )
    options.add_fixture(test)
    options.add_json(test)
    test.add_argument("--all", action="store_true", help="show also what is sound")
    test.add_argument(
        "--resistor",
        metavar="OHMS",
        help="a resistor of 400 to 1500 ohm between a supply and a ground "
        "position: the supply current and its limit are tested with it too",
    )

    calibrate = questions.add_parser(
        "calibrate",
        help="calibrate the fixture",
        description=CALIBRATE,
        formatter_class=raw,
        epilog=EXAMPLES + "\n" + EXIT_CODES,
    )
    options.add_fixture(calibrate)
    options.add_json(calibrate)
    calibrate.add_argument("--serial", type=int, metavar="N", help="the number this fixture is to have, if it has none")
    calibrate.add_argument(
        "--resistor",
        metavar="OHMS,OFF",
        help="stage 2: the resistor's value, and how far off it may be, in ohms or per cent",
    )
    meter = calibrate.add_mutually_exclusive_group()
    meter.add_argument(
        "--rail",
        metavar="VOLTS,OFF",
        help="stage 3: the 5 V rail as the meter shows it, and how far off the meter may be, in volts or per cent",
    )
    meter.add_argument("--reference", metavar="VOLTS,OFF", help="stage 3: the 2.5 V reference likewise")
    calibrate.add_argument("--fresh", action="store_true", help="begin anew, whatever has been measured before")
    calibrate.add_argument(
        "--wait", type=float, metavar="SECONDS", help="give up if the resistor is not put in for so long"
    )
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out one of them; returns the exit code. Raises SagbenchError."""
    parser = build_parser()
    arguments = parser.parse_args(list(words))
    if arguments.question == "info":
        from sagbench.cli import fixture_info

        return fixture_info.run(arguments)
    if arguments.question == "selftest":
        from sagbench.cli import fixture_selftest

        return fixture_selftest.run(arguments)
    if arguments.question == "calibrate":
        from sagbench.cli import fixture_calibrate

        return fixture_calibrate.run(arguments)
    parser.print_help()
    return EXIT_USAGE
