# SPDX-License-Identifier: MIT
"""`sagbench parts`: list, find, show, check, begin and doubt definitions.  One file a verb.

Only argparse is imported here; what a verb needs is imported when it runs.
"""
from __future__ import annotations

import argparse
import importlib
from collections.abc import Sequence

from sagbench.cli import options

PROG = "sagbench parts"
SUMMARY = """\
  find WORD...      search by function in words: dual 4-input nor
  show PART         pinout, function table, limits and their sources, coverage
  check [FILE...]   read files of your own and tell every mistake in them
  new NAME          begin a file of your own
  doubt RECORD      after a failed test: is it the chip or its definition?
"""
OWN = """\
Your own part files are read from $SAGBENCH_PARTS, else from sagbench/parts in
your usual folder for settings (Linux: ~/.config/sagbench/parts).
"""


def _parser(verb: str, description: str, example: str) -> argparse.ArgumentParser:
    return argparse.ArgumentParser(prog=f"{PROG} {verb}".strip(), description=description,
                                   formatter_class=options.Help,
                                   epilog=f"example:\n  {example}\n")


def _listing() -> argparse.ArgumentParser:
    parser = _parser("", "List the parts that are known; with words, those that have all of them.\n\n"
                     "More verbs, each with a --help of its own:\n" + SUMMARY, "sagbench parts octal latch\n\n" + OWN.rstrip())
    parser.usage = f"{PROG} [-h] [--parts-dir DIR] [--json] [WORD ...]\n       {PROG} find|show|check|new|doubt ..."
    parser.add_argument("words", metavar="WORD", nargs="*", help="a number, a family or part of a title")
    return parser


def _find() -> argparse.ArgumentParser:
    parser = _parser("find", "Search parts by what they do, in words; the usual synonyms are understood.",
                     "sagbench parts find hex inverter open collector")
    parser.add_argument("words", metavar="WORD", nargs="+", help="what it does: quad 2-input nand, 4 bit counter, mux")
    return parser


def _show() -> argparse.ArgumentParser:
    parser = _parser("show", "Show one part: pinout, function table, limits with their sources, the logic\ntest and what it finds.",
                     "sagbench parts show 74LS04")
    parser.add_argument("part", metavar="PART", help="what is printed on it, or a function's number: 74LS04, 04")
    parser.add_argument("--plain", action="store_true", help="ASCII only")
    return parser


def _check() -> argparse.ArgumentParser:
    parser = _parser("check", "Read part files and alias files (aliases.toml) and tell every mistake in them,\n"
                     "or what their logic test finds.\n"
                     "Without FILE: all files of your own.  Exit code 2 if there is a mistake.",
                     "sagbench parts check ~/parts/1034.toml")
    parser.add_argument("files", metavar="FILE", nargs="*", help="a part file, or an alias file (aliases.toml)")
    return parser


def _new() -> argparse.ArgumentParser:
    parser = _parser("new", "Write a commented file to begin with; asks nothing and never overwrites.",
                     "sagbench parts new 74ALS1034 --like 74ALS34")
    parser.add_argument("name", metavar="NAME", help="the part to define: 74ALS1034, 1034, 8T99")
    parser.add_argument("--like", metavar="PART", help="copy the file of this part")
    parser.add_argument("--pins", metavar="N", type=int, choices=range(4, 25, 2), default=14,
                        help="pins of the package, even, 4 to 24 (default: 14; not with --like)")
    return parser


def _doubt() -> argparse.ArgumentParser:
    parser = _parser("doubt", "A chip failed its logic test: say which equations and pins disagree with it,\n"
                     "and whether a wrong definition or a bad chip explains it.\n"
                     "Exit code 0: nothing disagrees; 1: something does.",
                     "sagbench sweep 74LS04 --json chip.json; sagbench parts doubt chip.json")
    parser.add_argument("what", metavar="RECORD|PART", help="a record kept with `sweep --json` (- for standard input), or a part to measure now")
    parser.add_argument("--all", action="store_true", help="every wrong answer (default: the first 12)")
    options.add_fixture(parser)
    options.add_calibration(parser)
    return parser


VERBS = {"": (_listing, "listing"), "find": (_find, "listing"), "show": (_show, "show"), "check": (_check, "check"),
         "new": (_new, "new"), "doubt": (_doubt, "doubt")}


def read(words: Sequence[str]) -> tuple[str, argparse.Namespace]:
    """Verb and arguments from what stands behind `sagbench parts`.  argparse ends the program at a mistake."""
    rest = list(words)
    place = _first_word(rest)
    verb = rest.pop(place) if place is not None and rest[place] in VERBS else ""
    return verb, _whole(verb).parse_args(rest)


def _whole(verb: str) -> argparse.ArgumentParser:
    parser = VERBS[verb][0]()
    options.add_library(parser)
    options.add_json(parser)
    return parser


def build_parser() -> argparse.ArgumentParser:
    """All verbs in one parser: what there is to complete; `read` alone understands a line."""
    parser = argparse.ArgumentParser(prog=PROG)
    verbs = parser.add_subparsers()
    for verb in filter(None, VERBS):
        verbs.add_parser(verb)
        verbs.choices[verb] = _whole(verb)
    return parser


def _first_word(words: Sequence[str]) -> int | None:
    """Index of the first word that is no option and no option's value."""
    skip = False
    for index, word in enumerate(words):
        if not skip and not word.startswith("-"):
            return index
        skip = word == "--parts-dir"
    return None


def run(words: Sequence[str]) -> int:
    """Carry out `sagbench parts WORDS`; returns the exit code.  Raises UsageError, FixtureError."""
    verb, arguments = read(words)
    module = importlib.import_module(f"sagbench.cli.parts.{VERBS[verb][1]}")
    code: int = module.run(arguments)
    return code
