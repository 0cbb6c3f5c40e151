# SPDX-License-Identifier: MIT
"""`sagbench replace PART`: what can stand in for it where it is."""
from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.cli import options, show
from sagbench.errors import EXIT_NOT_SOUND, EXIT_SOUND, PartFileError

if TYPE_CHECKING:
    from sagbench.parts.definition import Definition
    from sagbench.parts.model import Part

PLACE_FILE = "give a place file: tables [drives] and [driven_by]"
HELP = """\
example:
  sagbench replace 74H40 --drives "Y: 4x 74H00, 2x 74LS04" --driven-by "A: 7404"

how a place is told:
  PINS: LIST; PINS: LIST ...
  pins     1Y, 6 (its number), Y (1Y, 2Y ...), Q* (all that begin so);
           several with spaces between
  list     4x 74H00         inputs of other chips, the heaviest of that part
           2x 74LS74.D      a pin by its name; an output of another chip
                            shares the line with this one: 3x 74LS244.1Y1
           .B               a pin of the chip itself: of 3A it is 3B
           1k up            a resistor to the supply (down: to ground);
                            1k up 12V: to another supply
           15mA up          an LED or relay that takes this while the output
                            is low (down: while it is high)
  In --driven-by the first of the list drives the pin, the rest is all else
  that it drives: "A: 7404, 3x 7400".

a place file has the same lists:
  [drives]
  "Y" = ["4x 74H00", "2x 74LS04"]
  [driven_by]
  "A" = ["7404", "3x 7400"]

exit codes:
    0  something fits, with or without a note
    1  nothing fits
    2  the command cannot be carried out as given

Cautions: switch the board off and pull its plug before you change a chip.
"""


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench replace", epilog=HELP, formatter_class=options.Help,
        description="List what can stand in for a part, ranked by how it fits where the part is:\nthe same function in other "
                    "families, with other pins (an adapter's wiring is\ngiven), and what nearly does the same. The arithmetic is shown.")
    parser.add_argument("part", metavar="PART", help="what is printed on the chip: 74H40, SN74H40N")
    parser.add_argument("--drives", metavar="TEXT", action="append", default=[], help="what hangs on its outputs (may be repeated)")
    parser.add_argument("--driven-by", metavar="TEXT", action="append", default=[], help="what drives its inputs (may be repeated)")
    parser.add_argument("--place", metavar="FILE", help="both, from a file; - for standard input")
    parser.add_argument("--by", metavar="PART", nargs="+", action="extend", default=[], help="only these, with all arithmetic")
    parser.add_argument("--all", action="store_true", help="everything there is, with all arithmetic")
    parser.add_argument("--plain", action="store_true", help="ASCII only")
    options.add_library(parser)
    options.add_json(parser)
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `replace`; 0 if something fits, else 1.  Raises UsageError."""
    from sagbench.cli.parts.show import find
    from sagbench.parts.lookup import file_names, load_file
    from sagbench.parts.userdir import folders
    from sagbench.replace import Verdict, read_place, replacements
    from sagbench.report import replacement
    from sagbench.report.safe import ascii_only, visible

    arguments = build_parser().parse_args(list(words))
    own = folders(arguments.parts_dir)
    part = find(arguments.part, own)
    place = read_place(part, lambda text: find(text, own), arguments.drives, arguments.driven_by,
                       show.text(arguments.place, PLACE_FILE) if arguments.place else "", arguments.place or "")
    files = file_names(map(Path, own))
    wanted = {(chosen.function, chosen.family) for chosen in (find(text, own) for text in arguments.by)}
    paths = [path for function, path in files.items() if not wanted or function in {function for function, _ in wanted}]
    original, found = replacements(part, load_file(files[part.function]), list(_definitions(paths)), place)
    if wanted:
        found = tuple(fit for fit in found if (fit.part.function, fit.part.family) in wanted)
        _tell_missing(arguments.by, wanted - {(fit.part.function, fit.part.family) for fit in found}, part)
    if arguments.json:
        json.dump(replacement.as_json(original, found), sys.stdout, indent=1)
        sys.stdout.write("\n")
    else:
        clean = ascii_only if arguments.plain else str
        for line in replacement.lines(original, found, place, arguments.all or bool(wanted)):
            sys.stdout.write(clean(visible(line)) + "\n")
    return EXIT_SOUND if any(fit.verdict is not Verdict.NOT for fit in found) else EXIT_NOT_SOUND


def _definitions(paths: Sequence[Path]) -> Iterator[Definition]:
    """All part files without mistakes; those with some are told on standard error and left out."""
    from sagbench.parts.lookup import load_file
    from sagbench.report.safe import visible
    for path in paths:
        try:
            yield load_file(path)
        except PartFileError as error:
            count = len(error.mistakes)
            print(visible(f"sagbench: {path} is left out, it has {count} mistake{'s' if count > 1 else ''}; "
                          f"`sagbench parts check {path}` tells."), file=sys.stderr)


def _tell_missing(given: Sequence[str], missing: set[tuple[str, str]], part: Part) -> None:
    """Say which of --by do something else, and which is the part itself."""
    from sagbench.parts.names import type_name
    from sagbench.report.safe import visible
    for function, family in sorted(missing):
        same = (function, family) == (part.function, part.family)
        what = "is itself the part that is to be replaced" if same else f"does nothing like the {part.name}"
        print(visible(f"sagbench: the {type_name(function, family)} {what}."), file=sys.stderr)

