# SPDX-License-Identifier: MIT
"""Options that several verbs have."""
from __future__ import annotations

import argparse


def add_fixture(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument("--port", metavar="PORT",
                        help="serial port of the fixture (default: $SAGBENCH_PORT, else the only one found)")


def add_guard(parser: argparse.ArgumentParser, told: str = "judge with this guard band (default: 1)") -> None:
    """--guard"""
    parser.add_argument("--guard", metavar="W", type=_guard,
                        help=f"{told}: a limit counts as met or missed only by more than W times the uncertainty U; "
                             "0 is simple acceptance")


def _guard(text: str) -> float:
    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 10:
        raise argparse.ArgumentTypeError(f"{text!r} is no guard band; give a number of U from 0 to 10, such as 1 or 0.5")
    return value


def add_library(parser: argparse.ArgumentParser) -> None:
    """--parts-dir"""
    parser.add_argument("--parts-dir", metavar="DIR", action="append", default=[],
                        help="a folder of your own part files, which come before those of your usual folder and the "
                             "library's (may be repeated)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """--json, for verbs whose JSON always goes to standard output."""
    parser.add_argument("--json", action="store_true", help="write JSON for a script")
