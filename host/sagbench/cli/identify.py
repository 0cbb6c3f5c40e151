# SPDX-License-Identifier: MIT
"""`sagbench identify`: what chip is this?"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sagbench.cli import interrupts, options, output
from sagbench.cli.progress import shown
from sagbench.errors import EXIT_NO_VERDICT, EXIT_SOUND, PartFileError

if TYPE_CHECKING:
    from sagbench.identify.candidates import Candidate, Rail
    from sagbench.identify.seating import Seating

HELP = """\
examples:
  sagbench identify
  sagbench identify --marked 74LS00
  sagbench identify --power 14,7 --json

Seat the chip with pin 1 in position 1. Where its rails are is found without power; the
chip is powered only if that is settled, or if you confirm it. Then its pins are
given levels through 560 ohm, which no output minds, and what they do is compared
with every function of the library that has its rails there.

exit codes:
    0  an answer
    2  the command cannot be carried out as given
    3  the fixture or the link to it failed
    4  none of these, not decided, or not powered

""" + options.CAUTION


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    parser = argparse.ArgumentParser(
        prog="sagbench identify", epilog=HELP, formatter_class=options.Help,
        description="Find out what an unmarked, house-numbered or suspicious chip is, by what it does.")  # fmt: skip
    parser.add_argument("--marked", metavar="PART", help="what is printed on a chip that you do not trust: does it do that?")
    options.add_power(parser, "the pins of the chip that you confirm as its rails")
    parser.add_argument("--no-family", action="store_true", help="function only; do not measure which family it is of")
    options.add_calibration(parser)
    parser.add_argument("--plain", action="store_true", help="ASCII only")
    options.add_fixture(parser)
    options.add_library(parser)
    options.add_json(parser)
    parser.set_defaults(no_color=False)
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `identify`; 0 for an answer, else 4.  Raises UsageError, FixtureError."""
    arguments = build_parser().parse_args(list(words))
    with interrupts.held():
        from sagbench.cli.fixture_calibration import options_for
        from sagbench.cli.sweep import find_part
        from sagbench.device import Device
        from sagbench.identify.family import fingerprint
        from sagbench.identify.run import identify
        from sagbench.parts.userdir import folders
        from sagbench.report import identification
        from sagbench.report.safe import ascii_only, visible

    own = folders(arguments.parts_dir)
    marked = find_part(arguments.marked, arguments.parts_dir) if arguments.marked else None
    known = _library(own)
    wanted = sys.stderr.isatty() and not (arguments.json or arguments.plain)
    with Device.connect(arguments.port) as device:
        confirm = _ask if sys.stdin.isatty() and not arguments.json else None
        found = identify(device, known, power=arguments.power and tuple(map(frozenset, arguments.power)), confirm=confirm)
        family = None
        if found.found and not arguments.no_family:
            chosen = options_for(device.info, without=arguments.no_calibration)
            with shown(wanted, output.wants_color(arguments, sys.stderr)) as bar:  # not before: the user may be asked
                family = fingerprint(device, found.ranked[0].members, found.low_amperes, options=chosen, user_dirs=own, progress=bar)
    if arguments.json:
        json.dump(identification.as_json(found, family, marked), sys.stdout, indent=1)
        sys.stdout.write("\n")
    else:
        clean = ascii_only if arguments.plain else str
        for line in identification.lines(found, family, marked):
            sys.stdout.write(clean(visible(line)) + "\n")
    return EXIT_SOUND if found.found else EXIT_NO_VERDICT


def _library(own: Sequence[str]) -> tuple[Candidate, ...]:
    """All candidates; part files with mistakes are told on standard error and left out."""
    from sagbench.identify.candidates import candidates_of
    from sagbench.parts.lookup import file_names, load_file
    from sagbench.report.safe import visible

    definitions = []
    for path in file_names(map(Path, own)).values():
        try:
            definitions.append(load_file(path))
        except PartFileError as error:
            print(visible(f"sagbench: {path} is left out, it has {len(error.mistakes)} mistakes or more; "
                          f"`sagbench parts check {path}` tells."), file=sys.stderr)  # fmt: skip
    return candidates_of(definitions)


def _ask(seating: Seating) -> Rail | None:
    """Which of the rails left are the chip's; None if the user does not know."""
    rails = list(dict.fromkeys(h.rail for h in seating.left if not h.seat.reversed and not h.seat.shift))
    print("What conducts without power does not settle where the rails are:")
    for number, rail in enumerate(rails, start=1):
        count = sum(len(h.candidates) for h in seating.left if h.rail == rail)
        print(f"  {number}  {rail.in_words()} ({count} functions)")
    try:
        answer = input("Power it so? Number, or nothing for no: ").strip()
    except EOFError:
        return None
    return rails[int(answer) - 1] if answer.isdecimal() and 1 <= int(answer) <= len(rails) else None
