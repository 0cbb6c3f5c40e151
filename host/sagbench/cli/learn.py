# SPDX-License-Identifier: MIT
"""`sagbench learn PART`: a draft of a part file from one sound specimen."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sagbench.cli import interrupts, options, output
from sagbench.cli.progress import said, shown
from sagbench.errors import EXIT_NO_VERDICT, EXIT_NOT_SOUND, EXIT_SOUND, UsageError

if TYPE_CHECKING:
    from sagbench.device import Device
    from sagbench.learn.draft import About
    from sagbench.learn.socket import Tried

HELP = """\
examples:
  sagbench learn 74LS9901 --pins 14 --power 14,7 --output parts/9901.toml
  sagbench learn 74LS9901 --same-as parts/9901.toml --json
  sagbench learn 9902XX --pins 14 --power 14,7 --family LS

Seat a specimen that you trust with pin 1 in position 1, and say how many pins it has
and where its rails are; without --power the rails are those that parts of the library
with so many pins have, if that settles it. Its pins are given levels through 560 ohm,
which no output minds. The draft says of each output what is proven, what is guessed and
what was not reached. Then hold a second specimen against it with --same-as: what one
chip does and the other does not is a fault of one of them.

Found are levels (open collector, tri-state, Schmitt too) of up to 16 inputs each, pins
that are input and output (14 inputs with them), and state bits, one for each output
at most, where they show, clocked by an input or two together or by one of two (up and
down). Not found: what is remembered without showing, and what neither some 10000 looks
at random come to nor the way to what the draft says and was not seen.

exit codes:
    0  a draft; with --same-as: no difference
    1  with --same-as: the specimens differ
    2  the command cannot be carried out as given
    3  the fixture or the link to it failed
    4  not powered, or some outputs not reached (a draft of the others is written)

""" + options.CAUTION


def build_parser() -> argparse.ArgumentParser:
    """The verb's own command line."""
    from sagbench.parts.ratings import ORDER

    parser = argparse.ArgumentParser(
        prog="sagbench learn", epilog=HELP, formatter_class=options.Help,
        description="Learn a part that is in no library from one sound specimen, and write a draft of its part file.")  # fmt: skip
    parser.add_argument("part", metavar="PART", help="what it is to be called, with its family: 74LS9301 (or say that with --family)")
    parser.add_argument("--pins", metavar="N", type=int, default=None, help="how many pins it has")
    options.add_power(parser, "where its rails are")
    parser.add_argument("--family", metavar="F", type=str.upper, choices=ORDER,
                        help=f"its family, where the name does not say it: {', '.join(ORDER)}; 74 is the series without a letter")
    parser.add_argument("--output", metavar="FILE", help="the draft's file; never overwritten (default: standard output)")
    parser.add_argument("--same-as", metavar="FILE", help="learn nothing; hold this specimen against a draft")
    options.add_calibration(parser)
    options.add_fixture(parser)
    options.add_library(parser)
    options.add_json(parser)
    parser.set_defaults(no_color=False, plain=False)
    return parser


def run(words: Sequence[str]) -> int:
    """Carry out the words behind `learn`.  Raises UsageError, FixtureError, NotLearnt."""
    arguments = build_parser().parse_args(list(words))
    function, family, assumed = _named(arguments.part, arguments.family)
    if not arguments.same_as and arguments.pins is None:
        raise UsageError("how many pins has it? Say so with --pins, such as --pins 14.")
    if arguments.output and Path(arguments.output).exists():
        raise UsageError(f"{arguments.output} is there already, and nothing is overwritten; edit it, or move it away first.")
    with interrupts.held():
        from sagbench.device import Device
        from sagbench.learn import socket
    if arguments.same_as:
        return _same(arguments, "" if assumed else family)
    from sagbench.cli.fixture_calibration import options_for

    if assumed and not arguments.json:
        print(f"sagbench: {_assumption(arguments.part, family)} Say another with --family, such as --family LS.", file=sys.stderr)
    bar = shown(True, output.wants_color(arguments, sys.stderr)) if sys.stderr.isatty() else said(sys.stderr, quiet=arguments.json)
    with Device.connect(arguments.port) as device, bar as progress:
        about = replace(_about(arguments, device, function, family), assumed=_assumption(arguments.part, family) if assumed else "")
        tried = socket.learn_here(device, about, options_for(device.info, without=arguments.no_calibration), progress)
    if tried.result.learnt.laws and (arguments.output or not arguments.json):
        _write(arguments.output, tried.result.draft.text)
    if arguments.json:
        _print_json(_as_json(tried) | {"family": family, "family_assumed": assumed})
    from sagbench.parts.lookup import file_names

    if function in file_names() and not arguments.json:
        print(f"sagbench: The library has a {function} already (`sagbench parts show {function}`): a draft of that name among your own part "
              "files would take its place.", file=sys.stderr)  # fmt: skip
    for line in () if arguments.json else _told(tried, arguments.output, arguments.part):
        print(f"sagbench: {line}", file=sys.stderr)
    return EXIT_SOUND if tried.passed and not tried.result.learnt.missed else EXIT_NO_VERDICT


def _named(name: str, said: str | None) -> tuple[str, str, bool]:
    """Function, family, and whether that is only assumed: whole type numbers of one series stand in several families' boxes.

    Raises UsageError for a family that the name contradicts, or that has no parts called so.
    """
    from sagbench.cli.parts.new import named
    from sagbench.parts.markings import parse_marking
    from sagbench.parts.names import type_name

    function, family = named(name)
    open_ = family == "TTL" or not parse_marking(name)
    if not said or said == family:
        return function, family, open_ and not said
    if not open_:
        raise UsageError(f"{name} is of the family {family} by its name, and --family says {said}: leave one of them out.")
    if named(type_name(function, said)) != (function, said):
        raise UsageError(f"No {function} can be called by its family {said}; give the name as it is printed on such chips, or another --family.")
    return function, said, False


def _assumption(name: str, family: str) -> str:
    like = ", those of the plain 74 series," if family == "TTL" else ""
    return f"{name} says no family: the figures of {family}{like} are assumed."


def _about(arguments: argparse.Namespace, device: Device, function: str, family: str) -> About:
    from sagbench.identify.candidates import candidates_of
    from sagbench.learn import socket
    from sagbench.learn.draft import About
    from sagbench.parts.lookup import file_names, load_file

    power = arguments.power
    if power and max(max(power[0]), max(power[1])) > arguments.pins:
        raise UsageError(f"--power names a pin beyond {arguments.pins}, which --pins says is the last.")
    power = power or socket.rails(device, arguments.pins, candidates_of(load_file(path) for path in file_names().values()))
    return About(function, family, arguments.pins, *power)


def _same(arguments: argparse.Namespace, family: str) -> int:
    from sagbench.device import Device
    from sagbench.learn import socket
    from sagbench.parts.lookup import load_file
    from sagbench.report.safe import visible

    definition = load_file(Path(arguments.same_as))
    if not family:  # the name says none: that of the draft
        family = next(iter(definition.families))
    if family not in definition.families:
        raise UsageError(f"{arguments.same_as} says nothing of the family {family}; it has {', '.join(definition.families)}.")
    with Device.connect(arguments.port) as device:
        found = socket.compare_here(device, definition, family)
    differ = found.differences
    if arguments.json:
        _print_json({"looks": found.looks, "differences": [
            {"pin": d.pin, "name": d.name, "times": d.times, "should": d.should.value, "did": d.did.value} for d in differ]})  # fmt: skip
    else:
        for difference in differ:
            print(visible(difference.sentence))
        print("The specimens differ: one of them is bad, or they are not the same part." if differ else
              f"No difference was seen in {found.looks} looks.")  # fmt: skip
    return EXIT_NOT_SOUND if differ else EXIT_SOUND


def _write(place: str | None, text: str) -> None:
    if place is None:
        sys.stdout.write(text)
        return
    try:
        with open(place, "x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise UsageError(f"{place} cannot be written: {error.strerror}; name another file with --output.") from None


def _print_json(data: dict[str, Any]) -> None:
    json.dump(data, sys.stdout, indent=1)
    sys.stdout.write("\n")


def _as_json(tried: Tried) -> dict[str, Any]:
    """What was learnt as data; confidence from 0 to 1, pins by number; `own_test` is null where there was nothing to be tried."""
    from sagbench.learn.naming import law_words

    learnt, names = tried.result.learnt, tried.result.draft.names
    logic = tried.record.logic[0] if tried.record and tried.record.logic else None
    outputs = [(pin, law, *law_words(learnt, law)) for pin, law in sorted(learnt.laws.items())]
    return {
        "looks": learnt.looks,
        "state_bits": len(learnt.states),
        "outputs": [{"pin": pin, "name": names[pin - 1], "role": law.role.value, "confidence": sure, "why": why}
                    for pin, law, sure, why in outputs],
        "nothing_seen": sorted(learnt.idle),
        "not_reached": {str(pin): why for pin, why in sorted(learnt.missed.items())},
        "own_test": logic and {"checks": logic.checks, "misses": len(logic.misses), "passed": tried.passed},
        "draft": tried.result.draft.text if learnt.laws else None,
    }  # fmt: skip


def _told(tried: Tried, place: str | None, part: str) -> Iterator[str]:
    from sagbench.judge.limits import listed
    from sagbench.learn.naming import NEVER, NEVER_SURE, NOTHING, law_words

    learnt = tried.result.learnt
    yield f"{len(learnt.laws)} of {len(learnt.outputs)} outputs learnt in {learnt.looks} looks; {len(learnt.states)} state bits."
    for pin, law in sorted(learnt.laws.items()):
        if law_words(learnt, law) == (NEVER_SURE, NEVER):
            yield f"pin {pin} {NEVER.removeprefix('guessed: it ')}."
    for pin, why in sorted(learnt.missed.items()):
        yield f"pin {pin} was not reached: {why}."
    if learnt.idle:
        yield f"pin{'s' * (len(learnt.idle) > 1)} {listed(map(str, sorted(learnt.idle)))} {NOTHING}."
    if not learnt.laws:
        yield "No draft was written, for there is nothing to be said in it."
    if tried.record is None:
        return
    if tried.passed:
        yield f"The draft's own test passes on this specimen: {tried.record.logic[0].checks} checks."
    else:
        yield "The draft's own test does not pass on this specimen: do not rely on the draft."
    if place is not None and tried.passed:
        yield f"Next: put a second specimen in and `sagbench learn {part} --same-as {place}`."
