# SPDX-License-Identifier: MIT
"""Options that several verbs have."""
from __future__ import annotations

import argparse
import os

from sagbench.cli.settings import settings


def add_fixture(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument("--port", metavar="PORT", default=None if os.environ.get("SAGBENCH_PORT") else settings().get("port"),
                        help="serial port of the fixture (default: $SAGBENCH_PORT, else that of the settings, else the only one found)")


def add_guard(parser: argparse.ArgumentParser, told: str = "") -> None:
    """--guard; `told` for a verb that has no use for the user's own."""
    own = None if told else settings().get("guard")
    told = told or f"judge with this guard band (default: {1 if own is None else own})"
    parser.add_argument("--guard", metavar="W", type=_guard, default=own,
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
    parser.add_argument("--parts-dir", metavar="DIR", action="append",
                        default=[os.path.expanduser(folder) for folder in settings().get("parts_dirs", [])],
                        help="a folder of your own part files, which come before those of your usual folder and the "
                             "library's (may be repeated)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """--json, for verbs whose JSON always goes to standard output."""
    parser.add_argument("--json", action="store_true", help="write JSON for a script")
