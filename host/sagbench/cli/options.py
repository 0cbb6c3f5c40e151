# SPDX-License-Identifier: MIT
"""Options that several verbs have."""
from __future__ import annotations

import argparse


def add_fixture(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument("--port", metavar="PORT",
                        help="serial port of the fixture (default: $SAGBENCH_PORT, else the only one found)")


def add_library(parser: argparse.ArgumentParser) -> None:
    """--parts-dir"""
    parser.add_argument("--parts-dir", metavar="DIR", action="append", default=[],
                        help="a folder of your own part files, which come before those of your usual folder and the "
                             "library's (may be repeated)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """--json, for verbs whose JSON always goes to standard output."""
    parser.add_argument("--json", action="store_true", help="write JSON for a script")
