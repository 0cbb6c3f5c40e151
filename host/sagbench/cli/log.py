"""`sagbench log ...`: the notebook of all chips that were measured with --log, or in a lot.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from sagbench.cli import options
from sagbench.errors import EXIT_USAGE

FACTS = {
    "maker": "who made it: Texas Instruments, TI",
    "date_code": "printed on it: 8142",
    "board": "the board it is from",
    "position": "where it sits on that board: U14",
    "chip": "a name for this very chip, so that it is known again",
    "photo": "path of a picture",
    "note": "anything else",
}
EXAMPLES = """\
examples:
  sagbench sweep 74LS00 --log --board CPU --position U14 --date-code 8142
  sagbench log list --board CPU
  sagbench log show 12 --html twelve.html
  sagbench log drift 12
  sagbench log export --part 74LS00 --csv ls00.csv
"""


def add_facts(parser: argparse._ActionsContainer) -> None:
    """--board, --position ...: what only the user knows of a chip."""
    for name, told in FACTS.items():
        parser.add_argument(f"--{name.replace('_', '-')}", metavar="TEXT", help=told)


def facts_of(arguments: argparse.Namespace) -> dict[str, str]:
    """The facts that were given on the command line."""
    given = {name: value for name in FACTS if (value := getattr(arguments, name, None)) is not None}
    if "photo" in given:
        from sagbench.log.entry import photo_place

        given["photo"] = photo_place(given["photo"])
    return given


def _add_query(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--part", metavar="PART", help="of this type: 74LS00")
    for name in ("board", "position", "date_code", "maker", "chip"):
        parser.add_argument(f"--{name.replace('_', '-')}", metavar="TEXT", help=FACTS[name])
    parser.add_argument("--verdict", metavar="WORDS", help='with this verdict: "not sound"')
    parser.add_argument("--lot", metavar="N", type=int, help="of this lot")
    parser.add_argument("--all", action="store_true", help="also what was taken back")


def build_parser() -> argparse.ArgumentParser:
    """The verbs of `sagbench log`."""
    parser = argparse.ArgumentParser(
        prog="sagbench log", epilog=EXAMPLES, formatter_class=options.Help,
        description="The notebook of all chips that were measured with `sweep --log` or in a lot. Nothing is ever deleted from it.")  # fmt: skip
    verbs = parser.add_subparsers(dest="question", metavar="VERB")

    def verb(name: str, told: str, example: str) -> argparse.ArgumentParser:
        return verbs.add_parser(name, help=told, description=f"{told[0].upper()}{told[1:]}.", epilog=f"example: sagbench log {example}")

    listing = verb("list", "list entries, a line each", "list --board CPU --verdict 'not sound'")
    _add_query(listing)
    options.add_json(listing)

    show = verb("show", "report again on one entry", "show 12 --html twelve.html")
    show.add_argument("number", metavar="N", type=int, help="the entry's number")
    show.add_argument("--html", metavar="FILE", help="write the report as one page")
    show.add_argument("--json", metavar="FILE", help="write the record; - for standard output, in place of the report")
    show.add_argument("--no-color", action="store_true", help="no colour (so does the variable NO_COLOR)")
    show.add_argument("--plain", action="store_true", help="ASCII only, no colour")

    describe = verb("describe", "say more of a chip, or say it anew", "describe 12 --board CPU --position U14")
    describe.add_argument("number", metavar="N", type=int, help="the entry's number")
    add_facts(describe)

    for name, told in (("undo", "take an entry back: it no longer counts, and stays"), ("redo", "count an entry again")):
        verb(name, told, f"{name} 12").add_argument("number", metavar="N", type=int, nargs="?" if name == "undo" else None,
                                                    help="the entry's number" + (" (default: the last)" if name == "undo" else ""))  # fmt: skip

    drift = verb("drift", "show what has changed in one chip since it was first measured", "drift 12")
    drift.add_argument("number", metavar="N", type=int, help="the entry's number; the same chip's others are found by --chip, "
                                                             "or by board and position")  # fmt: skip
    options.add_json(drift)

    odd = verb("outliers", "show which of several chips of a part is unlike the others", "outliers --lot 3")
    _add_query(odd)
    options.add_json(odd)

    options.add_json(verb("lots", "list the boxes of chips", "lots"))

    export = verb("export", "write entries for other programs or for print", "export --lot 3 --html lot3.html")
    _add_query(export)
    for kind, told in (("csv", "a line an entry"), ("json", "entries with all figures"), ("html", "one page")):
        export.add_argument(f"--{kind}", metavar="FILE", help=f"{told}; - for standard output")

    verb("check", "see whether the log is whole", "check")
    verb("rescue", "make a new log of what can be read of a damaged one; a copy of the old one is kept", "rescue")
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `log`; 0, or an error of the tree."""
    parser = build_parser()
    arguments = parser.parse_args(list(words))
    if arguments.question is None:
        parser.print_help()
        return EXIT_USAGE
    from sagbench.cli import log_verbs

    verb = getattr(log_verbs, arguments.question if arguments.question != "list" else "entries")
    code = verb(arguments)
    assert isinstance(code, int)
    return code
