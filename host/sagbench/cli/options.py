# SPDX-License-Identifier: MIT
"""Options that several verbs have."""
from __future__ import annotations

import argparse
import os
import re
import textwrap
from collections.abc import Iterator

from sagbench.cli.settings import settings


SECOND_COLUMN = re.compile(r" *\S+(?: \S+)*  +")        # what stands before it
CAUTION = """\
Cautions: take the chip out of its equipment first; discharge yourself before you
touch it; do not insert or remove it while the lamp at the socket is lit.
"""


class Help(argparse.RawDescriptionHelpFormatter):
    """Descriptions and epilogs at any width: prose is filled, an indented line goes on below its second column, a command stays whole."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(indent + line for line in filled(text, width - len(indent)))


def filled(text: str, width: int) -> Iterator[str]:
    """Lines of at most that many columns."""
    prose: list[str] = []
    for line in [*text.splitlines(), ""]:
        if line and not line.startswith(" "):
            prose.append(line)
            continue
        yield from textwrap.wrap(" ".join(prose), width)
        prose.clear()
        if line.startswith("  sagbench ") and not SECOND_COLUMN.match(line):   # to be copied: stays in one line
            yield line
            continue
        yield from folded(line, width)


def folded(line: str, width: int = 79) -> list[str]:
    """One line in lines of at most that many columns: it goes on below its second column, else two columns in."""
    second = SECOND_COLUMN.match(line)
    return textwrap.wrap(line, width, subsequent_indent=" " * (second.end() if second else 2),
                         break_on_hyphens=False, break_long_words=False) or [""]


def add_fixture(parser: argparse.ArgumentParser) -> None:
    """--port"""
    parser.add_argument("--port", metavar="PORT", default=None if os.environ.get("SAGBENCH_PORT") else settings().get("port"),
                        help="serial port of the fixture (default: $SAGBENCH_PORT, else that of the settings, else the only one found)")


def add_power(parser: argparse.ArgumentParser, told: str) -> None:
    """--power: ((supply pins), (ground pin,))"""
    parser.add_argument("--power", metavar="SUPPLY,GROUND", type=rails, help=f"{told}: 14,7; two supplies: 1+16,8")


def rails(text: str) -> tuple[tuple[int, ...], tuple[int, ...]]:
    match = re.fullmatch(r"(\d{1,2})(?:\+(\d{1,2}))?,(\d{1,2})", text.replace(" ", ""))
    if not match:
        raise argparse.ArgumentTypeError(f"{text!r} does not name the rails; give supply pin and ground pin, such as 14,7")
    pins = [int(pin) for pin in match.groups() if pin]
    if 0 in pins or len(set(pins)) < len(pins):
        raise argparse.ArgumentTypeError(f"{text!r}: {'pins are counted from 1' if 0 in pins else 'one pin cannot be two rails'}; "
                                         "give supply pin and ground pin, such as 14,7")  # fmt: skip
    return tuple(pins[:-1]), (pins[-1],)


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


def add_calibration(parser: argparse.ArgumentParser) -> None:
    """--no-calibration"""
    parser.add_argument("--no-calibration", action="store_true", help="do not use the fixture's calibration, if it has one")


def add_library(parser: argparse.ArgumentParser) -> None:
    """--parts-dir"""
    parser.add_argument("--parts-dir", metavar="DIR", action="append",
                        default=[os.path.expanduser(folder) for folder in settings().get("parts_dirs", [])],
                        help="a folder of your own part files, which come before those of your usual folder and the "
                             "library's (may be repeated)")


def add_lines(parser: argparse.ArgumentParser) -> None:
    """--lines, for verbs that have a full screen."""
    parser.add_argument("--lines", action="store_true", default=settings().get("lines", False), help="line by line; no full screen (so in a pipe)")


def add_json(parser: argparse.ArgumentParser) -> None:
    """--json, for verbs whose JSON always goes to standard output."""
    parser.add_argument("--json", action="store_true", help="write JSON for a script")
